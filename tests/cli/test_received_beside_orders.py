"""What came for an order is not received beside it, and told where it is far from what was ordered."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from stores_with_plans import THREE, TODAY, Plan, ok, refused

NEW = ("receive", "R-8", "4x25", "--product", "G30", "--batch", "B9", "--bay", "F1", "--cost", "11")


def test_a_thing_of_a_delivery_that_is_an_order_still_to_come_is_taken_in_for_that(planned: Plan, store: Path) -> None:
    planned(replace(THREE, stock=()))
    ok("accept", *TODAY)
    ok("order", "P1-1", *TODAY)
    told = refused(*NEW, "--delivery", "P1-1")
    assert "delivery: an order that is still to come, found P1-1; take in what came for it with: " in told
    assert told.endswith("stockplan receive-order P1-1\n")
    assert "P1-1; take in" in refused(*NEW, "--delivery", "P1-1", "--bay", "")
    ok("receive-order", "P1-1", "4x25", "--batch", "B9", "--bay", "F1", "--today", "2026-11-29")
    assert "R-8: received" in ok(*NEW, "--delivery", "P1-1")


@pytest.mark.parametrize(
    ("measured", "odd"),
    [("4x2.5", "less than half of"), ("4x52", "far more than"), ("4x12.5", ""), ("4x31.2", ""), ("3.9x24.1", "")],
)
def test_what_comes_far_smaller_or_larger_than_ordered_is_told(planned: Plan, measured: str, odd: str) -> None:
    planned(replace(THREE, stock=()))
    ok("accept", *TODAY)
    ok("order", "P1-1", *TODAY)
    told = ok("receive-order", "P1-1", measured, "--batch", "B9", "--bay", "F1", "--tag", "R-9", *TODAY)
    right = "If that is a slip, put it right: stockplan measure R-9 ACROSSxALONG\n"
    assert (f"CAREFUL: that is {odd} what was ordered. {right}" in told) == bool(odd)
    assert ("what was ordered" in told) == bool(odd)
