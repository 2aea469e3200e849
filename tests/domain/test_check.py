"""One rule, three tests: trivially right, wrong, right again. Each cut is drawn above its test, cut end at the top.

The yard: R-1, an unopened roll of 4 × 10 m, batch B7; R-2, a part roll of 4 × 8 m, batch B8; rolls of 4 × 25 m and cut
lengths on offer. Job J1 wants A, 4 × 3 m, once, and B, 1.5 × 2 m, twice, from one batch.
"""

from __future__ import annotations

import ast
from dataclasses import replace
from pathlib import Path

import pytest
from builders import JOB, OTHER_ROLL, ROLL, Case, build, new_order, read_cuts, small_request
from checked_yard import ALL_OF_J1, REQUEST, broken, said, swap

import stockplan.domain
from stockplan.domain.check import Rule, check
from stockplan.domain.jobs import BatchRule, Strip
from stockplan.domain.plan import Shortfall


def test_the_whole_job_off_one_roll_is_sound_and_its_money_is_as_by_hand(whole: Case) -> None:
    assert check(whole.request, whole.plan) == ()
    cuts, planned = whole.plan.products[0].cuts[0], whole.plan.products[0]
    assert (cuts.crosscuts, cuts.rips) == (2, 2)
    # 40 m² at 10.00; tail 4 × 5 m at 0.90; the 1 × 2 m strip at (0.25 + 0.45/4)(0.6 + 0.4·2/6); cuts 2 × 2 + 2 × 3.
    assert planned.net_cost_pence == 40_000 - 18_000 - 531 + 1_000


# --- coverage -------------------------------------------------------------------------------------------------------


#   | J1 A1 |  and B2 nowhere
def test_coverage_wrong_when_a_copy_is_missing() -> None:
    case = build(REQUEST, {"R-1": read_cuts(REQUEST, "3000: J1.A1", "2000: J1.B1")})
    assert broken(case) == {Rule.COVERAGE}
    assert "J1 B no. 2: is neither cut nor reported short" in said(case)


#   +------+-------------+
#   |B1|B2 |      /      |    A is short
def test_coverage_wrong_when_a_job_is_short_by_halves() -> None:
    specs = {"R-1": read_cuts(REQUEST, "2000: J1.B1 | J1.B2")}
    case = build(REQUEST, specs, short=[Shortfall("J1", "A", 1, "nothing so wide")])
    assert broken(case) == {Rule.COVERAGE}
    assert "J1 B no. 1: is cut, but the job is reported short" in said(case)


def test_coverage_right_again_when_the_job_is_short_wholly() -> None:
    short = [Shortfall("J1", "A", 1, "nothing so wide"), Shortfall("J1", "B", 2, "the job waits")]
    assert broken(build(REQUEST, {}, short=short)) == set()
    assert broken(build(REQUEST, {}, short=short[:1])) == {Rule.COVERAGE}


def test_coverage_right_again_when_a_strip_is_short_in_two_entries() -> None:
    entries = [Shortfall("J1", "A", 1, "late"), Shortfall("J1", "B", 1, "late"), Shortfall("J1", "B", 1, "late")]
    assert broken(build(REQUEST, {}, short=entries)) == set()


# --- size and direction ---------------------------------------------------------------------------------------------


#   +-----------+---------+
#   |  B1 2 × 1.5, turned |
def test_size_wrong_when_a_piece_is_turned_to_make_it_fit() -> None:
    turned = small_request(replace(JOB, strips=(JOB.strips[0], Strip("B", 2000, 1500, count=2))))
    case = build(turned, {"R-1": read_cuts(turned, "3000: J1.A1", "1500: J1.B1 | J1.B2")})
    case = replace(case, request=REQUEST)
    assert broken(case) == {Rule.SIZE}
    assert "is turned: 2.00 × 1.50; would be 1.50 × 2.00" in said(case)


def test_size_right_again_when_the_job_does_want_it_that_way() -> None:
    turned = small_request(replace(JOB, strips=(JOB.strips[0], Strip("B", 2000, 1500, count=2))))
    assert broken(build(turned, {"R-1": read_cuts(turned, "3000: J1.A1", "1500: J1.B1 | J1.B2")})) == set()


