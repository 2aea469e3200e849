"""What has changed since a plan was made, in what it touches, and what is none of its business."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from builders import JOB, MONDAY, OTHER_ROLL, ROLL, SUPPLY, TODAY, Case, build, new_order, read_cuts, small_request
from standing_yard import (
    ALL_OF_J1,
    SECOND,
    THIRD,
    THREE,
    bought_plan,
    coming,
    cut_piece,
    first_plan,
    lines,
    schedule,
    standing,
)

from stockplan.domain.acceptance import Now, Verdict, judge
from stockplan.domain.jobs import BatchRule, Job, Strip
from stockplan.domain.lawn import Lawn, Point
from stockplan.domain.ledger import PieceCut
from stockplan.domain.plan import Plan, Shortfall
from stockplan.domain.request import PlanRequest
from stockplan.domain.standing import Schedule
from stockplan.domain.stock import StockItem

YARD = {item.tag: item for item in (ROLL, OTHER_ROLL)}


def now(found: Schedule | None = None, today: date = TODAY, **rest: object) -> Now:
    given = {"stock": YARD, "supply": SUPPLY, **rest}
    return Now(today, found or schedule(), **given)  # type: ignore[arg-type]


def read_back(plan: Plan, request: PlanRequest = THREE) -> PlanRequest:
    """As it comes back from the plan's file: only the stock that is cut."""
    cut = {cuts.source for cuts in plan.cuts()}
    return replace(request, stock=tuple(item for item in request.stock if item.tag in cut), supply=())


def told(verdict: Verdict) -> list[str]:
    return [str(change) for change in verdict.changes]


def judged(today_is: Now, plan: Plan | None = None, number: int = 1) -> list[str]:
    plan = plan or first_plan()
    return told(judge(number, read_back(plan), plan, today_is))


def test_nothing_has_changed() -> None:
    verdict = judge(1, read_back(first_plan()), first_plan(), now())
    assert verdict == Verdict((), ())
    assert judged(now(), bought_plan()) == []


def test_what_the_plan_does_not_touch_may_change() -> None:
    plan = build(
        THREE, {"R-1": read_cuts(THREE, *ALL_OF_J1, "2500: J2.A1")}, short=[Shortfall("J3", "A", 2, "none")]
    ).plan
    elsewhere = {"R-1": replace(ROLL, bay="south", cost_pence_per_m2=1200)}
    moved = schedule(replace(JOB, lay_on=MONDAY + timedelta(days=3), site="Larch Row 2"), SECOND)
    assert judged(now(moved, stock=elsewhere, reserved={"R-2": 7}, held={"R-2": "for Q7"}), plan) == []


@pytest.mark.parametrize(
    ("stock", "rest", "said"),
    [
        ({"R-2": OTHER_ROLL}, {}, "R-1 is no longer in the yard"),
        ({"R-2": OTHER_ROLL}, {"gone": {"R-1": "was written off"}}, "R-1 was written off"),
        ({"R-1": replace(ROLL, length_mm=9850)}, {}, "R-1 measures 4.00 × 9.85 m; was planned as 4.00 × 10.00 m"),
        ({"R-1": replace(ROLL, width_mm=4010)}, {}, "R-1 measures 4.01 × 10.00 m; was planned as 4.00 × 10.00 m"),
        ({}, {"reserved": {"R-1": 7}}, "R-1 is reserved for plan 7"),
        ({}, {"held": {"R-1": "for Q7 until 2026-12-01"}}, "R-1 is held for Q7 until 2026-12-01"),
    ],
)
def test_a_source_that_is_not_as_it_was(stock: dict[str, StockItem], rest: dict[str, object], said: str) -> None:
    lying = stock if "R-2" in stock and "R-1" not in stock else YARD | stock
    assert judged(now(stock=lying, **rest)) == [said]


def test_what_is_reserved_for_the_plan_itself_is_no_obstacle() -> None:
    assert judged(now(reserved={"R-1": 4}), number=4) == []
    assert judged(now(reserved={"R-1": 4}), number=5) == ["R-1 is reserved for plan 4"]


