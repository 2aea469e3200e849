"""Textbook one-dimensional cutting stock: full-width strips on rolls bought whole, leftovers and cuts at nothing.

One textbook unit of length is some whole number of millimetres here; every price is a hundred pence times the
textbook's, so that a bound reads as so many hundredths of a roll. 'Rounded' means rounded up to what whole rolls can
cost.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from functools import cache

import pytest
from small_problems import BOUGHT_ONLY, job, problem, rolls, sound_plan

from stockplan.cutting.planner import plan_cuts
from stockplan.domain.plan import Plan, PlanStatus, ProductPlan
from stockplan.domain.request import PlanRequest, SearchLimits

PENCE = 100
GENEROUS = SearchLimits(seconds=60, work=100_000)


@dataclass(frozen=True)
class Textbook:
    """A published instance.

    `rolls` are (length, price), `demands` (length, count), `unit_mm` the millimetres of one unit of length;
    `relaxation` and `optimum` are the published values, the relaxation to two places.
    """

    source: str
    rolls: tuple[tuple[int, int], ...]
    demands: tuple[tuple[int, int], ...]
    unit_mm: int
    relaxation: float
    optimum: int

    def request(self) -> PlanRequest:
        jobs = [job(f"J{n:02}", f"4000x{size * self.unit_mm}*{count}") for n, (size, count) in enumerate(self.demands)]
        offered = [rolls(f"4000x{length * self.unit_mm}", price * PENCE) for length, price in self.rolls]
        return problem(jobs, (), offered, BOUGHT_ONLY)


PAPER_MACHINE = Textbook(
    "encyclopaedia article 'Cutting stock problem', its worked example: 73 master rolls, waste 0.401 %",
    rolls=((5600, 1),),
    demands=(
        *((1380, 22), (1520, 25), (1560, 12), (1710, 14), (1820, 18), (1880, 18), (1930, 20)),
        *((2000, 10), (2050, 12), (2100, 14), (2140, 16), (2150, 18), (2200, 20)),
    ),
    unit_mm=1,
    relaxation=72.92,
    optimum=73,
)
CHVATAL = Textbook(
    "Chvátal, Linear Programming (1983), chapter 13",
    rolls=((100, 1),),
    demands=((45, 97), (36, 610), (31, 395), (14, 211)),
    unit_mm=100,
    relaxation=452.25,
    optimum=453,
)
AMPL = Textbook(
    "Fourer, Gay and Kernighan, AMPL: A Modeling Language for Mathematical Programming, the roll-trim example",
    rolls=((110, 1),),
    demands=((20, 48), (45, 35), (50, 24), (55, 10), (75, 8)),
    unit_mm=100,
    relaxation=46.25,
    optimum=47,
)
WINSTON = Textbook(
    "Winston, Operations Research: Applications and Algorithms, the Woodco example of column generation",
    rolls=((17, 1),),
    demands=((3, 25), (5, 20), (9, 15)),
    unit_mm=1000,
    relaxation=18.33,
    optimum=19,
)
GILMORE_GOMORY = Textbook(
    "Gilmore and Gomory, A linear programming approach to the cutting-stock problem, Operations Research 9 (1961)",
    rolls=((9, 10), (6, 7), (5, 6)),
    demands=((2, 20), (3, 10), (4, 20)),
    unit_mm=1000,
    relaxation=170.0,
    optimum=170,
)
ALL = {
    "paper machine": PAPER_MACHINE,
    "Chvatal": CHVATAL,
    "AMPL": AMPL,
    "Winston": WINSTON,
    "Gilmore-Gomory": GILMORE_GOMORY,
}


@cache
def quick_plan(name: str) -> Plan:
    return sound_plan(ALL[name].request(), SearchLimits(seconds=5, work=400))


def rounded(bound_pence: int) -> int:
    """A bound on the number, or the price, of whole rolls; all prices here are whole multiples."""
    return -(-bound_pence // PENCE)


def brackets(case: Textbook, planned: ProductPlan) -> bool:
    return planned.lower_bound_pence <= case.optimum * PENCE <= planned.net_cost_pence


@pytest.mark.parametrize("name", ["AMPL", "Winston", "Gilmore-Gomory"])
def test_bound_and_cost_bracket_the_published_optimum(name: str) -> None:
    (planned,) = quick_plan(name).products
    assert planned.short == ()
    assert brackets(ALL[name], planned)


@pytest.mark.parametrize("name", ["AMPL", "Winston", "Gilmore-Gomory"])
def test_bound_reaches_the_published_relaxation_and_rounds_to_the_optimum(name: str) -> None:
    (planned,) = quick_plan(name).products
    assert planned.lower_bound_pence >= int(ALL[name].relaxation * PENCE)
    assert rounded(planned.lower_bound_pence) == ALL[name].optimum


@pytest.mark.parametrize("name", ["AMPL", "Winston", "Gilmore-Gomory"])
def test_small_textbook_cases_are_solved_to_the_optimum(name: str) -> None:
    (planned,) = quick_plan(name).products
    assert planned.net_cost_pence == ALL[name].optimum * PENCE
    assert planned.net_cost_pence == sum(order.price_pence for order in planned.orders)


@pytest.mark.parametrize("name", ["AMPL", "Winston", "Gilmore-Gomory"])
def test_small_textbook_cases_are_proven(name: str) -> None:
    (planned,) = quick_plan(name).products
    assert planned.status is PlanStatus.OPTIMAL


@pytest.mark.slow
@pytest.mark.parametrize("name", ["paper machine", "Chvatal"])
def test_large_textbook_cases_are_solved_and_proven(name: str) -> None:
    (planned,) = sound_plan(ALL[name].request(), GENEROUS).products
    assert brackets(ALL[name], planned)
    assert planned.net_cost_pence == ALL[name].optimum * PENCE
    assert planned.status is PlanStatus.OPTIMAL


@pytest.mark.slow
@pytest.mark.parametrize("seconds", [2, 6])
def test_with_more_than_a_thousand_strips_the_clock_is_obeyed_within_a_second(seconds: int) -> None:
    began = time.monotonic()
    plan_cuts(CHVATAL.request(), SearchLimits(seconds=seconds))
    assert time.monotonic() - began <= seconds + 1.0
