"""What covers a small job, in words to say on the phone: a verdict, and one line an answer."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from stockplan.domain.as_typed import argument
from stockplan.domain.cover import Answer, Coverage, Freeing, Miss, Ready, Take
from stockplan.domain.sizes import sizes_text
from stockplan.domain.stock import SupplyForm
from stockplan.domain.units import metres, money, size
from stockplan.report.cover_words import (
    batch_words,
    bought_words,
    cuts_words,
    each_once,
    left_words,
    named,
    seams_words,
    tag_words,
    wait_words,
)
from stockplan.report.words import counted, dated, day, form_words, printable

_HEADINGS = {
    Ready.FREE: "Free now",
    Ready.REST: "Left over once a plan is cut",
    Ready.PROMISED: "Promised, and what freeing it takes",
    Ready.BUY: "To buy",
}
TURNED = "it would fit only turned, and grass is never turned: its pile would lean another way than the rest"


def cover_text(coverage: Coverage, currency: str, note: str = "") -> str:
    """Print every answer.

    Parameters
    ----------
    coverage
        The answers.
    currency
        ISO 4217 code.
    note
        How a lawn is laid; default nothing.
    """
    question = coverage.question
    when = f", to be laid {dated(question.lay_on)}" if question.lay_on else ""
    what = "A lawn" if coverage.layings else sizes_text(question.pieces)
    lines = [f"{what} in {printable(' or '.join(question.products))}{when}.", verdict(coverage)]
    if note:
        lines.insert(1, note)
    number = 0
    for ready in Ready:
        answers = coverage.of(ready)
        if answers:
            lines += ["", f"{_HEADINGS[ready]} (cost in {currency}):"]
        for answer in answers:
            number += 1
            lines.append(f"{number:2}. {answer_line(answer, several=len(question.products) > 1)}")
    if coverage.proposed:
        uses = ", ".join(f"{tag_words(one.source)} for {' and '.join(one.jobs)}" for one in coverage.proposed)
        plan = coverage.proposed[0].plan
        lines += ["", printable(f"Beware: plan {plan}, which nobody has accepted yet, would cut {uses}.")]
    if coverage.misses:
        way = f", laid as {coverage.layings[0].label}" if len(coverage.layings) > 1 else ""
        lines += ["", f"Nearest misses{way}:"]
        lines += [f"  - {miss_line(miss)}" for miss in coverage.misses]
    return "\n".join(lines)


def verdict(coverage: Coverage) -> str:
    """Say in one sentence whether it is covered."""
    in_time = [answer for answer in coverage.answers if answer.in_time]
    for ready in (Ready.FREE, Ready.REST):
        if found := [answer for answer in in_time if answer.ready is ready]:
            return _verdict(found[0]) + _without_a_seam(coverage, found[0])
    # Freeing something at a cost that is not known comes after everything else.
    later = sorted(
        in_time, key=lambda one: (one.freeing is not None and one.freeing.cost_pence is None, one.cost_pence)
    )
    if later:
        return _verdict(later[0]) + _without_a_seam(coverage, later[0])
    if coverage.answers:
        first = min((answer.from_day for answer in coverage.answers if answer.from_day), default=None)
        return f"Not in time: the first that would do can be cut from {day(first)}." if first else "Not in time."
    return "No: nothing in the yard covers it, and nothing that is sold does."


def _without_a_seam(coverage: Coverage, best: Answer) -> str:
    """Point at the first answer without a seam where that of the verdict has one; only a lawn has both."""
    if best.laying is None or not best.laying.seams:
        return ""
    for number, one in enumerate(coverage.answers, 1):
        if one.in_time and one.laying is not None and not one.laying.seams and not one.seam_mm:
            return f" {'In one piece' if len(one.laying.pieces) == 1 else 'Without a seam'}: answer {number}."
    return ""


def _verdict(answer: Answer) -> str:
    things = " and ".join(named(take.source) for take in answer.takes)
    verb = "covers it and is" if len(answer.takes) == 1 else "cover it and are"
    if answer.ready is Ready.FREE:
        free = f"free from {day(answer.from_day)}" if answer.from_day else "free"
        return f"Yes: {things} {verb} {free}{_seam_words(answer)}{wait_words(answer.takes)}."
    if answer.ready is Ready.REST:
        one = len(answer.takes) == 1
        rest = f"what is left of {things}" if one else f"{things}, of which one is yet to be left over,"
        when = f"from {day(answer.from_day)} on" if answer.from_day else "once a plan is cut"
        wait = wait_words(answer.takes)
        return f"Yes, {when}: {rest} when it has been cut as planned{_seam_words(answer)}{wait}."
    if answer.ready is Ready.PROMISED:
        return _promised_verdict(answer, things)
    return f"No, but it can be bought: {each_once(map(bought_words, answer.takes), ' and ')}{_seam_words(answer)}."


def _promised_verdict(answer: Answer, things: str) -> str:
    """Say what a promised thing would cost; whatever else is told comes later or costs more."""
    freeing, seam = answer.freeing, _seam_words(answer)
    if freeing is None or freeing.cost_pence is None:
        return f"Nothing else covers it in time but what is promised: {things}{seam}; what freeing costs is not known."
    if freeing.moves:
        return f"Not from what is free. Cheapest is to free {things}{seam}; that {_costs(answer)}."
    beside = "promised, but gives this too if it is cut otherwise than planned"
    return f"Not from what is free. Cheapest is {things}: {beside}{seam}; that {_costs(answer)}."


def _seam_words(answer: Answer) -> str:
    if answer.laying and answer.laying.seams:
        return f", laid with {seams_words(answer.laying)}"
    return f", with a seam of {metres(answer.seam_mm)} m along the pile" if answer.seam_mm else ""


def answer_line(answer: Answer, *, several: bool = False) -> str:
    """Explain one answer in one line.

    Parameters
    ----------
    answer
        What is explained.
    several
        Whether more than one product would do, so that each line must name its own; default False.
    """
    parts = [each_once((_take_words(take, answer, several) for take in answer.takes), "; and ")]
    if answer.laying:
        if answer.laying.label:
            parts[0] = f"{answer.laying.label}: {parts[0]}"
        if answer.laying.seams:
            parts.append(f"{seams_words(answer.laying)}, {money(answer.laying.seam_pence)}")
    if answer.seam_mm:
        parts.append(f"one seam of {metres(answer.seam_mm)} m along the pile, {money(answer.seam_pence)}")
    if answer.narrow_mm:
        parts.append(f"NARROW: one strip covers only {metres(answer.narrow_mm)} m")
    if answer.freeing:
        parts.append(_freeing_words(answer.freeing))
    if not answer.in_time:
        parts.append("too late")
    cost = money(answer.cost_pence)
    if answer.freeing is None:
        parts.append(f"costs {cost}")
    elif answer.freeing.cost_pence is None:
        parts.append(f"costs {cost} beside that")
    else:
        parts.append(_costs(answer))
    return "; ".join(parts)


def _costs(answer: Answer) -> str:
    """Say what an answer costs in all that frees something; it may save, where the plan was not the best there is."""
    proven = answer.freeing is None or answer.freeing.proven
    if answer.cost_pence < 0:
        return f"saves {'' if proven else 'at least '}{money(-answer.cost_pence)} in all"
    return f"costs {'' if proven else 'at most '}{money(answer.cost_pence)} in all"


def _take_words(take: Take, answer: Answer, several: bool) -> str:
    source = take.source
    product = f"{source.product} " if several else ""
    if isinstance(source.form, SupplyForm):
        what = f"{product}{bought_words(take)}"
    else:
        bay = f" bay {source.bay}," if source.bay else ""
        state = f", {source.condition}" if source.condition else ""
        due = ""
        if source.from_day:
            due = ", left when it is cut as planned, by " if answer.ready is Ready.REST else ", here "
            due += day(source.from_day)
        lies = f"{form_words(source.form)} {size(source.width_mm, source.length_mm)}"
        what = f"{tag_words(source.key)},{bay} {batch_words(source)}: {product}{lies}{state}{due}"
    every = answer.freeing.together if answer.freeing else ()
    together = next((one for one in every if one.source.key == source.key), None)
    if together is None:
        return printable(f"{what}; {cuts_words(take)}; {left_words(take)}")
    if together.source == source:
        return printable(f"{what}; cut for all: {cuts_words(together)}; {left_words(together)}")
    kept = "those of the plan's cuts that stay" if answer.freeing and answer.freeing.moves else "the plan's cuts"
    rest = f"of the {size(together.source.width_mm, together.source.length_mm)} left beside {kept}"
    return printable(f"{what}; {rest}: {cuts_words(together)}; {left_words(together)}")


def _freeing_words(freeing: Freeing) -> str:
    promise = freeing.promise
    if promise.plan is None:
        until = f" until {dated(promise.until)}" if promise.until else ""
        return f"held for {printable(promise.quote)}{until}, then free; what that quote would need instead is not known"
    jobs = ", ".join(f"{printable(code)} ({day(lay_on)})" for code, lay_on in promise.jobs)
    reserved = f"reserved by plan {promise.plan} for {jobs}"
    if freeing.cost_pence is None:
        found = "nothing would" if freeing.proven else "too many ways to say what would"
        return f"{reserved}; {found} replace it in time"
    if not freeing.moves:
        return f"{reserved}; still gives {'these' if len(promise.jobs) > 1 else 'that'}"
    instead = []
    if freeing.stays:
        instead.append(f"{_listed(freeing.stays)} still from it")
    for codes, words in _by_jobs(freeing):
        again = " also" if set(codes) <= set(freeing.stays) else ""
        instead.append(f"{_listed(codes)}{again} from {words}")
    # Where a part is still cut from it, nobody can say what of the cost is whose.
    dearer = "" if freeing.stays else f", which makes {_dearer(freeing)}"
    return f"{reserved}; instead {', '.join(instead)}{dearer}"


def _dearer(freeing: Freeing) -> str:
    """Say what it does to what the jobs concerned cost."""
    cost = freeing.cost_pence or 0
    them = "them" if len(freeing.promise.jobs) > 1 else "it"
    if cost == 0:
        return f"{them} no dearer than planned"
    bound = "" if freeing.proven else "at most " if cost > 0 else "at least "
    return f"{them} {bound}{money(abs(cost))} {'dearer' if cost > 0 else 'cheaper'} than planned"


def _by_jobs(freeing: Freeing) -> Iterator[tuple[tuple[str, ...], str]]:
    """Give for each group of jobs what it gets instead; new pieces may come from what is freed itself."""
    groups: dict[tuple[str, ...], list[str]] = {}
    for move in freeing.moves:
        itself = f"{printable(tag_words(move.take.source.key))} itself" if move.take in freeing.together else ""
        groups.setdefault(move.jobs, []).append(itself or _instead_words(move.take))
    for jobs, words in groups.items():
        yield jobs, each_once(words, " and ")


def _listed(codes: Iterable[str]) -> str:
    *others, last = codes
    return printable(f"{', '.join(others)} and {last}" if others else last)


def _instead_words(take: Take) -> str:
    return bought_words(take) if isinstance(take.source.form, SupplyForm) else named(take.source)


def miss_line(miss: Miss) -> str:
    """Say what something lacks, in centimetres and in which direction."""
    lacking = [
        f"{_centimetres(found)} cm short {direction} the pile"
        for found, direction in ((miss.across_mm, "across"), (miss.along_mm, "along"))
        if found
    ]
    source = miss.source
    lies = f"{source.product} {form_words(source.form)} {size(source.width_mm, source.length_mm)}"
    if miss.ready is Ready.BUY:
        longest = "the longest " if source.form is SupplyForm.CUT_LENGTH else ""
        what = f"{longest}{lies} from {source.key}, to be bought"
    else:
        what = f"{named(source)}, {batch_words(source)}: {lies}{', promised' if miss.ready is Ready.PROMISED else ''}"
    turned = f"; {TURNED}" if miss.turned else ""
    return printable(f"{what}, {' and '.join(lacking)}{turned}")


def _centimetres(millimetres: int) -> str:
    return f"{millimetres // 10}" if millimetres % 10 == 0 else f"{millimetres / 10:.1f}"


def held_words(tags: tuple[str, ...], quote: str, until: str) -> str:
    """Say what is held now.

    Parameters
    ----------
    tags
        Of what is held.
    quote, until
        For whom, and the last day in words.
    """
    things = counted(len(tags), "thing")
    return printable(f"Held {', '.join(tags)} ({things}) for {quote} up to and including {until}.")


def still_held_words(tags: tuple[str, ...], quote: str) -> str:
    """Say what else is held for a quote, which it may no longer want.

    Parameters
    ----------
    tags
        Of what else is held.
    quote
        For whom.
    """
    frees = " or ".join(f"stockplan free {argument(tag)}" for tag in tags)
    return printable(f"Held for {quote} before, and still: {', '.join(tags)}; what it wants no longer: {frees}")
