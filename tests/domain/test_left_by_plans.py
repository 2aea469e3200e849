"""What accepted plans leave over is told to the jobs that it is large enough for."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from builders import JOB, MONDAY
from standing_yard import SECOND, THIRD, bought_plan, coming, first_plan, standing

from stockplan.domain.jobs import BatchRule, Job, Strip
from stockplan.domain.left_by_plans import left_for_short

NEW = Job("J9", "Elm Rise", "G30", MONDAY, "house", BatchRule.ONE, (Strip("A", 4000, 3000),))
JOBS = {job.code: job for job in (JOB, SECOND, THIRD, NEW)}
KEPT = standing(first_plan(), 1)  # leaves 2.5 m of R-1, of batch B7, and 4.0 m of R-2, of batch B8; both 4 m wide


def told(*sizes: tuple[int, int], begun: str = "") -> list[str]:
    return list(left_for_short(KEPT, JOBS, {"J9": sizes}, {"J9": begun} if begun else {}))


def test_what_is_left_over_is_told_with_the_days_that_hang_on_it() -> None:
    assert told((4000, 3000)) == [
        "J9 is short, and accepted plans will leave over 4.00 × 4.00 m of R-2, large enough for each of its pieces: "
        "cut that first, or plan it all anew with: stockplan plan --from 2026-11-30 --to 2026-12-03 --again"
    ]
    (both,) = told((4000, 2500))
    assert "leave over 4.00 × 2.50 m of R-1, 4.00 × 4.00 m of R-2, large" in both


def test_what_is_too_small_of_another_batch_or_grass_or_comes_too_late_is_not() -> None:
    assert told((4000, 4001)) == told((4001, 1000)) == told((4000, 3000), (4000, 1001)) == []
    assert told((4000, 3000), begun="B7") == []
    assert len(told((4000, 3000), begun="B8")) == 1
    other = {**JOBS, "J9": replace(NEW, product="G40")}
    assert list(left_for_short(KEPT, other, {"J9": [(4000, 3000)]}, {})) == []
    (come,) = coming(bought_plan(), 1)
    day = come.item.arrives_on
    assert day is not None
    late, early = ({"J9": replace(NEW, lay_on=day + timedelta(days=days))} for days in (0, 1))
    assert list(left_for_short([come], late, {"J9": [(4000, 3000)]}, {})) == []
    assert len(list(left_for_short([come], early, {"J9": [(4000, 3000)]}, {}))) == 1
