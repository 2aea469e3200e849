"""Faults that break a rule in more than one way at once: each way is named, not just the first."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from breaking import put
from builders import JOB, Case, build, new_order, read_cuts, small_request

from stockplan.domain.check import check
from stockplan.domain.jobs import Strip
from stockplan.domain.plan import Drop, Lane, Piece, Plan, ProductPlan, Shortfall, SourceCuts

REQUEST = small_request()


def whole() -> Case:
    """Job J1 off R-1."""
    return build(REQUEST, {"R-1": read_cuts(REQUEST, "3000: J1.A1", "2000: J1.B1 | J1.B2")})


def planned(case: Case) -> ProductPlan:
    return case.plan.products[0]


def change(part: str, **values: object) -> Callable[[Case], Plan]:
    """Change one thing of the plan for J1: its source, second drop, last lane, or last piece."""

    def changed(case: Case) -> Plan:
        cuts: SourceCuts = planned(case).cuts[0]
        drop: Drop = cuts.drops[1]
        lane: Lane = drop.lanes[1]
        piece: Piece = lane.pieces[0]
        tail = planned(case).leftovers[-1]
        things = {"cuts": cuts, "drop": drop, "lane": lane, "piece": piece, "tail": tail, "plan": planned(case)}
        return put(case.plan, things[part], replace(things[part], **values))

    return changed


CASES: list[tuple[Callable[[Case], Plan], str]] = [
    (change("cuts", drops=()), "R-1: is cut but gives no piece; would not be listed"),
    (change("piece", width_mm=0), "has no size"),
    (change("drop", length_mm=8000), "drops are 11000 mm long together; the source is 10000"),
    (change("tail", length_mm=4000), "is listed, but the cuts leave no such thing"),
    (
        change("tail", length_mm=4000),
        "the cuts leave a leftover 4.00 × 5.00 at 0 across, 5000 along that is not listed",
    ),
    (change("lane", across_mm=1400), "lane begins at 1400 across; the one before ends at 1500"),
    (change("lane", width_mm=2600), "2 lanes, 4100 mm wide together, from 4.00 × 2.00"),
    (change("drop", lanes=()), "0 lanes, 0 mm wide together, from 4.00 × 2.00"),
    (change("piece", along_mm=3100), "lies at 1500 across, 3100 along; its lane puts it at 1500, 3000"),
    (change("lane", width_mm=1400), "is 1500 mm wide in a lane of 1400"),
    (change("lane", pieces=()), "lane of 1500 mm has 0 pieces, 0 mm together, from a drop of 2000"),
    (change("drop", length_mm=1900), "lane of 1500 mm has 1 pieces, 2000 mm together, from a drop of 1900"),
    (change("piece", job="J9"), "no such job was asked for"),
    (change("piece", strip="Z"), "the job has no such strip"),
    (change("piece", number=3), "copies are numbered 1 to 2"),
    (change("plan", short=(Shortfall("J9", "A", 1, "?"),)), "reported short, but no such job and strip was asked for"),
    (change("plan", short=(Shortfall("J1", "A", 0, "?"),)), "0 copies short; would be at least 1"),
    (lambda case: replace(case.plan, products=()), "G30: has jobs and 0 plans; would have one"),
    (lambda case: replace(case.plan, products=case.plan.products * 2), "G30: has jobs and 2 plans; would have one"),
    (change("cuts", source="R-9"), "R-9: is neither in stock nor ordered"),
    (change("tail", source="R-9"), "R-9: is neither in stock nor ordered"),
    (change("plan", orders=(replace(new_order(), product="H40"),)), "new-1: is H40, listed in the plan for G30"),
    (change("plan", product="H40"), "R-1: is G30, listed in the plan for H40"),
    (change("plan", product="H40"), "R-1: is G30, cut in the plan for H40"),
]


@pytest.mark.parametrize(("breaking", "text"), CASES, ids=[text for _, text in CASES])
def test_what_is_wrong_is_said(breaking: Callable[[Case], Plan], text: str) -> None:
    case = whole()
    assert check(case.request, case.plan) == ()
    found = [str(violation) for violation in check(case.request, breaking(case))]
    assert any(text in line for line in found), found


def test_a_drop_without_length_is_named() -> None:
    case = whole()
    violations = check(case.request, change("drop", length_mm=0)(case))
    assert any("from 4.00 × 0.00" in violation.message for violation in violations)


def test_products_out_of_order_are_named() -> None:
    request = small_request(JOB, replace(JOB, code="J2", product="H40", strips=(Strip("A", 1000, 1000),)))
    short = [Shortfall("J2", "A", 1, "none in the yard")]
    case = build(request, {"R-1": read_cuts(request, "3000: J1.A1", "2000: J1.B1 | J1.B2")}, short=short)
    assert check(request, case.plan) == ()
    backwards = replace(case.plan, products=case.plan.products[::-1])
    assert [str(violation) for violation in check(request, backwards)] == [
        "coverage: H40, G30: products are not in order of code"
    ]


#   +-------+---+
#   |   A   |   |      five strips of one job laid on R-1 as a pinwheel; the plan's tree puts each in a lane of its own
#   +---+---+ B |
#   |   | E |   |
#   | D +---+---+
#   |   |   C   |
#   +---+-------+
def test_a_pinwheel_in_a_plan_is_refused_from_its_places_alone() -> None:
    spots = {"A": (0, 0, 2, 1), "B": (2, 0, 2, 2), "C": (1, 2, 3, 2), "D": (0, 1, 1, 3), "E": (1, 1, 1, 1)}
    strips = tuple(Strip(label, w * 1000, h * 1000) for label, (_, _, w, h) in spots.items())
    request = small_request(replace(JOB, strips=strips))
    lanes = tuple(
        Lane(x * 1000, w * 1000, (Piece("J1", k, 1, "R-1", "B7", x * 1000, y * 1000, w * 1000, h * 1000),))
        for k, (x, y, w, h) in spots.items()
    )
    case = build(request, {"R-1": read_cuts(request, "4000: J1.A1")})
    drop = planned(case).cuts[0].drops[0]
    plan = put(case.plan, drop, replace(drop, lanes=lanes))
    found = [str(violation) for violation in check(request, plan)]
    assert any("R-1: cannot be separated by crosscut, rip, crosscut and trim" in line for line in found), found
