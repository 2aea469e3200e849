"""Pins to what goes by another name by now: an order that came in, a roll that was cut up."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

from stores_with_plans import THREE, TODAY, Plan, ok, refused
from typed_commands import WEEK, fill

AGAIN = ("plan", *WEEK, "--again")


def test_a_pin_to_an_order_is_to_what_comes_in_for_it_and_to_the_order_again_where_that_is_undone(
    planned: Plan, store: Path
) -> None:
    planned(replace(THREE, jobs=THREE.jobs[:1], stock=()))
    pinned = (*AGAIN, "--pin", "J1=P1-1")
    assert "J1 cannot be cut from P1-1: there is nothing with that tag" in refused(*pinned)
    ok("accept", *TODAY)
    another = replace(THREE, jobs=(replace(THREE.jobs[2], code="J4"),), stock=())
    fill(store, another)
    other = ("plan", *WEEK, "--pin", "J4=P1-1")
    assert "J4 cannot be cut from P1-1: it is not ordered yet; it is drafted for plan 1\n" in refused(*other)
    ok("cancel-job", "J4")
    ok("order", "P1-1", *TODAY)
    ok(*pinned)
    ok("accept", *TODAY)
    fill(store, another)
    assert "J4 cannot be cut from P1-1: it is ordered for plan 2; plan with --again" in refused(*other)
    came = ok("receive-order", "P1-1", "4x25", "--batch", "B9", "--bay", "east", *TODAY)
    (tag,) = re.findall(r"came in as (\S+):", came)
    assert ok("pins") == f"J1={tag}\n"
    assert f"J4 cannot be cut from P1-1: it came in as {tag}\n" in refused(*other)
    ok("cancel-job", "J4")
    ok(*AGAIN)
    arrived = re.findall(r"^ *(\d+) .*received", ok("history", tag), re.M)
    ok("reverse", arrived[0], "--why", "another roll")
    assert ok("pins") == "J1=P1-1\n"
    ok(*AGAIN)


def test_a_pin_to_what_has_been_cut_up_since_says_what_is_left_of_it(planned: Plan, store: Path) -> None:
    """R-2 serves J3 alone."""
    planned()
    ok("accept", *TODAY)
    (tail,) = re.findall(r"Write (\S+) on the part roll of 4.00 × 4.00 m", ok("cut", "R-2", "--done", *TODAY))
    pinned = ("plan", *WEEK, "--again", "--pin", "J2=R-2")
    left = "J2 cannot be cut from R-2: it has left the yard; what lies there of it: "
    assert f"{left}{tail} (4.00 × 4.00 m)\n" in refused(*pinned)
    ok("plan", *WEEK, "--again", "--pin", f"J2={tail}")
    ok("accept", *TODAY)
    (rest,) = re.findall(r"Write (\S+) on the part roll of 4.00 × 1.50 m", ok("cut", tail, "--done", *TODAY))
    fill(store, replace(THREE, jobs=(replace(THREE.jobs[2], code="J4"),), stock=()))
    assert f"{left.replace('J2', 'J4')}{rest} (4.00 × 1.50 m)\n" in refused("plan", *WEEK, "--pin", "J4=R-2")
    ok("write-off", rest, "--why", "lost")
    assert refused("plan", *WEEK, "--pin", "J4=R-2").endswith("J4 cannot be cut from R-2: it has left the yard\n")
