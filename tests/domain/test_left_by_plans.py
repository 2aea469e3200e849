"""What accepted plans leave over is told to the jobs, and for the orders, that it is large enough for."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from builders import JOB, MONDAY, OTHER_ROLL, ROLL, build, new_order, read_cuts, small_request
from standing_yard import SECOND, THIRD, bought_plan, coming, first_plan, standing

from stockplan.domain.jobs import BatchRule, Job, Strip
from stockplan.domain.left_by_plans import LeftByPlans
from stockplan.domain.plan import Plan

NEW = Job("J9", "Elm Rise", "G30", MONDAY, "house", BatchRule.ONE, (Strip("A", 4000, 1500, 2),))
JOBS = {job.code: job for job in (JOB, SECOND, THIRD, NEW)}
KEPT = standing(first_plan(), 1)  # leaves 2.5 m of R-1, of batch B7, and 4.0 m of R-2, of batch B8; both 4 m wide
LEFT = LeftByPlans(KEPT, JOBS)
ANEW = (
    "cut that first and plan again, or plan it all anew with: stockplan plan --from 2026-11-30 --to 2026-12-03 --again"
)


def told(*sizes: tuple[int, int], begun: str = "") -> list[str]:
    return list(LEFT.for_short({"J9": sizes}, {"J9": begun} if begun else {}))


def bought(*drops: str, keys: tuple[str, ...] = ("new-1",)) -> Plan:
    """J9 cut from as many orders as there are drops, one from each."""
    request = small_request(NEW)
    shares = [drops] if len(keys) == 1 else [(drop,) for drop in drops]
    cuts = {key: read_cuts(request, *share) for key, share in zip(keys, shares, strict=True)}
    return build(request, cuts, [new_order(key) for key in keys]).plan


def test_what_is_left_over_is_told_with_the_days_that_hang_on_it() -> None:
    assert told((4000, 3000)) == [
        "J9 is short, and accepted plans will leave over 4.00 × 4.00 m of R-2, large enough for each of its pieces: "
        + ANEW
    ]
    (both,) = told((4000, 2500))
    assert "leave over 4.00 × 2.50 m of R-1, 4.00 × 4.00 m of R-2, large" in both


def test_what_is_too_small_of_another_batch_or_grass_or_comes_too_late_is_not() -> None:
    assert told((4000, 4001)) == told((4001, 1000)) == told((4000, 3000), (4000, 1001)) == []
    assert told((4000, 3000), begun="B7") == []
    assert len(told((4000, 3000), begun="B8")) == 1
    other = replace(LEFT, jobs={**JOBS, "J9": replace(NEW, product="G40")})
    assert list(other.for_short({"J9": [(4000, 3000)]}, {})) == []
    (come,) = coming(bought_plan(), 1)
    day = come.item.arrives_on
    assert day is not None
    late, early = (LeftByPlans([come], {"J9": replace(NEW, lay_on=day + timedelta(days=days))}) for days in (0, 1))
    assert list(late.for_short({"J9": [(4000, 3000)]}, {})) == []
    assert len(list(early.for_short({"J9": [(4000, 3000)]}, {}))) == 1


def test_an_order_that_what_is_left_over_could_spare_is_told() -> None:
    assert list(LEFT.for_orders(bought("1500: J9.A1", "1500: J9.A2"))) == [
        "new-1 may be spared: accepted plans will leave over 4.00 × 4.00 m of R-2, large enough for all that is cut "
        f"from it: {ANEW}"
    ]
    assert list(LEFT.for_orders(bought("1500: J9.A1", "2600: J9.A2"))) == []
    assert list(LEFT.for_orders(bought("1500: J9.A1", "1500: J9.A2", keys=("new-1", "new-2")))) == []
    assert list(LEFT.for_orders(first_plan())) == []


def test_a_whole_roll_that_what_is_left_over_could_spare_is_told() -> None:
    stock = (replace(ROLL, tag="R-9"), replace(OTHER_ROLL, tag="P-9"))
    request = small_request(NEW, stock=stock)
    drops = ("1500: J9.A1", "1500: J9.A2")
    opened = build(request, {"R-9": read_cuts(request, *drops)}).plan
    told_of_it = "accepted plans will leave over 4.00 × 4.00 m of R-2, large enough for all that is cut from it"
    assert list(LEFT.for_whole_rolls(opened, stock, {})) == [f"R-9 may stay whole: {told_of_it}: {ANEW}"]
    assert list(LEFT.for_orders(opened)) == []
    assert len(list(LEFT.for_whole_rolls(opened, stock, {"J9": "B8"}))) == 1
    assert list(LEFT.for_whole_rolls(opened, stock, {"J9": "B7"})) == []
    part = build(request, {"P-9": read_cuts(request, *drops)}).plan
    assert list(LEFT.for_whole_rolls(part, stock, {})) == []


def test_of_many_whole_rolls_the_first_are_told_in_full() -> None:
    tags = [f"R-1{number}" for number in range(6)]
    jobs = [replace(NEW, code=f"J1{number}", strips=(Strip("A", 4000, 1500),)) for number in range(6)]
    request = small_request(*jobs, stock=[replace(ROLL, tag=tag) for tag in tags])
    cuts = {tag: read_cuts(request, f"1500: {job.code}.A1") for tag, job in zip(tags, jobs, strict=True)}
    left = replace(LEFT, jobs={**JOBS, **{job.code: job for job in jobs}})
    *first, rest = left.for_whole_rolls(build(request, cuts).plan, request.stock, {})
    assert [told.split()[0] for told in first] == tags[:3]
    assert rest == "R-13, R-14, R-15 may stay whole as well, each by itself"