@pytest.mark.parametrize(
    ("job", "said"),
    [
        (None, "J1 is no longer in the schedule"),
        (replace(JOB, product="S20"), "J1 is now laid in S20; was planned in G30"),
        (replace(JOB, batch_rule=BatchRule.ANY), "J1 now takes any batch; was planned with one"),
        (
            replace(JOB, strips=(Strip("A", 4000, 3100), JOB.strips[1])),
            "J1 now needs 1 × 4.00 × 3.10 m of strip A; was planned with 1 × 4.00 × 3.00 m",
        ),
        (replace(JOB, strips=JOB.strips[:1]), "J1 now needs none of strip B; was planned with 2 × 1.50 × 2.00 m"),
    ],
)
def test_a_job_that_is_not_as_it_was(job: Job | None, said: str) -> None:
    jobs = [one for one in (job, SECOND, THIRD) if one is not None]
    assert judged(now(schedule(*jobs))) == [said]


def test_a_job_moved_to_before_its_order_comes() -> None:
    sooner = schedule(replace(JOB, lay_on=MONDAY - timedelta(days=1)), SECOND, THIRD)
    assert judged(now(sooner), bought_plan()) == ["J1 is now laid on 2026-11-29; new-1 does not come before 2026-11-29"]
    assert judged(now(sooner)) == []


@pytest.mark.parametrize(
    ("rest", "said"),
    [
        ({"today": date(2026, 11, 24)}, "had to be ordered by 2026-11-23; today is 2026-11-24"),
        ({"supply": SUPPLY[1:]}, "is no longer on offer in 6 days"),
        ({"supply": (replace(SUPPLY[0], lead_days=7),)}, "is no longer on offer in 6 days"),
        ({"supply": (replace(SUPPLY[0], price_pence=115_000),)}, "now costs 1,150.00; was planned at 1,100.00"),
    ],
)
def test_an_order_that_cannot_be_placed_as_planned(rest: dict[str, object], said: str) -> None:
    assert judged(now(**rest), bought_plan()) == [f"new-1 (4.00 × 25.00 m of G30 from Fernlea Mills) {said}"]  # type: ignore[arg-type]


def test_a_cut_length_longer_than_is_sold_by_now() -> None:
    request = small_request(SECOND)
    order = new_order(length_mm=2500)
    plan = build(request, {"new-1": read_cuts(request, "2500: J2.A1")}, orders=[order]).plan
    for longest, right in (2500, True), (2400, False):
        offers = now(schedule(SECOND), supply=(replace(SUPPLY[1], length_mm=longest),))
        said = "new-1 (4.00 × 2.50 m of G30 from Fernlea Mills) is no longer on offer in 3 days"
        assert told(judge(1, read_back(plan, request), plan, offers)) == ([] if right else [said])


# --- earlier plans --------------------------------------------------------------------------------------------------


def test_a_plan_for_the_same_jobs_takes_the_place_of_the_earlier_one() -> None:
    earlier = standing(first_plan(), 3)
    verdict = judge(
        4, read_back(first_plan()), first_plan(), now(schedule(standing=earlier), reserved={"R-1": 3, "R-2": 3})
    )
    assert verdict == Verdict((), earlier)


def test_what_was_promised_to_another_plan_since_is_not_taken_over() -> None:
    earlier = standing(first_plan(), 3)
    promised = now(schedule(standing=earlier), reserved={"R-1": 3, "R-2": 3}, later=frozenset({3}))
    assert judged(promised, number=4) == [
        "R-1 has been promised to plan 3 since, for J1, J2",
        "R-2 has been promised to plan 3 since, for J3",
    ]
    bought = judge(4, read_back(bought_plan()), bought_plan(), promised)
    assert "R-1 has been promised to plan 3 since, for J1, J2" in told(bought)


def test_what_was_to_be_cut_in_sizes_no_longer_wanted_is_given_back() -> None:
    longer = replace(SECOND, strips=(Strip("A", 4000, 2600),))
    before = small_request(SECOND)
    earlier = standing(build(before, {"R-1": read_cuts(before, "2500: J2.A1")}).plan, 3)
    request = small_request(longer)
    plan = build(request, {"R-2": read_cuts(request, "2600: J2.A1")}).plan
    verdict = judge(4, read_back(plan, request), plan, now(schedule(longer, standing=earlier), reserved={"R-1": 3}))
    assert verdict == Verdict((), earlier)


def test_what_serves_only_jobs_out_of_the_schedule_is_given_back_with_any_plan() -> None:
    earlier = standing(first_plan(), 3)
    request = small_request(replace(THIRD, code="J9"))
    plan = build(request, {"R-1": read_cuts(request, "2000: J9.A1", "2000: J9.A2")}).plan
    nobody = now(schedule(replace(THIRD, code="J9"), standing=earlier), reserved={"R-1": 3, "R-2": 3})
    assert judge(4, read_back(plan, request), plan, nobody) == Verdict((), earlier)


