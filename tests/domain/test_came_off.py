"""What really came off a roll, against what was planned."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from builders import ROLL, read_cuts, small_request
from builders import build as build_case
from hypothesis import given
from hypothesis import strategies as st
from random_cases import random_case
from standing_yard import ALL_OF_J1, standing

from stockplan.domain.came_off import CameOff, outcome, tail_number
from stockplan.domain.refit import refit
from stockplan.domain.standing import Standing
from stockplan.domain.stock import StockForm

REQUEST = small_request()


#   | J1 A1 | B1 B2 (1: 1 × 2 m beside them) | 2: tail of 5 m |   a roll of 4 × 10 m
def whole() -> Standing:
    return standing(build_case(REQUEST, {"R-1": read_cuts(REQUEST, *ALL_OF_J1)}).plan, 1)[0]


def kept(off: CameOff) -> list[tuple[StockForm, int, int]]:
    found = outcome(whole(), off)
    assert found.faults == ()
    return [(thing.form, thing.width_mm, thing.length_mm) for thing in found.kept]


def faults(off: CameOff) -> list[str]:
    return list(outcome(whole(), off).faults)


TAIL, BESIDE = (StockForm.PART_ROLL, 4000, 5000), (StockForm.OFFCUT, 1000, 2000)


def test_as_planned() -> None:
    found = outcome(whole(), CameOff())
    assert kept(CameOff()) == [BESIDE, TAIL]
    assert found.binned_mm2 == 0
    assert [(piece.job, piece.strip, piece.number, piece.spoiled) for piece in found.pieces] == [
        ("J1", "A", 1, False),
        ("J1", "B", 1, False),
        ("J1", "B", 2, False),
    ]
    assert tail_number(whole()) == 2


def test_a_roll_that_can_give_nothing_of_what_was_planned_is_not_cut() -> None:
    one = whole()
    small = replace(one.item, width_mm=900)
    fitted = refit(one.cuts, small, 4000)
    narrow = Standing(one.plan, one.plan_key, small, fitted.cuts, fitted.leftovers, fitted.lost)
    found = outcome(narrow, CameOff())
    assert found.pieces == ()
    assert found.faults == (
        "R-1 measures 0.90 × 10.00 m and can give nothing of what was planned; plan these days again",
    )


def test_a_spoiled_piece_is_binned_but_for_what_is_kept_of_it() -> None:
    found = outcome(whole(), CameOff(spoiled=frozenset({("J1", "A", 1)})))
    assert [piece.spoiled for piece in found.pieces] == [True, False, False]
    assert found.binned_mm2 == 4000 * 3000
    saved = outcome(whole(), CameOff(spoiled=frozenset({("J1", "A", 1)}), more=((4000, 1200),)))
    assert saved.binned_mm2 == 4000 * 1800
    assert saved.faults == ()


def test_leftovers_are_corrected_or_binned() -> None:
    assert kept(CameOff(sizes={1: (900, 1950)})) == [(StockForm.OFFCUT, 900, 1950), TAIL]
    assert kept(CameOff(binned=frozenset({1}))) == [TAIL]
    assert outcome(whole(), CameOff(binned=frozenset({1}))).binned_mm2 == 1000 * 2000
    assert kept(CameOff(tail_mm=4850)) == [BESIDE, (StockForm.PART_ROLL, 4000, 4850)]
    assert outcome(whole(), CameOff(tail_mm=4850)).binned_mm2 == 4000 * 150
    assert kept(CameOff(tail_mm=0)) == [BESIDE]


def test_a_leftover_that_was_to_be_binned_is_kept_when_it_is_given_a_size() -> None:
    narrow = small_request(replace(REQUEST.jobs[0], strips=(replace(REQUEST.jobs[0].strips[0], width_mm=3700),)))
    one = standing(build_case(narrow, {"R-1": read_cuts(narrow, "3000: J1.A1")}).plan, 1)[0]
    assert [left.keep for left in one.leftovers] == [False, True]
    assert [thing.width_mm for thing in outcome(one, CameOff()).kept] == [4000]
    assert [thing.width_mm for thing in outcome(one, CameOff(sizes={1: (300, 3000)})).kept] == [300, 4000]


@pytest.mark.parametrize(
    ("off", "said"),
    [
        (
            CameOff(spoiled=frozenset({("J1", "B", 3)})),
            "no piece J1/B/3 is cut from R-1; what is cut: J1/A/1, J1/B/1, J1/B/2",
        ),
        (CameOff(binned=frozenset({3})), "there is no leftover 3; the sheet of R-1 has leftovers 1 to 2"),
        (
            CameOff(sizes={1: (900, 900)}, binned=frozenset({1})),
            "leftover 1 is given a size and binned as well; it can be only one",
        ),
        (CameOff(sizes={2: (4000, 4000)}, tail_mm=4500), "the tail is leftover 2; it is stated twice"),
        (
            CameOff(sizes={1: (4100, 900)}),
            "4.10 × 0.90 m cannot come off R-1, which is only 4.00 × 10.00 m; across comes first, then along the pile",
        ),
        (CameOff(more=((4100, 4900),)), "4.10 × 4.90 m cannot come off R-1, which is only 4.00 × 10.00 m"),
        (CameOff(more=((0, 900),)), "0.00 × 0.90 m is no size; give across × along the pile"),
        (
            CameOff(sizes={1: (1950, 1050)}),
            "leftover 1: the plan leaves 1.00 × 2.00 m over, not 1.95 × 1.05 m: are across and along exchanged? give "
            "it the other way round, or add --as-typed",
        ),
        (
            CameOff(tail_mm=5200),
            "pieces and what is kept come to 40.8 m², 0.800 m² more than R-1 holds; measure it first if it was larger "
            "than recorded: stockplan measure R-1 ACROSSxALONG",  # so much more is a slip, rather
        ),
        (
            CameOff(tail_mm=5100),
            "pieces and what is kept come to 40.4 m², 0.400 m² more than R-1 holds; measure it first if it was larger "
            "than recorded: stockplan measure R-1 4.00x10.10",
        ),
        (
            CameOff(more=((500, 800),)),
            "pieces and what is kept come to 40.4 m², 0.400 m² more than R-1 holds; measure it first if it was larger "
            "than recorded: stockplan measure R-1 ACROSSxALONG",
        ),
    ],
)
def test_what_cannot_have_been_is_told(off: CameOff, said: str) -> None:
    assert faults(off) == [said]


def test_a_leftover_that_is_meant_as_typed_is_taken_so() -> None:
    assert kept(CameOff(sizes={1: (1950, 1020)}, as_typed=True)) == [(StockForm.OFFCUT, 1950, 1020), TAIL]


def test_an_offcut_has_no_tail() -> None:
    loose = replace(ROLL, form=StockForm.OFFCUT)
    one = whole()
    fitted = refit(one.cuts, loose, 4000)
    one = replace(one, item=loose, cuts=fitted.cuts, leftovers=fitted.leftovers)
    assert outcome(one, CameOff(tail_mm=2000)).faults == (
        "by the plan nothing stays on the core of R-1; name what is kept as a leftover instead",
    )


@given(st.integers(0, 10_000), st.data())
def test_area_closes_whatever_came_off(seed: int, data: st.DataObject) -> None:
    case = random_case(random.Random(seed).randint)
    items = {item.tag: item for item in case.request.stock}
    for cuts in case.plan.cuts():
        if cuts.source not in items:
            continue
        item = items[cuts.source]
        fitted = refit(cuts, item, case.request.widest_mm(item.product))
        one = Standing(1, item.tag, item, fitted.cuts, fitted.leftovers)
        names = [(piece.job, piece.strip, piece.number) for piece in fitted.cuts.pieces()]
        spoiled = frozenset(data.draw(st.sets(st.sampled_from(names))))
        binned = frozenset(data.draw(st.sets(st.integers(1, len(one.leftovers))))) if one.leftovers else frozenset()
        found = outcome(one, CameOff(spoiled=spoiled, binned=binned))
        sound = sum(piece.area_mm2 for piece in found.pieces if not piece.spoiled)
        assert found.faults == ()
        assert found.binned_mm2 >= 0
        assert sound + sum(thing.area_mm2 for thing in found.kept) + found.binned_mm2 == item.area_mm2
