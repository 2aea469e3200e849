"""What came for an order is not received beside it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

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
