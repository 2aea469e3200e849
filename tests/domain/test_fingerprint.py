"""A fingerprint changes with whatever a plan's cost depends on, and with nothing else."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from small_problems import GRASS, MONDAY, TODAY, cut_lengths, item, job, problem, rolls

from stockplan.domain.fingerprint import fingerprint
from stockplan.domain.jobs import Window
from stockplan.domain.request import CostSettings, CutAlready, Pin, PlanRequest

BASE = problem([job("J1", "4000x5000"), job("J2", "2000x3000")], [item("T1", "4000x9000"), item("T2", "3000x2000")],
               [rolls("4000x25000", 90_000), cut_lengths("4000x15000", 5000)])  # fmt: skip
CHANGED = {
    "a strip": replace(BASE, jobs=(job("J1", "4000x5010"), BASE.jobs[1])),
    "a lay date": replace(BASE, jobs=(job("J1", "4000x5000", day=1), BASE.jobs[1])),
    "a job more": replace(BASE, jobs=(*BASE.jobs, job("J3", "1000x1000"))),
    "an item gone": replace(BASE, stock=BASE.stock[:1]),
    "an item measured again": replace(BASE, stock=(replace(BASE.stock[0], length_mm=8990), BASE.stock[1])),
    "an item due later": replace(BASE, stock=(replace(BASE.stock[0], arrives_on=MONDAY), BASE.stock[1])),
    "a price": replace(BASE, supply=(rolls("4000x25000", 90_001), BASE.supply[1])),
    "a lead time": replace(BASE, supply=(rolls("4000x25000", 90_000, 4), BASE.supply[1])),
    "a cost of cutting": replace(BASE, costs=CostSettings(crosscut_pence=201)),
    "a pin": replace(BASE, pins=(Pin("J1", "T1"),)),
    "a wider roll that is promised": replace(BASE, full_widths={GRASS: 5000}),
    "a piece cut": replace(BASE, cut_already=(CutAlready("J1", "S1", 1, "B1"),)),
}
TWO = replace(BASE, jobs=(job("J1", "4000x5000 2000x1000"), BASE.jobs[1]))
SAME = {
    "another order": replace(BASE, jobs=BASE.jobs[::-1], stock=BASE.stock[::-1], supply=BASE.supply[::-1]),
    "another day": replace(BASE, today=TODAY + timedelta(days=1)),
    "a longer window": replace(BASE, window=Window(MONDAY, MONDAY + timedelta(days=20))),
    "another bay": replace(BASE, stock=(replace(BASE.stock[0], bay="Z9"), BASE.stock[1])),
    "another address": replace(
        BASE, jobs=(replace(BASE.jobs[0], site="9 Elm Rise", pile_towards="gate"), BASE.jobs[1])
    ),
    "held stock": replace(BASE, held=(item("T3", "1000x1000"),)),
    "another grass": replace(BASE, jobs=(*BASE.jobs, job("J9", "1000x1000", product="G40"))),
}


@pytest.mark.parametrize("name", CHANGED)
def test_what_a_cost_depends_on_changes_it(name: str) -> None:
    assert fingerprint(CHANGED[name], GRASS) != fingerprint(BASE, GRASS)


def test_the_order_of_a_jobs_strips_does_not() -> None:
    turned = replace(TWO, jobs=(replace(TWO.jobs[0], strips=TWO.jobs[0].strips[::-1]), TWO.jobs[1]))
    assert fingerprint(turned, GRASS) == fingerprint(TWO, GRASS)


@pytest.mark.parametrize("name", SAME)
def test_what_no_least_cost_depends_on_does_not(name: str) -> None:
    request: PlanRequest = SAME[name]
    assert fingerprint(request, GRASS) == fingerprint(BASE, GRASS)
