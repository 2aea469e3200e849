"""Late, short and odd deliveries, and the jobs they endanger."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from builders import JOB, MONDAY, OTHER_ROLL, ROLL
from standing_yard import bought_plan, coming, cut_piece, first_plan, lines, schedule, standing

from stockplan.domain.deliveries import late, mixing, overdue, too_small
from stockplan.domain.jobs import BatchRule
from stockplan.domain.purchase import OrderState, batch_on_its_way, line_key
from stockplan.domain.stock import StockForm, SupplyForm, batch_key


@pytest.mark.parametrize(("days", "jobs"), [(-1, []), (0, ["J1"]), (1, ["J1", "J2"]), (9, ["J1", "J2", "J3"])])
def test_a_late_order_endangers_the_jobs_laid_by_then(days: int, jobs: list[str]) -> None:
    (one,) = coming(bought_plan(), 1, due=MONDAY + timedelta(days=days))
    assert [danger.job for danger in late(schedule(), one)] == jobs


@pytest.mark.parametrize(("price", "per_m2"), [(100, 50), (101, 51), (103, 52)])
def test_what_a_square_metre_of_an_order_costs_is_rounded_half_up(price: int, per_m2: int) -> None:
    line = replace(lines(bought_plan(), 1)[0], width_mm=2000, length_mm=1000, price_pence=price)
    assert line.cost_pence_per_m2 == per_m2


def test_what_lies_in_the_yard_is_never_late() -> None:
    assert [danger for one in standing(first_plan(), 1) for danger in late(schedule(), one)] == []


def test_a_short_roll_endangers_the_jobs_whose_pieces_it_cannot_give() -> None:
    short, other = standing(first_plan(), 1, [replace(ROLL, length_mm=7400), OTHER_ROLL])
    assert [str(danger) for danger in too_small(short)] == [
        "J2: R-1 measures 4.00 × 7.40 m and cannot give A no. 1 (4.00 × 2.50 m)"
    ]
    assert list(too_small(other)) == []


def test_another_batch_than_the_rest_of_a_job_is_told() -> None:
    stands = standing(first_plan(), 1)
    begun = {("J1", "B"): [cut_piece(source="R-0", batch="B6")]}
    assert [str(danger) for danger in mixing(schedule(standing=stands, pieces=begun), ["J1"])] == [
        "J1: wants one batch and would get B6 (R-0); B7 (R-1)"
    ]
    unknown = {("J1", "B"): [cut_piece(source="R-0", batch=batch_key("", "R-0"))]}
    assert [str(danger) for danger in mixing(schedule(standing=stands, pieces=unknown), ["J1"])] == [
        "J1: wants one batch and would get B7 (R-1); unknown (R-0)"
    ]
    mixed_on_purpose = replace(JOB, batch_rule=BatchRule.ANY)
    assert list(mixing(schedule(mixed_on_purpose, standing=stands, pieces=begun), ["J1"])) == []


def test_what_has_not_come_yet_is_no_other_batch() -> None:
    (roll,) = coming(bought_plan(), 1)
    begun = {("J1", "B"): [cut_piece(source="R-5", batch="B9")]}
    assert list(mixing(schedule(standing=(roll,), pieces=begun), ["J1"])) == []


def test_an_order_is_overdue_when_it_was_not_placed_or_has_not_come() -> None:
    (line,) = lines(bought_plan(), 1, OrderState.DRAFT)
    assert overdue(line, line.order_by) == ""
    assert overdue(line, line.order_by + timedelta(days=1)) == "had to be ordered by 2026-11-23"
    placed = replace(line, state=OrderState.ORDERED)
    assert overdue(placed, line.arrives_on) == ""
    assert overdue(placed, line.arrives_on + timedelta(days=1)) == "was due on 2026-11-29"
    assert overdue(replace(line, state=OrderState.RECEIVED), MONDAY) == ""


def test_what_is_overdue_comes_today_at_best_and_a_late_draft_as_much_later() -> None:
    (draft,) = lines(bought_plan(), 1, OrderState.DRAFT)  # to order by 23 November, here on the 29th
    placed = replace(draft, state=OrderState.ORDERED)
    for asked, if_draft, if_placed in [(-9, 29, 29), (-7, 29, 29), (-6, 30, 29), (-1, 35, 29), (0, 36, 30)]:
        today = MONDAY + timedelta(days=asked)
        assert draft.earliest(today) == date(2026, 11, 1) + timedelta(days=if_draft - 1)
        assert placed.earliest(today) == date(2026, 11, 1) + timedelta(days=if_placed - 1)
        assert placed.as_stock(today).arrives_on == placed.earliest(today)


def test_an_order_on_its_way_is_stock_to_come() -> None:
    assert line_key(12, "new-3") == "P12-3"
    assert batch_on_its_way("P12-3") == "new (plan 12)"
    (line,) = lines(bought_plan(), 12)
    item = line.as_stock()
    assert (item.tag, item.batch_key, item.form, item.arrives_on) == (
        "P12-1",
        "new (plan 12)",
        StockForm.ROLL,
        line.arrives_on,
    )
    assert item.cost_pence_per_m2 == 1100  # 1,100.00 for 100 m²
    cut = replace(line, form=SupplyForm.CUT_LENGTH, width_mm=3000, length_mm=7000, price_pence=1000)
    assert cut.as_stock().form is StockForm.OFFCUT
    assert cut.cost_pence_per_m2 == 48  # 10.00 for 21 m² is 47.62 pence
