"""What a job truly costs: the bracket against plans found by going through every way to cut, and sums by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from every_way_to_cut import Best, WholeProblem
from small_problems import TODAY, cut_lengths, item, job, problem, rolls, sound_plan
from test_brute_force import random_request

from stockplan.domain.jobs import Job
from stockplan.domain.quote import Annex, RuleOfThumb, price_per_m2, weighing
from stockplan.domain.quote_bracket import Bracket, bracket
from stockplan.domain.request import CostSettings, PlanRequest, SearchLimits
from stockplan.domain.strip import Strip
from stockplan.domain.true_cost import (
    NOTHING,
    Grass,
    Solved,
    TrueCost,
    floor_pence,
    true_cost,
    with_addition,
    with_removal,
)
from stockplan.domain.units import MM2_PER_M2
from stockplan.domain.worth import UnitCost

PENCE = 8  # both exact costs may be off by a penny a leftover: worth is rounded down leftover by leftover


def bracketed(request: PlanRequest, new: Job, work: int) -> tuple[Bracket, bool]:
    """The bracket from plans made with so little work, and whether both were proven the cheapest."""
    limits = SearchLimits(seconds=20, work=work)
    (with_it,) = sound_plan(request, limits).products
    others = tuple(one for one in request.jobs if one is not new)
    without = sound_plan(replace(request, jobs=others), limits).products[0] if others else None
    found = bracket(request, new, with_it, without)
    return found, found.with_it.proven and found.without.proven


def exactly(request: PlanRequest, new: Job) -> tuple[Best, Best]:
    others = tuple(one for one in request.jobs if one is not new)
    return WholeProblem(request).solve(), WholeProblem(replace(request, jobs=others)).solve()


def judge(seed: int, work: int) -> tuple[bool, bool]:
    """Judge one random problem; say whether a cost was told, and whether both plans were proven."""
    request = random_request(seed)
    new = request.jobs[seed % len(request.jobs)]
    found, proven = bracketed(request, new, work)
    if found.cost is None:
        return False, proven
    with_it, without = exactly(request, new)
    if with_it.pieces_short != without.pieces_short or (found.without.short and not proven):
        return False, proven
    difference = with_it.net_cost - without.net_cost
    assert found.cost.least - PENCE <= difference <= found.cost.most + PENCE, seed
    assert found.cost.least <= found.cost.likely <= found.cost.most, seed
    if proven:
        assert found.cost.most - found.cost.least <= PENCE, seed
    return True, proven


@pytest.mark.parametrize("block", range(5))
def test_the_interval_holds_the_difference_of_both_exact_plans(block: int) -> None:
    found = [judge(seed, 60) for seed in range(15 * block, 15 * block + 15)]
    assert sum(told for told, _ in found) >= 3
    assert any(told and proven for told, proven in found)


def test_poor_plans_give_wider_intervals_but_no_false_ones() -> None:
    for seed in range(300, 325):
        judge(seed, 1)


@pytest.mark.slow
def test_the_interval_holds_the_difference_many_times() -> None:
    found = [judge(seed, 60) for seed in range(2000, 2300)]
    assert sum(told and proven for told, proven in found) >= 60


# --- by hand ---------------------------------------------------------------------------------------------------------


def test_the_interval_of_two_plans_and_their_bounds() -> None:
    assert true_cost(Solved(1300, 1200), Solved(1000, 900)) == TrueCost(200, 400, 300)


def test_floor_and_ceiling_narrow_the_interval() -> None:
    assert true_cost(Solved(1300, 1000), Solved(1000, 800), floor=150, ceiling=350) == TrueCost(150, 350, 300)


def test_a_job_never_costs_less_than_nothing() -> None:
    assert true_cost(Solved(1000, 900), Solved(1000, 990)) == TrueCost(0, 10, 0)


def test_a_better_plan_with_the_job_betters_the_plan_without_it() -> None:
    """The plan with the job costs less than the one without: taking the job out again saves at least its floor."""
    cost = true_cost(Solved(900, 900), Solved(1000, 700), floor=100)
    assert cost == TrueCost(100, 200, 100)


def test_plans_that_leave_different_work_short_are_not_compared() -> None:
    short = frozenset({("J1", "A", 1)})
    assert true_cost(Solved(900, 900, short), Solved(1000, 700)) is None


def test_the_plan_without_and_an_addition_is_a_plan_with_the_job() -> None:
    without = Solved(1000, 900)
    assert with_addition(without, Solved(1500, 1100), 300) == Solved(1300, 1100)
    assert with_addition(without, Solved(1200, 1100), 300) == Solved(1200, 1100)
    assert with_addition(without, Solved(400, 400, frozenset({("J1", "A", 1)})), 300) == Solved(1300, 900)


def test_a_plan_with_the_job_that_covers_more_betters_the_one_without_it() -> None:
    short = frozenset({("J1", "A", 1)})
    without = with_removal(Solved(1500, 1100), Solved(900, 800, short), 300)
    assert without == Solved(1200, 800)
    assert with_removal(Solved(1500, 1100, short), Solved(900, 800, short), 300) == Solved(900, 800, short)


def test_the_floor_is_the_worth_of_the_pieces_at_the_cheapest_grass_that_gives_them() -> None:
    cheap, dear = UnitCost(500, MM2_PER_M2), UnitCost(1000, MM2_PER_M2)
    strips = [Strip("A", 4000, 3000, 2), Strip("B", 400, 3000)]
    # full width from 3 m on 0.90 of 120.00; B is too narrow to be worth anything; a penny a piece for rounding
    assert floor_pence(strips, [Grass(2000, 9000, cheap), Grass(4000, 9000, dear)], 4000, CostSettings()) == 2 * 10_799
    assert floor_pence(strips, [Grass(4000, 9000, cheap)], 4000, CostSettings(leftovers_have_worth=False)) == 0


def test_a_job_that_an_idle_offcut_covers_costs_the_offcut() -> None:
    """Nothing else wants it: 3 × 2 m at 10.00 a m² are worth 0.5875 × 0.73333 × 60.00."""
    new = job("J2", "3000x2000")
    request = problem([job("J1", "4000x5000"), new], [item("K", "3000x2000")], [cut_lengths("4000x15000", 5000)])
    found, proven = bracketed(request, new, 60)
    assert proven
    assert found.cost == TrueCost(2585, 2585, 2585)


def test_the_only_job_costs_its_plan() -> None:
    new = job("J1", "4000x5000")
    found, _ = bracketed(problem([new], [], [cut_lengths("4000x15000", 5000)]), new, 60)
    assert found.cost == TrueCost(25_000, 25_000, 25_000)
    assert found.without == NOTHING


def test_a_job_that_takes_the_grass_of_another_costs_the_others_replacement() -> None:
    new = job("J2", "4000x6000", day=0)
    later = job("J1", "4000x6000", day=7)
    stock = [item("P", "4000x6000", form="part_roll")]
    request = problem([later, new], stock, [cut_lengths("4000x15000", 5000, lead_days=9)])
    found, _ = bracketed(request, new, 60)
    assert found.cost is not None
    assert found.cost.least <= 30_000 <= found.cost.most


def test_grass_for_many_pieces_is_bought_for_some_of_them_together() -> None:
    """14 of 2 × 1 m, more than can be shared out in every way: 7 lengths of 1 m at 50.00, each ripped in two."""
    new = job("J1", "2000x1000*14")
    found, _ = bracketed(problem([new], [], [cut_lengths("4000x15000", 5000)]), new, 5)
    assert found.ceiling == 7 * (5000 + 300)


def test_no_purchase_in_time_means_no_ceiling() -> None:
    new = replace(job("J1", "4000x5000"), lay_on=TODAY + timedelta(days=3))
    request = problem([new], [item("P", "4000x6000", form="part_roll")], [rolls("4000x25000", 90_000, lead_days=3)])
    found, _ = bracketed(replace(request, window=replace(request.window, first=TODAY)), new, 60)
    assert found.ceiling is None
    assert found.cost is not None


def test_the_rule_of_thumb_is_area_price_and_wastage() -> None:
    assert RuleOfThumb(29_760_000, 1080, 10).pence == 35_355  # 29.76 m² × 10.80 × 1.10 = 353.5488
    assert price_per_m2([rolls("4000x25000", 108_000), cut_lengths("4000x15000", 5250)], [900]) == 1080
    assert price_per_m2([cut_lengths("4000x15000", 5250)], [900]) == 1313
    assert price_per_m2([], [900, 1000]) == 1000


def test_the_yard_makes_a_job_cheap_or_dear_only_where_that_is_proven() -> None:
    rule = RuleOfThumb(10_000_000, 1000, 10)  # 110.00
    assert weighing(TrueCost(4000, 5500, 5000), rule).word == "cheap"
    assert "at least 50 % under" in weighing(TrueCost(4000, 5500, 5000), rule).sentence
    assert weighing(TrueCost(12_100, 13_000, 12_500), rule).sentence.endswith("at least 10 % over the rule")
    assert weighing(TrueCost(4000, 10_999, 10_999), rule).sentence.endswith("makes it cheap: under the rule")
    assert weighing(TrueCost(11_001, 13_000, 12_500), rule).sentence.endswith("makes it dear: over the rule")
    assert weighing(TrueCost(4000, 12_000, 5000), rule).word == "open"
    assert weighing(None, rule).word == "open"


def test_nothing_a_customer_is_shown_can_hold_a_cost() -> None:
    assert not [name for name in Annex.__slots__ if any(word in name for word in ("pence", "cost", "price", "money"))]
