"""What a plan costs, in the terminal: source by source, so that every total can be added up by hand, and in all."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import Console
from rich.table import Table

from stockplan.domain.plan import Plan, ProductPlan
from stockplan.domain.request import CostSettings, PlanRequest
from stockplan.domain.units import money, square_metres
from stockplan.report.figures import PlanFigures, SourceMoney, source_money
from stockplan.report.terminal_parts import as_cell, as_line, new_table, put_heading
from stockplan.report.words import percent

FOREMAN = (
    "The foreman's plan is what cutting by hand gives, worked out for comparison: the largest pieces first, from the "
    "offcut that fits best, else a part roll, else a new roll."
)


def put_money(console: Console, request: PlanRequest, plan: Plan) -> None:
    """Print what each source brings into the totals, and the seams of each job.

    Parameters
    ----------
    console
        Where to.
    request
        What the plan answers; gives what a cut costs.
    plan
        The plan.
    """
    if not any(True for _ in plan.cuts()):
        return
    put_heading(console, "Money by source: what the totals are made of")
    columns = ("Order", "Stock used", "Leftovers kept", "Cutting")
    table = new_table("Source", *columns, right=columns)
    several = len([product for product in plan.products if product.cuts]) > 1
    everything: list[SourceMoney] = []
    for product in plan.products:
        rows = source_money(request, product)
        everything += rows
        for row in rows:
            table.add_row(as_cell(row.source), *map(as_cell, _amounts([row])))
        if rows and several:
            table.add_row(as_line(f"all {product.product}", "bold"), *map(as_cell, _amounts(rows)), end_section=True)
    table.add_row(as_line("together", "bold"), *map(as_cell, _amounts(everything)))
    console.print(table)
    console.print(as_line(_what_cutting_is(request.costs)))
    for product in plan.products:
        if told := _seams(product):
            console.print(as_line(told))


def _amounts(rows: Iterable[SourceMoney]) -> list[str]:
    """The sums of the columns; nothing where there is nothing to add."""
    parts = zip(
        *((row.order_pence, row.stock_pence, row.leftover_pence, row.cutting_pence) for row in rows), strict=True
    )
    return [money(total) if (total := sum(column)) else "" for column in parts]


def _what_cutting_is(costs: CostSettings) -> str:
    cuts = f"{money(costs.crosscut_pence)} a crosscut and {money(costs.rip_pence)} a rip or trim"
    return f"Cutting is {cuts}; stock used is what the thing is worth as it lies."


def _seams(product: ProductPlan) -> str:
    costs = [(chosen.job, chosen.seam_cost_pence) for chosen in product.layouts if chosen.seam_cost_pence]
    if not costs:
        return ""
    told = " + ".join(f"{job} {money(pence)}" for job, pence in costs)
    return f"Seams in {product.product}: {told}{f' = {money(product.seam_cost_pence)}' if len(costs) > 1 else ''}."


def put_totals(console: Console, plan: Plan, figures: PlanFigures) -> None:
    """Print the sums over a plan.

    Parameters
    ----------
    console
        Where to.
    plan
        The plan.
    figures
        Its sums.
    """
    put_heading(console, "Totals")
    foreman = "not known for every product" if figures.foreman_pence is None else money(figures.foreman_pence)
    unknown = figures.lower_bound_pence <= 0 < figures.net_pence
    rows = [
        ("orders", money(figures.order_pence)),
        ("+ stock used", money(figures.stock_pence)),
        ("- leftovers kept", money(figures.leftover_pence)),
        ("+ cutting", money(figures.cutting_pence)),
        *([("+ seams", money(figures.seam_pence))] if any(True for _ in plan.layouts()) else []),
        (f"= net cost, {plan.currency}", money(figures.net_pence)),
        ("foreman's plan", foreman),
        ("no plan costs less than", "not known" if unknown else money(figures.lower_bound_pence)),
        ("could still be saved, at most", "not known" if unknown else percent(figures.gap)),
        ("rolls ordered", str(figures.rolls_ordered)),
        ("offcuts used", str(figures.offcuts_used)),
        ("grass needed, m²", square_metres(figures.needed_mm2)),
        *([("of it left short, m²", square_metres(figures.short_mm2))] if figures.short_mm2 else []),
        ("grass ordered, m²", square_metres(figures.ordered_mm2)),
        ("pieces from stock, m²", square_metres(figures.from_stock_mm2)),
        ("leftovers kept, m²", square_metres(figures.kept_mm2)),
        ("leftovers binned, m²", square_metres(figures.binned_mm2)),
        ("waste: binned share of what is consumed", f"{figures.waste_percent} %"),
    ]
    table = Table(box=None, show_header=False, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column(overflow="fold")
    table.add_column(justify="right", overflow="fold")
    for name, value in rows:
        table.add_row(as_cell(name), as_cell(value))
    console.print(table)
    console.print(as_line(FOREMAN))