@pytest.mark.parametrize(
    ("wanted", "cut", "back"),
    [
        (SECOND, (cut_piece(1, 4000, 2500),), True),
        (replace(SECOND, product="G40"), (), True),
        (replace(SECOND, strips=(Strip("A", 4000, 2600),)), (), True),
        (SECOND, (), False),
        (replace(SECOND, strips=(Strip("A", 4000, 2500, 2),)), (cut_piece(1, 4000, 2500),), False),
    ],
    ids=["one too many", "other grass", "other size", "as planned", "one more"],
)
def test_what_is_to_be_cut_for_nothing_that_is_wanted_is_given_back_with_any_plan(
    wanted: Job, cut: tuple[PieceCut, ...], back: bool
) -> None:
    before = small_request(SECOND)
    earlier = standing(build(before, {"R-1": read_cuts(before, "2500: J2.A1")}).plan, 3)
    request = small_request(THIRD)
    plan = build(request, {"R-2": read_cuts(request, "2000: J3.A1", "2000: J3.A2")}).plan
    known = schedule(wanted, THIRD, standing=earlier, pieces={("J2", "A"): cut} if cut else {})
    verdict = judge(4, read_back(plan, request), plan, now(known, reserved={"R-1": 3}))
    assert verdict == Verdict((), earlier if back else ())


LAWN = Lawn("back", (Point(0, 0), Point(4000, 0), Point(4000, 2500), Point(0, 2500)))


def test_a_lawn_may_be_laid_out_otherwise_than_before_but_not_once_it_is_begun_or_measured_again() -> None:
    measured = replace(SECOND, strips=(), lawns=(LAWN,))
    laid, otherwise = (
        replace(measured, strips=(Strip("A", 4000, length), *more))
        for length, more in ((2500, ()), (1250, (Strip("B", 4000, 1300),)))
    )
    before = small_request(laid)
    earlier = standing(build(before, {"R-1": read_cuts(before, "2500: J2.A1")}).plan, 3)
    request = small_request(otherwise)
    plan = build(request, {"R-2": read_cuts(request, "1250: J2.A1", "1300: J2.B1")}).plan
    promised = schedule(measured, standing=earlier, chosen={"J2": laid.strips})
    assert judge(4, read_back(plan, request), plan, now(promised, reserved={"R-1": 3})) == Verdict((), earlier)
    again = replace(promised, jobs={"J2": replace(measured, lawns=(replace(LAWN, label="front"),))})
    assert "J2 has been measured again" in told(judge(4, read_back(plan, request), plan, now(again)))
    begun = replace(promised, standing=(), pieces={("J2", "A"): [cut_piece(1, 4000, 2500)]})
    assert "J2 has been begun by another layout" in told(judge(4, read_back(plan, request), plan, now(begun)))


def case_for_j2_alone() -> Case:
    request = small_request(SECOND)
    return build(request, {"R-2": read_cuts(request, "2500: J2.A1")})


def test_a_plan_that_would_take_a_source_from_a_job_it_does_not_cover() -> None:
    case = case_for_j2_alone()
    verdict = judge(4, case.request, case.plan, now(schedule(standing=standing(first_plan(), 3)), reserved={"R-2": 3}))
    assert told(verdict) == [
        "J1 would lose R-1, which plan 3 cuts for it, and is not planned here",
        "J3 would lose R-2, which plan 3 cuts for it, and is not planned here",
    ]
    assert verdict.losing == ("J1", "J3")


def test_a_job_that_is_planned_anew_only_in_part_is_told_so() -> None:
    both = standing(first_plan(), 3)
    request = small_request(replace(JOB, strips=(Strip("A", 4000, 3100),)))
    plan = build(request, {"R-2": read_cuts(request, "3100: J1.A1")}).plan
    wanted = replace(JOB, strips=(Strip("A", 4000, 3100), *JOB.strips[1:]))
    promised = schedule(wanted, standing=both)
    said = told(judge(4, read_back(plan, request), plan, now(promised, reserved={"R-1": 3, "R-2": 3})))
    assert "J1 would lose R-1, which plan 3 cuts for it, and is planned here only in part" in said


def test_a_plan_for_what_is_missing_displaces_nothing() -> None:
    short = standing(first_plan(), 3, [replace(ROLL, length_mm=7400), OTHER_ROLL])
    still = (short[0],)
    request = small_request(SECOND)
    case = build(request, {"R-2": read_cuts(request, "2500: J2.A1")})
    verdict = judge(4, read_back(case.plan, request), case.plan, now(schedule(JOB, SECOND, standing=still)))
    assert verdict == Verdict((), ())


