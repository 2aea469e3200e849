"""Planned cuts laid out again on what is really there."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from builders import OTHER_ROLL, ROLL, Case, build, read_cuts, small_request
from random_cases import random_case

from stockplan.domain.check import check
from stockplan.domain.check_facts import rectangle
from stockplan.domain.plan import SourceCuts
from stockplan.domain.refit import Refit, refit
from stockplan.domain.stock import StockItem

REQUEST = small_request()


#   0      1.5      3.0  4.0
#   +--------+--------+---+ 0
#   |        J1 A1        |
#   +--------+--------+---+ 3
#   | J1 B1  | J1 B2  | / |
#   +--------+--------+---+ 5
#   |        tail         |
#   +---------------------+ 10
def whole() -> Case:
    return build(REQUEST, {"R-1": read_cuts(REQUEST, "3000: J1.A1", "2000: J1.B1 | J1.B2")})


def cuts_of(case: Case) -> SourceCuts:
    return case.plan.products[0].cuts[0]


def on(item: StockItem) -> Refit:
    return refit(cuts_of(whole()), item, 4000)


def names(found: Refit) -> list[str]:
    return [f"{piece.job}.{piece.strip}{piece.number}" for piece in found.lost]


def test_on_the_very_thing_planned_nothing_changes() -> None:
    case = whole()
    found = on(ROLL)
    assert found.cuts == cuts_of(case)
    planned = sorted(case.plan.leftovers(), key=lambda left: (left.along_mm, left.across_mm))
    assert [replace(left, reason="") for left in found.leftovers] == [replace(left, reason="") for left in planned]
    assert found.lost == ()


def test_a_roll_that_came_longer_has_a_longer_tail() -> None:
    found = on(replace(ROLL, tag="R-9", batch="B9", length_mm=10_240))
    assert {piece.source for piece in found.cuts.pieces()} == {"R-9"}
    assert {piece.batch for piece in found.cuts.pieces()} == {found.cuts.batch} == {"B9"}
    assert found.leftovers[-1].length_mm == 5240
    assert found.lost == ()


@pytest.mark.parametrize(
    ("length", "lost"),
    [
        (5000, []),
        (4999, ["J1.B1", "J1.B2"]),
        (3000, ["J1.B1", "J1.B2"]),
        (2500, ["J1.A1"]),
        (1999, ["J1.A1", "J1.B1", "J1.B2"]),
    ],
)
def test_a_short_roll_loses_what_no_longer_fits_and_nothing_else(length: int, lost: list[str]) -> None:
    assert names(on(replace(ROLL, length_mm=length))) == lost


@pytest.mark.parametrize(("width", "lost"), [(3999, ["J1.A1"]), (3000, ["J1.A1"]), (2999, ["J1.A1", "J1.B2"])])
def test_a_narrow_roll_loses_what_no_longer_fits_and_the_rest_moves_up(width: int, lost: list[str]) -> None:
    found = on(replace(ROLL, width_mm=width))
    assert names(found) == lost
    assert found.cuts.drops[0].along_mm == 0
    assert found.cuts.drops[0].length_mm == 2000


#   0         2.5      4.0        0         2.4      3.9
#   +----------+--------+ 0       +----------+--------+ 0
#   | J1 B1  / | J1 B2  |         | J1 B1  / | J1 B2  |
#   | . . . . . . . . . | 2       | . . . . . . . . . | 2
#   +----------+--------+ 2.3     +----------+--------+ 2.2
#   |       J1 A1       |         |       J1 A1       |
def test_a_drop_or_lane_that_is_larger_than_its_pieces_gives_way_to_those_after_it() -> None:
    (drop,) = cuts_of(build(REQUEST, {"R-1": read_cuts(REQUEST, "2000: J1.B1 | J1.B2")})).drops
    first, second = drop.lanes
    (piece,) = second.pieces
    moved = replace(second, across_mm=2500, pieces=(replace(piece, across_mm=2500),))
    roomy = replace(drop, length_mm=2300, lanes=(replace(first, width_mm=2500), moved))
    tall = replace(cuts_of(whole()).drops[0], along_mm=2300)
    planned = replace(cuts_of(whole()), drops=(roomy, tall))
    narrow = refit(planned, replace(ROLL, width_mm=3900, length_mm=5200), 4000)
    assert names(narrow) == ["J1.A1"]
    assert [(lane.across_mm, lane.width_mm) for lane in narrow.cuts.drops[0].lanes] == [(0, 2400), (2400, 1500)]
    short = refit(planned, replace(ROLL, length_mm=5200), 4000)
    assert names(short) == []
    assert [(made.along_mm, made.length_mm) for made in short.cuts.drops] == [(0, 2200), (2200, 3000)]
    assert [lane.width_mm for lane in short.cuts.drops[0].lanes] == [2500, 1500]


def test_pieces_left_out_are_not_lost_and_make_room() -> None:
    first = next(iter(cuts_of(whole()).pieces()))
    found = refit(cuts_of(whole()), replace(ROLL, length_mm=2000), 4000, frozenset({first}))
    assert names(found) == []
    assert [piece.strip for piece in found.cuts.pieces()] == ["B", "B"]


def test_nothing_fits_on_a_scrap() -> None:
    found = on(replace(OTHER_ROLL, width_mm=300, length_mm=300))
    assert found.cuts.drops == ()
    assert len(found.lost) == 3
    assert [(left.width_mm, left.length_mm) for left in found.leftovers] == [(300, 300)]


@pytest.mark.parametrize("seed", range(40))
def test_laid_out_on_anything_a_random_plan_stays_sound(seed: int) -> None:
    """Same size: the same plan. Another size: pieces lost or placed, and pieces with leftovers tile the thing."""
    generator = random.Random(seed)
    case = random_case(generator.randint)
    items = {item.tag: item for item in case.request.stock}
    for planned in case.plan.cuts():
        item = items.get(planned.source)
        if item is None:
            continue
        widest = case.request.widest_mm(item.product)
        same = refit(planned, item, widest)
        assert same.cuts == planned
        assert {rectangle(left) for left in same.leftovers} == {
            rectangle(left) for left in case.plan.leftovers() if left.source == item.tag
        }
        other = replace(
            item,
            width_mm=max(1, item.width_mm - generator.randint(-200, 2000)),
            length_mm=max(1, item.length_mm - generator.randint(-200, 6000)),
        )
        found = refit(planned, other, widest)
        kept = [(piece.job, piece.strip, piece.number) for piece in found.cuts.pieces()]
        gone = [(piece.job, piece.strip, piece.number) for piece in found.lost]
        assert sorted(kept + gone) == sorted((piece.job, piece.strip, piece.number) for piece in planned.pieces())
        parts = [rectangle(part) for part in (*found.cuts.pieces(), *found.leftovers)]
        assert sum(part.area_mm2 for part in parts) == other.area_mm2
        assert all(part.right_mm <= other.width_mm and part.end_mm <= other.length_mm for part in parts)
        assert not any(one.overlaps(two) for at, one in enumerate(parts) for two in parts[at + 1 :])


def test_the_checker_agrees_with_cuts_and_worth_laid_out_on_a_longer_roll() -> None:
    longer = replace(ROLL, length_mm=10_240)
    case = build(small_request(stock=(longer,)), {"R-1": read_cuts(REQUEST, "3000: J1.A1", "2000: J1.B1 | J1.B2")})
    found = on(longer)
    planned = case.plan.products[0]
    again = replace(planned, cuts=(found.cuts,), leftovers=found.leftovers)
    assert check(case.request, replace(case.plan, products=(again,))) == ()
