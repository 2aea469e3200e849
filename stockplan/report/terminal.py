"""A plan in the terminal, in the order an owner reads it: what it costs, what to order, what to cut, what is left."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from stockplan.domain.as_typed import argument
from stockplan.domain.jobs import Job
from stockplan.domain.lifting import weight_kg
from stockplan.domain.plan import Plan, PlannedLeftover, ProductPlan, Shortfall, SourceCuts
from stockplan.domain.reasons import BatchGround
from stockplan.domain.request import PlanRequest
from stockplan.domain.units import money, size
from stockplan.report.figures import plan_figures
from stockplan.report.handling import CAUTIONS, lift_words, lifting_note
from stockplan.report.headline import headlines
from stockplan.report.reasons import batch_words, order_words
from stockplan.report.steps import LEFT, cutting_steps
from stockplan.report.terminal_money import put_money, put_totals
from stockplan.report.terminal_parts import as_cell, as_line, new_table, put_heading
from stockplan.report.words import (
    PieceLabels,
    SourceFacts,
    counted,
    day,
    form_words,
    mixed_suppliers,
    source_facts,
    unsound_words,
)

EACH_ALONE = (
    "Each change alone can cover its job, with no other short that is not. Where several jobs of a grass are short, a "
    "plan made after it leaves as few pieces short as it can, and may cover another of them instead."
)


def render_plan(
    console: Console, request: PlanRequest, plan: Plan, conditions: Mapping[str, str] | None = None
) -> None:
    """Print a plan.

    Every meaning is in words, so that it reads the same without colour, through a pipe and on paper.

    Parameters
    ----------
    console
        Where to; at least 60 columns wide to be readable.
    request
        What the plan answers.
    plan
        The plan.
    conditions
        By tag the word for the condition of what is not sound; default all is.
    """
    first, last = plan.window.first, plan.window.last
    console.print(as_line(f"Plan for {first} to {last}, made {plan.today}, money in {plan.currency}", "bold"))
    console.print()
    for sentence in headlines(plan):
        console.print(as_line(sentence))
    for product in plan.products:
        if product.held_wanted:
            tags = ", ".join(product.held_wanted)
            console.print(as_line(f"{product.product}: would have taken, were it not held for a quote: {tags}."))
    _orders(console, request, plan)
    for product in plan.products:
        _cuts(console, request, product, conditions or {})
    _batches(console, plan)
    _leftovers(console, plan)
    _short(console, request, plan)
    put_money(console, request, plan)
    put_totals(console, plan, plan_figures(request, plan))
    _cautions(console)


def _nothing_to_order(request: PlanRequest, plan: Plan) -> str:
    """Why nothing is to be ordered: what covers the jobs, and whether it covers all of them."""
    coming = {item.tag for item in request.stock if item.arrives_on is not None}
    source = (
        "the yard and what is on its way cover" if any(c.source in coming for c in plan.cuts()) else "the yard covers"
    )
    short = {shortfall.job for shortfall in plan.short()}
    if not short:
        return f"Nothing: {source} it."
    covered = {piece.job for piece in plan.pieces()} - short
    return f"Nothing: {source} all that is not short." if covered else "Nothing; what is short is told below."


def _orders(console: Console, request: PlanRequest, plan: Plan) -> None:
    orders = sorted(plan.orders(), key=lambda order: (order.order_by, order.product, order.arrives_on))
    put_heading(console, "To order")
    if not orders:
        console.print(as_line(_nothing_to_order(request, plan)))
        return
    jobs: dict[str, list[str]] = {}
    for piece in plan.pieces():
        serves = jobs.setdefault(piece.source, [])
        if piece.job not in serves:
            serves.append(piece.job)
    table = new_table("Order", "Order by", "Here on", "What, from whom", "Price", "For jobs", right=("Price",))
    for order in orders:
        # Not 'today': the plan may be shown again on another day.
        by = as_cell(day(order.order_by), "(at once)") if order.order_by == plan.today else as_cell(day(order.order_by))
        table.add_row(
            as_cell(order.key),
            by,
            as_cell(day(order.arrives_on)),
            as_cell(f"{order.product} {form_words(order.form)}", size(order.width_mm, order.length_mm), order.supplier),
            as_cell(money(order.price_pence)),
            as_cell(", ".join(jobs.get(order.key, []))),
        )
    console.print(table)
    total = sum(order.price_pence for order in orders)
    console.print(
        as_line(f"{counted(len(orders), 'order')}, {money(total)} together. Ask for one batch of each product.")
    )
    for code, suppliers in mixed_suppliers(request, plan).items():
        told = " and ".join(suppliers)
        console.print(
            as_line(f"{code} takes grass of {told}, seldom of one batch: ask them before anything is ordered.")
        )
    _without_orders(console, plan)


def _without_orders(console: Console, plan: Plan) -> None:
    """What would happen without each order, as far as that was worked out."""
    reasons = [reason for product in plan.products for reason in product.order_reasons]
    told = [reason for reason in reasons if reason.worked_out]
    if told:
        console.print(as_line("Without one of them, and with nothing bought in its place:"))
    for reason in told:
        console.print(Padding(as_line(f"{reason.order}: {order_words(reason)}"), (0, 0, 0, 2)))
    if len(told) < len(reasons):
        console.print(as_line(f"What would happen without {'the others' if told else 'one'}: stockplan why ORDER"))


def _batches(console: Console, plan: Plan) -> None:
    """Why each job is cut from its batch, as far as that was worked out."""
    reasons = [reason for product in plan.products for reason in product.batch_reasons]
    told = [reason for reason in reasons if reason.ground is not BatchGround.NOT_WORKED_OUT]
    if not reasons:
        return
    put_heading(console, "Why from these batches")
    if told:
        table = new_table("Job", "Batch", "Why; or from what else, and what the whole plan then costs")
        for reason in told:
            table.add_row(as_cell(reason.job), as_cell(", ".join(reason.batches)), as_cell(batch_words(reason)))
        console.print(table)
    if len(told) < len(reasons):
        console.print(as_line(f"Of {'the other jobs' if told else 'one job'}: stockplan why JOB"))


def _cuts(console: Console, request: PlanRequest, product: ProductPlan, conditions: Mapping[str, str]) -> None:
    if not product.cuts:
        return
    put_heading(console, f"Cuts in {product.product} (metres, across × along the pile; nothing is turned)")
    console.print(as_line(LEFT))
    facts = source_facts(request, product, conditions)
    labels = PieceLabels(request.jobs)
    serves = _jobs_by_source(request, product)
    for cuts in product.cuts:
        console.print()
        heading, *about = _source_lines(facts[cuts.source], serves.get(cuts.source, []))
        console.print(as_line(heading, "bold"))
        for line in about:
            console.print(Padding(as_line(line), (0, 0, 0, 2), expand=False))
        table = new_table("Step", "Do", "Gives", right=("Step",))
        for number, step in enumerate(cutting_steps(cuts, product.leftovers, labels), 1):
            table.add_row(str(number), as_cell(step.do), as_cell(*step.gives))
        console.print(Padding(table, (0, 0, 0, 2)))
        console.print(Padding(as_line(_piece_weights(cuts, facts[cuts.source], labels)), (0, 0, 0, 2)))


def _piece_weights(cuts: SourceCuts, source: SourceFacts, labels: PieceLabels) -> str:
    weights = []
    for piece in cuts.pieces():
        weight = weight_kg(piece.width_mm, piece.length_mm, source.weight_g_m2)
        lift = lift_words(weight)
        weights.append(f"{labels.of(piece)} {weight} kg{f' ({lift})' if lift else ''}")
    return f"Pieces weigh about: {', '.join(weights)}"


def _jobs_by_source(request: PlanRequest, product: ProductPlan) -> dict[str, list[Job]]:
    """Jobs cut from each source, the first to be laid first."""
    codes = {cuts.source: {piece.job for piece in cuts.pieces()} for cuts in product.cuts}
    in_order = sorted(request.jobs, key=lambda job: (job.lay_on, job.code))
    return {source: [job for job in in_order if job.code in found] for source, found in codes.items()}


def _source_lines(source: SourceFacts, serves: list[Job]) -> list[str]:
    weight = weight_kg(source.width_mm, source.length_mm, source.weight_g_m2)
    note = lifting_note(weight)
    dimensions = size(source.width_mm, source.length_mm)
    return [
        f"{source.key}: {source.what} {dimensions}",
        source.where,
        f"about {weight} kg{'; ' + note if note else ''}",
        *([f"for {', '.join(f'{job.code} ({day(job.lay_on)})' for job in serves)}"] if serves else []),
        *([f"CAREFUL: {unsound_words(source.condition)}"] if source.condition else []),
    ]


def _leftovers(console: Console, plan: Plan) -> None:
    kept = [left for left in plan.leftovers() if left.keep]
    binned = [left for left in plan.leftovers() if not left.keep]
    if kept:
        put_heading(console, "Leftovers to keep: tag each with size, batch and bay")
        table = new_table("From", "Size", "As", "Value", "Why", right=("Value",))
        for left in kept:
            table.add_row(
                as_cell(left.source),
                _size_cell(left),
                as_cell(form_words(left.becomes)),
                as_cell(money(left.value_pence)),
                as_cell(left.reason.removeprefix("keep: ")),
            )
        console.print(table)
    if binned:
        put_heading(console, "Leftovers to bin")
        table = new_table("From", "Size", "Why")
        for left in binned:
            table.add_row(as_cell(left.source), _size_cell(left), as_cell(left.reason.removeprefix("bin: ")))
        console.print(table)


def _size_cell(left: PlannedLeftover) -> Text:
    return as_cell(size(left.width_mm, left.length_mm))


def _short(console: Console, request: PlanRequest, plan: Plan) -> None:
    short = list(plan.short())
    if not short:
        return
    put_heading(console, "Short: not covered by this plan")
    jobs = {job.code: job for job in request.jobs}
    table = new_table("Job", "Strip", "Laid", "Why, and what would mend it")
    told: set[tuple[str, str, str]] = set()
    for one in short:
        job = jobs[one.job]
        strip = next(strip for strip in job.strips if strip.label == one.strip)
        mend = (
            f"Would mend it: {one.remedy}" if one.remedy else f"What would mend it: stockplan why {argument(one.job)}"
        )
        # A remedy mends the whole job: said once, so that nobody adds it up strip by strip.
        why = ("as above",) if (one.job, one.reason, one.remedy) in told else (one.reason, mend)
        told.add((one.job, one.reason, one.remedy))
        table.add_row(
            as_cell(one.job, job.site),
            as_cell(f"{one.count} × {one.strip}", size(strip.width_mm, strip.length_mm)),
            as_cell(day(job.lay_on)),
            as_cell(*why),
        )
    console.print(table)
    if any(_may_mend_another(product.short) for product in plan.products):
        console.print(as_line(EACH_ALONE))


def _may_mend_another(short: Sequence[Shortfall]) -> bool:
    """Whether what would mend a job may, planned again, go to another that is short."""
    return len({one.job for one in short}) > 1 and any(one.remedy for one in short)


def _cautions(console: Console) -> None:
    put_heading(console, "Before anyone cuts or lifts")
    for caution in CAUTIONS:
        table = Table.grid(padding=(0, 1))
        table.add_row("-", as_line(caution))
        console.print(table)
