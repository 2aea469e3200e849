"""What is on its way and left alone is told where the same is ordered again."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from builders import MONDAY, build, new_order, read_cuts, small_request

from stockplan.actions.planning import bought_again
from stockplan.domain.stock import StockForm, StockItem

COMING = StockItem(
    "P1-6", "G30", "new (plan 1)", StockForm.ROLL, 4000, 25000, "", 1100, arrives_on=MONDAY - timedelta(days=1)
)


def told(*stock: StockItem, length_mm: int = 25000, cut: str = "new-1") -> list[str]:
    """What is said of a plan for a job that is cut from one source."""
    request = replace(small_request(), stock=stock)
    orders = (new_order(length_mm=length_mm),) if cut == "new-1" else ()
    case = build(request, {cut: read_cuts(request, "3000: J1.A1", "2000: J1.B1 | J1.B2")}, orders)
    return list(bought_again(case.request, case.plan))


def test_a_roll_on_its_way_is_told_where_the_same_is_ordered_again() -> None:
    assert told(COMING, replace(COMING, tag="P1-7")) == [
        "P1-6, P1-7 are on their way and serve nothing in this plan, which orders new-1 of the same size "
        "(4.00 × 25.00 m of G30): before ordering see what it says without each"
    ]


def test_another_size_what_lies_in_the_yard_and_what_is_cut_are_no_matter() -> None:
    assert told(COMING, length_mm=9000) == []
    assert told(replace(COMING, arrives_on=None)) == []
    assert told(COMING, cut="P1-6") == []
