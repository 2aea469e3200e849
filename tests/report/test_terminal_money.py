"""The money of a plan in the terminal adds up by hand: each column to its total, everything to the net cost."""

from __future__ import annotations

import io
import re
from collections.abc import Callable

import pytest
import sample_plans
from rich.console import Console
from test_plan_layouts import case

from stockplan.domain.picked import with_picked_layouts
from stockplan.domain.plan import Plan
from stockplan.domain.request import PlanRequest
from stockplan.report.terminal import render_plan

Sample = Callable[[], tuple[PlanRequest, Plan]]
COLUMNS = {
    "Order": "orders",
    "Stock used": "+ stock used",
    "Leftovers kept": "- leftovers kept",
    "Cutting": "+ cutting",
}


def lawns() -> tuple[PlanRequest, Plan]:
    """One job laid out with seams, one that is short, one with strips of its own."""
    request, plan = case()
    return with_picked_layouts(request, plan), plan


SAMPLES = [sample_plans.one_source, sample_plans.mixed, sample_plans.many_sources, lawns]


def shown(sample: Sample) -> str:
    output = io.StringIO()
    render_plan(Console(file=output, width=120), *sample())
    return output.getvalue()


def pence(printed: str) -> int:
    return int(re.sub(r"[.,]", "", printed.strip() or "0"))


def money_table(text: str) -> dict[str, dict[str, int]]:
    """Rows of the table by their first cell, each amount by the heading that it stands under."""
    _, begun = text.split("Money by source", 1)
    heading, _, *rows = [line for line in begun.splitlines()[1:] if line.strip()]
    columns = {heading.index(name) + len(name): name for name in COLUMNS}
    found = {}
    for row in rows[: next(number for number, row in enumerate(rows) if row.startswith("Cutting is"))]:
        amounts = {columns[one.end()]: pence(one[0]) for one in re.finditer(r"(?<= )[\d,]+\.\d\d(?= |$)", row)}
        found[re.split(r" {2,}", row.strip())[0]] = {name: amounts.get(name, 0) for name in COLUMNS}
    return found


def total(text: str, name: str) -> int:
    (printed,) = re.findall(rf"^{re.escape(name)} +([\d.,]+)$", text, re.MULTILINE)
    return pence(printed)


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda sample: sample.__name__)
def test_what_each_source_brings_adds_up_to_the_totals(sample: Sample) -> None:
    text = shown(sample)
    table = money_table(text)
    _, plan = sample()
    for column, name in COLUMNS.items():
        of_sources = sum(table[cuts.source][column] for cuts in plan.cuts())
        assert of_sources == table["together"][column] == total(text, name), column
    assert sum(table["together"].values()) > 0


def test_where_there_are_several_products_each_has_its_own_sums() -> None:
    text = shown(sample_plans.mixed)
    table = money_table(text)
    for product in sample_plans.mixed()[1].products:
        sums = table[f"all {product.product}"]
        net = sums["Order"] + sums["Stock used"] - sums["Leftovers kept"] + sums["Cutting"]
        assert net == product.net_cost_pence
    assert "all G30" not in shown(sample_plans.one_source)


def test_seams_are_told_job_by_job() -> None:
    text = shown(lawns)
    told = re.search(r"^Seams in G30: (.*)\.$", text, re.MULTILINE)
    assert told is not None
    by_job = dict(re.findall(r"(J\d) ([\d.,]+)", told[1]))
    assert {job: pence(amount) for job, amount in by_job.items()} == {
        chosen.job: chosen.seam_cost_pence for chosen in lawns()[1].layouts() if chosen.seam_cost_pence
    }
    assert sum(map(pence, by_job.values())) == total(text, "+ seams") > 0


def test_a_plan_that_cuts_nothing_has_no_money_by_source() -> None:
    assert "Money by source" not in shown(sample_plans.nothing_to_do)