def test_what_can_give_nothing_any_more_is_given_back_once_its_jobs_lack_nothing() -> None:
    spent = standing(first_plan(), 3, [ROLL, replace(OTHER_ROLL, length_mm=1900)])[1]
    request = small_request(THIRD)
    both = build(request, {"R-1": read_cuts(request, "2000: J3.A1", "2000: J3.A2")}).plan
    today_is = now(schedule(THIRD, standing=(spent,)))
    assert judge(4, read_back(both, request), both, today_is) == Verdict((), (spent,))
    one = build(request, {"R-1": read_cuts(request, "2000: J3.A1")}, short=[Shortfall("J3", "A", 1, "no room")]).plan
    assert judge(4, read_back(one, request), one, today_is) == Verdict((), ())
    accepted_since = replace(today_is, later=frozenset({3}))
    assert judge(4, read_back(both, request), both, accepted_since) == Verdict((), ())


def test_pieces_cut_since_are_not_cut_again() -> None:
    cut = schedule(pieces={("J1", "B"): [cut_piece()]})
    assert judged(now(cut)) == ["J1 has 1 of 2 of strip B cut or planned; 2 more are too many"]


def test_a_job_left_short_may_lose_only_what_did_not_cover_it() -> None:
    longer = replace(JOB, strips=(Strip("A", 4000, 9500), JOB.strips[1]))
    request = small_request(longer, SECOND, THIRD)
    short = [Shortfall("J1", "A", 1, "none so long"), Shortfall("J1", "B", 2, "the job waits")]
    cuts = {"R-1": read_cuts(request, "2500: J2.A1"), "R-2": read_cuts(request, "2000: J3.A1", "2000: J3.A2")}
    plan = build(request, cuts, short=short).plan
    earlier = standing(first_plan(), 3)
    assert judge(4, request, plan, now(schedule(longer, SECOND, THIRD, standing=earlier))) == Verdict((), earlier)
    still_covered = build(THREE, cuts, short=short).plan
    verdict = judge(4, THREE, still_covered, now(schedule(standing=earlier)))
    assert told(verdict) == ["J1 would lose R-1, which plan 3 cuts for it, and is left short here"]


# --- what is on its way ---------------------------------------------------------------------------------------------


def over_what_is_coming() -> tuple[PlanRequest, Plan]:
    line = lines(bought_plan(), 3)[0]
    request = small_request(JOB, SECOND, THIRD, stock=(line.as_stock(),))
    cuts = read_cuts(request, "2000: J3.A1", "2000: J3.A2", *ALL_OF_J1, "2500: J2.A1")
    return request, build(request, {line.key: cuts}).plan


def test_what_is_on_its_way_for_the_plan_that_gives_way_is_taken_over() -> None:
    request, plan = over_what_is_coming()
    earlier = coming(bought_plan(), 3)
    given = now(schedule(standing=earlier), lines={line.key: line for line in lines(bought_plan(), 3)})
    assert judge(4, request, plan, given) == Verdict((), earlier)


def test_a_plan_is_not_accepted_when_what_it_waits_for_is_overdue_on_the_day_a_job_is_laid() -> None:
    request, plan = over_what_is_coming()
    spare = {"P3-1": replace(lines(bought_plan(), 3)[0], plan=None)}
    assert told(judge(4, request, plan, now(lines=spare, today=MONDAY - timedelta(days=1)))) == []
    assert told(judge(4, request, plan, now(lines=spare, today=MONDAY))) == [
        "J1 is laid on 2026-11-30; P3-1 does not come before 2026-11-30"
    ]


def test_what_is_on_its_way_for_someone_else_or_later_or_no_longer() -> None:
    request, plan = over_what_is_coming()
    line = lines(bought_plan(), 3)[0]
    others = replace(line, arrives_on=MONDAY)
    assert told(judge(4, request, plan, now(lines={line.key: others}))) == [
        "P3-1 is due on 2026-11-30; was planned for 2026-11-29",
        "P3-1 is ordered for plan 3",
    ]
    spare = replace(line, plan=None)
    assert judge(4, request, plan, now(lines={line.key: spare})) == Verdict((), ())
    assert told(judge(4, request, plan, now())) == ["P3-1 is no longer on its way: it has come in or was given up"]
