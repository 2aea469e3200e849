"""A quote for the firm's own eyes: what a job truly costs in grass beside the rule of thumb."""

from __future__ import annotations

from stockplan.domain.quote import Quote
from stockplan.domain.true_cost import Solved, TrueCost
from stockplan.domain.units import metres, money, size, square_metres
from stockplan.report.columns import in_columns
from stockplan.report.words import counted, dated, day, percent, printable

PRIVATE = "For the firm's own eyes: costs inside."


def quote_text(quote: Quote, currency: str) -> str:
    """Print a quote.

    Parameters
    ----------
    quote
        The quote.
    currency
        ISO 4217 code.
    """
    annex = quote.annex
    where = f", {annex.site}" if annex.site else ""
    lines = [
        printable(f"{annex.quote}{where}: {strips_words(quote)} in {annex.product}, to be laid {dated(annex.lay_on)}."),
        cost_sentence(quote, currency),
        f"Rule of thumb: {rule_words(quote)}; {quote.weighing.sentence}.",
        "",
        in_columns(("", currency), figures(quote), right=(currency,)),
        "",
        *_facts(quote),
    ]
    if quote.needs:
        lines += ["", "Beside grass, by the firm's settings (common practice, no standard):"]
        lines += [f"  {name}: {words}" for name, words in quote.needs]
    lines += ["", PRIVATE]
    return "\n".join(lines)


def strips_words(quote: Quote) -> str:
    """Name the pieces as cut."""
    strips = quote.annex.strips
    words = ", ".join(
        f"{f'{strip.count} of ' if strip.count > 1 else ''}{size(strip.width_mm, strip.length_mm)}" for strip in strips
    )
    lawn = quote.annex.lawn_mm2
    if lawn is None:
        return words
    lawns = len(quote.job.lawns)
    whole = (
        f"a lawn of {square_metres(lawn)} m²" if lawns == 1 else f"{lawns} lawns of {square_metres(lawn)} m² together"
    )
    return f"{whole} in strips {words}"


def cost_sentence(quote: Quote, currency: str) -> str:
    """Say what it truly costs, and how well that is known."""
    if quote.cost is None:
        lost = sorted({job for job, _, _ in quote.with_it.short - quote.without.short})
        return printable(
            f"What it costs cannot be told: with it {', '.join(lost) or 'other work'} is not covered in time. Ask for "
            "a later day or other sizes, or see: stockplan cover."
        )
    days = f"from {day(quote.first)} to {dated(quote.last)}"
    if quote.others:
        weighed = f"weighed with {counted(quote.others, 'other job')} of this grass, {days}"
    else:
        weighed = f"{days} no other job of this grass is still to be planned"
    if quote.left_alone:
        weighed += "; what plans have reserved is left alone, with what they leave over (that too: stockplan cover)"
    if quote.cost.exact:
        return f"It costs {money(quote.cost.likely)} {currency} in grass, proven; {weighed}."
    return (
        f"It costs about {money(quote.cost.likely)} {currency} in grass, and certainly {range_words(quote.cost)}; "
        f"{weighed}."
    )


def range_words(cost: TrueCost) -> str:
    """Print the interval."""
    return f"from {money(cost.least)} to {money(cost.most)}"


def rule_words(quote: Quote) -> str:
    """Print the rule of thumb with its parts."""
    rule = quote.rule
    return (
        f"{square_metres(rule.area_mm2)} m² at {money(rule.price_pence_per_m2)} and {rule.wastage_percent} % for "
        f"wastage are {money(rule.pence)}"
    )


def figures(quote: Quote) -> list[tuple[str, str]]:
    """Give every cost of a quote with its name."""
    rows = []
    if quote.cost is not None:
        rows += [
            ("true cost, not less than", money(quote.cost.least)),
            ("true cost, by the best plans known", money(quote.cost.likely)),
            ("true cost, not more than", money(quote.cost.most)),
        ]
    return [
        *rows,
        (
            "grass bought for it alone",
            "none that does, in time" if quote.alone_pence is None else money(quote.alone_pence),
        ),
        ("rule of thumb", money(quote.rule.pence)),
        ("best plan with the job", money(quote.with_it.cost_pence)),
        ("no plan with it costs less than", _bound(quote.with_it)),
        ("best plan without it", money(quote.without.cost_pence)),
        ("no plan without it costs less than", _bound(quote.without)),
    ]


def _bound(known: Solved) -> str:
    return "not known" if known.bound_pence <= 0 < known.cost_pence else money(known.bound_pence)


def waste_words(quote: Quote) -> str:
    """Say how much grass is wasted on the lawn, and in the yard beyond what is wasted anyway."""
    grass, lawn = quote.annex.grass_mm2, quote.annex.lawn_mm2
    words = []
    if lawn is not None and grass:
        words.append(f"{percent(1 - lawn / grass)} of the pieces is trimmed off on site")
    if quote.binned_mm2 > 0:
        words.append(f"{square_metres(quote.binned_mm2)} m² more end in the yard's bin than without the job")
    elif quote.binned_mm2 < 0:
        words.append(f"{square_metres(-quote.binned_mm2)} m² fewer end in the yard's bin than without the job")
    else:
        words.append("as much ends in the yard's bin as without the job")
    return "; ".join(words)


def _facts(quote: Quote) -> list[str]:
    lines = [f"Waste: {waste_words(quote)}."]
    if quote.annex.seams:
        lines.insert(0, f"Seams: {seam_words(quote)}.")
    if quote.sources:
        taken = ", ".join(f"{counted(count, 'piece')} from {source}" for source, _, count in quote.sources)
        lines.append(printable(f"Cut, in the best plan known: {taken}."))
    bought = "; ".join(quote.orders) or "nothing more than without the job"
    lines.append(printable(f"To buy: {bought}."))
    return lines


def seam_words(quote: Quote) -> str:
    """Say how many seams there are, and how long."""
    seams = quote.annex.seams
    if seams is None or seams.count == 0:
        return "none"
    head = f", {metres(seams.across_mm)} m of them across the pile" if seams.across_mm else ""
    return f"{counted(seams.count, 'seam')}, {metres(seams.along_mm + seams.across_mm)} m{head}"