def test_size_wrong_when_a_piece_is_cut_a_millimetre_long() -> None:
    long = small_request(replace(JOB, strips=(Strip("A", 4000, 3001), JOB.strips[1])))
    case = replace(build(long, {"R-1": read_cuts(long, "3001: J1.A1", *ALL_OF_J1[1:])}), request=REQUEST)
    assert broken(case) == {Rule.SIZE}
    assert "turned" not in said(case)


# --- inside and not overlapping -------------------------------------------------------------------------------------


#   +---------------------+ 0        drops of 3 and 2 m from a roll that is but 4.9 m long
#   |        J1 A1        |
#   +--------+--------+---+ 3
#   | J1 B1  | J1 B2  | / |
#   +--------+--------+---+ 4.9
def test_placement_wrong_when_the_last_drop_sticks_out() -> None:
    stub = small_request(stock=[replace(ROLL, length_mm=4900)])
    case = build(stub, {"R-1": read_cuts(stub, *ALL_OF_J1)})
    assert {Rule.PLACEMENT, Rule.THROUGH_CUTS, Rule.AREA} <= broken(case)
    assert "sticks out of 4.00 × 4.90" in said(case)


def test_placement_right_again_when_the_roll_just_reaches() -> None:
    just = small_request(stock=[replace(ROLL, length_mm=5000)])
    case = build(just, {"R-1": read_cuts(just, *ALL_OF_J1)})
    assert broken(case) == set()
    assert case.plan.products[0].cuts[0].crosscuts == 1  # the cut at the roll's end is no cut


#   | B1 [==] B2 |
def test_placement_wrong_when_lanes_overlap(whole: Case) -> None:
    second = next(piece for piece in whole.plan.pieces() if piece.number == 2)
    case = swap(whole, second, replace(second, across_mm=1499))
    assert Rule.PLACEMENT in broken(case)
    assert "overlaps" in said(case)


def test_placement_wrong_when_something_is_neither_piece_nor_leftover(whole: Case) -> None:
    beside = next(leftover for leftover in whole.plan.leftovers() if leftover.width_mm == 1000)
    case = swap(whole, beside)
    assert {Rule.PLACEMENT, Rule.AREA, Rule.THROUGH_CUTS, Rule.MONEY} == broken(case)
    assert "2.0 m² (2000000 mm²) is neither piece nor leftover" in said(case)


# --- through-cuts ---------------------------------------------------------------------------------------------------


#   +--------+-----------+
#   | B1     |           |       a lane wider than its pieces, each trimmed by a rip of its own,
#   | - - - -| leftover  |       and a drop longer than both of them
#   | B2     |           |
#   | rest   |           |
#   +--------+-----------+
def test_through_cuts_right_with_trims_and_a_rest_in_the_lane() -> None:
    case = build(REQUEST, {"R-1": read_cuts(REQUEST, "3000: J1.A1", "4700: 1800= J1.B1 J1.B2")})
    assert broken(case) == set()
    cuts = case.plan.products[0].cuts[0]
    assert (cuts.crosscuts, cuts.rips) == (4, 3)


def test_through_cuts_wrong_when_a_trim_is_not_counted() -> None:
    case = build(REQUEST, {"R-1": read_cuts(REQUEST, "3000: J1.A1", "4700: 1800= J1.B1 J1.B2")})
    cuts = case.plan.products[0].cuts[0]
    planned = case.plan.products[0]
    cheaper = replace(
        planned,
        cuts=(replace(cuts, rips=2),),
        cutting_cost_pence=planned.cutting_cost_pence - 300,
        net_cost_pence=planned.net_cost_pence - 300,
        lower_bound_pence=planned.net_cost_pence - 300,
    )
    case = swap(case, planned, cheaper)
    assert broken(case) == {Rule.THROUGH_CUTS}
    assert "4 crosscuts and 2 rips are counted; the tree has 4 and 3" in said(case)


#   drops with a gap of 100 mm between them, listed as a leftover of its own: cuttable, but not what the tree says
#   +---------------------+ 0
#   |        J1 A1        |
#   +---------------------+ 3.0
#   |/////////////////////|
#   +--------+--------+---+ 3.1
def test_through_cuts_wrong_when_drops_are_not_end_to_end(whole: Case) -> None:
    planned = whole.plan.products[0]
    second = planned.cuts[0].drops[1]
    lanes = tuple(
        replace(lane, pieces=tuple(replace(piece, along_mm=piece.along_mm + 100) for piece in lane.pieces))
        for lane in second.lanes
    )
    case = swap(whole, second, replace(second, along_mm=3100, lanes=lanes))
    assert Rule.THROUGH_CUTS in broken(case)
    assert "drop begins at 3100 along; the one before ends at 3000" in said(case)


# --- batch ----------------------------------------------------------------------------------------------------------


#   R-1, batch B7: | A1 |      R-2, batch B8: | B1 | B2 |
def test_batch_wrong_when_one_job_is_cut_from_two() -> None:
    specs = {"R-1": read_cuts(REQUEST, ALL_OF_J1[0]), "R-2": read_cuts(REQUEST, ALL_OF_J1[1])}
    case = build(REQUEST, specs)
    assert broken(case) == {Rule.BATCH}
    assert "J1: wants one batch; its pieces come from B7 (R-1), B8 (R-2)" in said(case)


def test_batch_right_again_when_any_will_do_or_both_rolls_are_one_batch() -> None:
    easy = small_request(replace(JOB, batch_rule=BatchRule.ANY))
    same = small_request(stock=[ROLL, replace(OTHER_ROLL, batch="B7")])
    for request in easy, same:
        specs = {"R-1": read_cuts(request, ALL_OF_J1[0]), "R-2": read_cuts(request, ALL_OF_J1[1])}
        assert broken(build(request, specs)) == set()


@pytest.mark.parametrize("batch", ["", "new"])
def test_batch_wrong_when_unknown_or_merely_called_new(batch: str) -> None:
    """Two unknown batches are two batches, and a stock batch that is called `new` is not the one being bought."""
    request = small_request(stock=[replace(ROLL, batch=batch), replace(OTHER_ROLL, batch="")])
    order = new_order(length_mm=3000)
    specs = {"R-1": read_cuts(request, ALL_OF_J1[1])}
    if batch:
        case = build(request, specs | {"new-1": read_cuts(request, ALL_OF_J1[0])}, orders=[order])
    else:
        case = build(request, specs | {"R-2": read_cuts(request, ALL_OF_J1[0])})
    assert broken(case) == {Rule.BATCH}


def test_batch_right_when_all_is_newly_bought() -> None:
    orders = [new_order("new-1", 3000), new_order("new-2", 2000)]
    specs = {"new-1": read_cuts(REQUEST, ALL_OF_J1[0]), "new-2": read_cuts(REQUEST, ALL_OF_J1[1])}
    assert broken(build(REQUEST, specs, orders)) == set()


# --- product --------------------------------------------------------------------------------------------------------


def test_product_wrong_when_the_roll_is_another_grass(whole: Case) -> None:
    case = replace(whole, request=small_request(stock=[replace(ROLL, product="G40")]))
    assert broken(case) == {Rule.PRODUCT}
    assert "job wants G30; source is G40" in said(case)


def test_product_wrong_when_one_roll_is_listed_as_two(whole: Case) -> None:
    cuts = whole.plan.products[0].cuts[0]
    halves = [replace(cuts, drops=cuts.drops[:1]), replace(cuts, drops=cuts.drops[1:])]
    case = swap(whole, cuts, *halves)
    assert Rule.PRODUCT in broken(case)
    assert "R-1: is cut 2 times over" in said(case)


def test_product_right_again_when_two_rolls_are_two() -> None:
    jobs = (JOB, replace(JOB, code="J2"))
    request = small_request(*jobs)
    other = tuple(drop.replace("J1", "J2") for drop in ALL_OF_J1)
    specs = {"R-1": read_cuts(request, *ALL_OF_J1), "R-2": read_cuts(request, *other)}
    assert broken(build(request, specs)) == set()


# --- the checker itself ---------------------------------------------------------------------------------------------


def test_the_checker_shares_no_code_with_the_planner() -> None:
    """It imports the standard library, the domain's data and the definition of worth, and nothing else."""
    data = ("jobs", "lawn", "layout", "picked", "pile", "pile_direction", "plan", "request", "stock", "units", "worth")
    allowed = {f"stockplan.domain.{name}" for name in data}
    folder = Path(stockplan.domain.__file__).parent
    own = {f"stockplan.domain.{path.stem}" for path in folder.glob("check*.py")}
    assert len(own) >= 4
    for path in folder.glob("check*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            if isinstance(node, ast.ImportFrom):
                module = node.module or ""
                names = [f"{module}.{alias.name}" for alias in node.names] if module == "stockplan.domain" else [module]
            assert {name for name in names if name.startswith("stockplan")} <= allowed | own, path.name
