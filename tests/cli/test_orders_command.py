"""Orders as typed: drafted with a plan, placed, promised for another day, taken in as measured."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import date
from pathlib import Path

from builders import JOB, ROLL
from stores_with_plans import THREE, TODAY, Plan, end, line_states, ok, refused, reserved, schedule
from typed_commands import WEEK, fill, run

from stockplan.domain.jobs import Strip
from stockplan.domain.purchase import OrderState
from stockplan.store.ledger_rows import read_movements, read_stock
from stockplan.store.session import open_store

OTHER = replace(ROLL, tag="R-7", product="G99")
BARE = replace(THREE, stock=())
LONG = replace(THREE, stock=(), jobs=(replace(JOB, strips=(Strip("A", 4000, 15_000, 2),)),))


def test_a_cancelled_job_says_what_becomes_of_the_orders_for_it(planned: Plan, store: Path) -> None:
    planned(replace(LONG, jobs=(replace(JOB, strips=(Strip("A", 4000, 15_000, 2),)),)))
    ok("accept", *TODAY)
    ok("order", "P1-2", *TODAY)
    assert ok("cancel-job", "J1").splitlines() == [
        "J1 is out of the schedule.",
        "No longer to order: P1-1.",
        "Ordered, and still on the way for no plan: P1-2.",
    ]
    assert line_states(store) == {"P1-1": OrderState.CANCELLED, "P1-2": OrderState.ORDERED}


def test_an_order_that_serves_others_too_is_not_placed_as_it_is_when_a_job_is_cancelled(
    planned: Plan, store: Path
) -> None:
    planned(BARE)
    ok("accept", *TODAY)
    assert "Do not cut for it: P1-1 (plan 1); plan these days again before you order P1-1.\n" in ok("cancel-job", "J1")


def test_orders_of_one_day_are_told_in_the_order_of_their_numbers(planned: Plan, store: Path) -> None:
    planned(replace(LONG, jobs=(replace(JOB, strips=(Strip("A", 4000, 15_000, 10),)),)))
    keys = [f"P1-{number}" for number in range(1, 11)]
    assert re.findall(r"^To order by [\d-]+: (P1-\d+);", ok("accept", *TODAY), re.M) == keys
    assert re.findall(r"^P1-\d+", ok("orders", *TODAY), re.M) == keys


def test_orders_are_drafted_listed_placed_and_taken_in(planned: Plan, store: Path) -> None:
    planned(BARE)
    assert "To order by 2026-11-23: P1-1" in ok("accept", *TODAY)
    (listed,) = json.loads(ok("orders", *TODAY, "--json"))["orders"]
    assert (listed["order"], listed["state"], listed["late"]) == ("P1-1", "draft", "")
    assert [job["job"] for job in listed["jobs"]] == ["J1", "J2", "J3"]
    assert listed["weight_kg"] == 263
    told = ok("orders", *TODAY)
    assert re.search(r"G30 roll 4\.00 × 25\.00, [^\d]+ 263  plant ", told)
    assert "Guidance, not clearance" in told
    assert "LATE: had to be ordered by 2026-11-23" in ok("orders", "--today", "2026-11-24")
    assert "due on 2026-11-29" in ok("order", "P1-1", *TODAY)
    assert "P1-1 is ordered already" in refused("order", "P1-1", *TODAY)
    assert "has not come in yet" in refused("cut", "P1-1")
    came = ok(
        "receive-order", "P1-1", "3.99x24.85", "--batch", "B9", "--bay", "east", "--tag", "R-9", "--today", "2026-11-29"
    )
    assert "24.85 m is planned with from now on" in came
    assert "It weighs about 261 kg; too heavy for hands: use plant.\n" in came
    assert "ENDANGERED: J1: R-9 measures 3.99 × 24.85 m and cannot give A no. 1 (4.00 × 3.00 m)" in came
    assert re.search(r"planned beside the rest: stockplan plan --from 2026-1\d-\d\d --to 2026-1\d-\d\d\n", came)
    assert reserved(store) == {"R-9": 1}
    with open_store(str(store)) as opened, opened.reading() as session:
        (item,) = read_stock(session)
    assert (item.batch, item.cost_pence_per_m2) == ("B9", round(110_000 / (3.99 * 24.85)))
    assert "P1-1 has come in already" in refused("receive-order", "P1-1", "4x25", "--batch", "B9", "--bay", "east")
    assert "No order is open" in ok("orders", *TODAY)
    every = ok("orders", "--all", *TODAY)
    assert "in as R-9" in every
    assert every.endswith("\n\nNo order is open.\n")
    ok("verify")


def test_a_roll_that_comes_under_a_batch_of_another_product_is_told(planned: Plan, store: Path) -> None:
    planned(BARE)
    ok("accept", *TODAY)
    fill(store, replace(THREE, products=(replace(THREE.products[0], code="G99"),), supply=(), jobs=(), stock=(OTHER,)))
    came = run("receive-order", "P1-1", "4x25", "--batch", "B7", "--bay", "east", "--today", "2026-11-29")
    assert "CAREFUL: batch B7 is on record for G99, and never was for G30. If that is a slip, " in came.stderr


CAME = ("4x25", "--batch", "B9", "--bay", "east", "--tag", "R-9", "--today", "2026-11-29")
AGAIN = ("4x25", "--batch", "B9", "--bay", "east", "--tag", "R-10", "--today", "2026-11-29")


def test_what_was_dropped_with_its_plan_is_neither_placed_nor_taken_in(planned: Plan, store: Path) -> None:
    planned(BARE)
    ok("accept", *TODAY)
    ok("withdraw", "1")
    assert "P1-1 was cancelled with its plan" in refused("order", "P1-1", *TODAY)
    assert "P1-1 was cancelled with its plan" in refused(
        "receive-order", "P1-1", "4x25", "--batch", "B9", "--bay", "east"
    )
    assert line_states(store) == {"P1-1": OrderState.CANCELLED}


def test_what_comes_on_the_day_a_job_is_laid_endangers_it(planned: Plan) -> None:
    planned(BARE)
    ok("accept", *TODAY)
    came = ok("receive-order", "P1-1", *CAME[:-1], "2026-11-30")
    assert "ENDANGERED: J1: is laid on 2026-11-30, and R-9 came on 2026-11-30" in came
    assert "J2: is laid" not in came


def arrival(store: Path) -> int:
    with open_store(str(store)) as opened, opened.reading() as session:
        return next(one.number for one in read_movements(session) if (one.tag, one.kind) == ("R-9", "received"))


def test_an_arrival_taken_in_by_mistake_is_undone_and_its_order_comes_again(planned: Plan, store: Path) -> None:
    planned(BARE)
    ok("accept", *TODAY)
    ok("order", "P1-1", *TODAY)
    ok("receive-order", "P1-1", *CAME)
    told = ok("reverse", str(arrival(store)), "--why", "it was another's")
    assert "Order P1-1 is to come again" in told
    assert line_states(store) == {"P1-1": OrderState.ORDERED}
    assert "accepted" in ok("plans")
    assert "P1-1" in ok("orders", *TODAY)
    assert "reserved for plan 1" in ok("receive-order", "P1-1", *AGAIN).casefold()
    assert reserved(store) == {"R-10": 1}
    ok("verify")


def test_an_arrival_undone_when_its_plan_is_no_longer_in_force_comes_for_no_plan(planned: Plan, store: Path) -> None:
    planned(BARE)
    ok("accept", *TODAY)
    ok("order", "P1-1", *TODAY)
    ok("receive-order", "P1-1", *CAME)
    ok("reverse", str(arrival(store) + 1), "--why", "slip")  # what plan 1 had; it ends by that
    ok("reverse", str(arrival(store)), "--why", "slip")
    assert line_states(store) == {"P1-1": OrderState.ORDERED}
    ok("verify")
    ok("receive-order", "P1-1", *AGAIN)
    assert reserved(store) == {}
    ok("verify")


def test_a_proposal_that_knew_of_the_plan_is_still_good_when_an_arrival_of_that_was_undone(
    planned: Plan, store: Path
) -> None:
    planned(BARE)
    ok("accept", *TODAY)
    ok("order", "P1-1", *TODAY)
    ok("plan", *WEEK, "--again")
    ok("receive-order", "P1-1", *CAME)
    ok("reverse", str(arrival(store)), "--why", "slip")
    ok("accept", "2", *TODAY)
    ok("verify")


def test_what_was_only_drafted_when_it_came_is_a_draft_again(planned: Plan, store: Path) -> None:
    planned(BARE)
    ok("accept", *TODAY)
    ok("receive-order", "P1-1", *CAME)
    ok("reverse", str(arrival(store)), "--why", "slip")
    assert line_states(store) == {"P1-1": OrderState.DRAFT}
    ok("verify")
    ok("withdraw", "1")
    assert line_states(store) == {"P1-1": OrderState.CANCELLED}


def test_what_a_plan_left_over_of_an_ordered_roll_is_known_when_an_offcut_of_it_comes_back(
    planned: Plan, store: Path
) -> None:
    planned(replace(LONG, jobs=(replace(JOB, strips=(Strip("A", 3000, 2000),)),)))
    ok("accept", *TODAY)
    ok("order", "P1-1", *TODAY)
    came = ("4x25", "--batch", "B9", "--bay", "east", "--tag", "R-9", "--today", "2026-11-29")
    ok("receive-order", "P1-1", *came)
    (one,) = schedule(store).standing
    left = next(left for left in one.leftovers if left.width_mm == 1000)
    ok("cut", "R-9", "--done", f"--bin={one.leftovers.index(left) + 1}")
    told = refused("offcut", "R-9", "--length", "1.0", "--width", "2.0", "--bay", "east")
    assert "the plan leaves 1.00 × 2.00 m over, not 2.00 × 1.00 m" in told
    assert "bay east" in ok("offcut", "R-9", "--length", "2.0", "--width", "1.0", "--bay", "east")


def test_an_order_placed_late_or_promised_late_tells_which_jobs_it_endangers(planned: Plan, store: Path) -> None:
    planned(BARE)
    ok("accept", *TODAY)
    said = run("order", "P1-1", "--today", "2026-11-24").output
    assert "due on 2026-11-30" in said
    assert "ENDANGERED: J1: is laid on 2026-11-30, and P1-1 does not come before 2026-11-30." in said
    assert "ENDANGERED" not in ok("order", "P1-1", "--promised", "2026-11-29", *TODAY)
    said = ok("order", "P1-1", "--promised", "2026-12-01", *TODAY)
    assert [re.findall(r"ENDANGERED: (J\d)", said)] == [["J1", "J2", "J3"]]
    assert "there is no order P1-7; open orders are P1-1" in refused("order", "P1-1", "P1-7")
    again = run("plan", *WEEK, "--seconds", "1")
    assert "planned anew, as J1 is laid on 2026-11-30, and P1-1 does not come before 2026-12-01" in again.stderr


def test_what_is_overdue_is_relied_on_for_no_job_laid_by_today(planned: Plan, store: Path) -> None:
    planned(BARE)
    ok("accept", *TODAY)
    draft = ok("orders", "--today", "2026-11-24")
    assert "LATE: had to be ordered by 2026-11-23; ENDANGERED: J1: is laid on 2026-11-30" in draft
    ok("order", "P1-1", *TODAY)
    assert "ENDANGERED" not in ok("orders", "--today", "2026-11-29")
    monday = ("--today", "2026-11-30")
    late = ok("orders", *monday)
    assert "LATE: was due on 2026-11-29; ENDANGERED: J1: is laid on 2026-11-30, and P1-1 does not come before" in late
    again = run("plan", *WEEK, *monday, "--seconds", "1")
    assert "planned anew, as J1 is laid on 2026-11-30, and P1-1 does not come before 2026-11-30" in again.stderr
    ok("withdraw", "1")
    spare = run("plan", *WEEK, *monday, "--seconds", "1", "--json", str(store.parent / "plan.json"))
    assert spare.exit_code == 3
    served = {piece["job"] for piece in json.loads((store.parent / "plan.json").read_text())["pieces"]}
    assert served == {"J2", "J3"}


def test_a_day_that_has_passed_is_no_promise(planned: Plan, store: Path) -> None:
    planned(BARE)
    ok("accept", *TODAY)
    said = refused("order", "P1-1", "--promised", "2025-11-29", *TODAY)
    assert "P1-1 cannot come on 2025-11-29, which has passed; today is 2026-11-23" in said
    assert line_states(store) == {"P1-1": OrderState.DRAFT}


def test_rolls_of_one_plan_in_different_batches_are_told_before_anyone_cuts(planned: Plan, store: Path) -> None:
    planned(LONG)
    ok("accept", *TODAY)
    ok("order", "P1-1", "P1-2", *TODAY)
    first = ok(
        "receive-order", "P1-1", "4x25", "--batch", "B9", "--bay", "east", "--tag", "R-8", "--today", "2026-11-29"
    )
    assert "OTHER BATCH" not in first
    second = ok(
        "receive-order", "P1-2", "4x25", "--batch", "B10", "--bay", "east", "--tag", "R-9", "--today", "2026-11-29"
    )
    assert "OTHER BATCH, DO NOT CUT YET: J1: wants one batch and would get B10 (R-9); B9 (R-8)." in second
    assert "CAREFUL: J1: wants one batch" in ok("cut", "R-8")
    again = run("plan", *WEEK, "--today", "2026-11-29")
    assert "planned anew, as J1 would mix batches B10 and B9" in again.stderr


def test_what_is_still_to_come_is_counted_as_the_batch_in_which_the_rest_of_its_order_came(
    planned: Plan, store: Path
) -> None:
    planned(LONG)
    ok("accept", *TODAY)
    ok("order", "P1-1", "P1-2", *TODAY)
    came = ("4x25", "--batch", "B9", "--bay", "east", "--tag", "R-8", "--today", "2026-11-28")
    assert "Reserved for plan 1, job J1; its cuts" in ok("receive-order", "P1-1", *came)
    assert "J1 is cut or stays with plan 1" in refused("plan", *WEEK, "--today", "2026-11-28")
    again = run("plan", *WEEK, "--again", "--today", "2026-11-28", "--json", str(store.parent / "plan.json"))
    assert again.exit_code == 0
    assert "P1-2 is still to come and counted as batch B9, in which the rest of its order came." in again.stderr
    pieces = json.loads((store.parent / "plan.json").read_text())["pieces"]
    assert {(piece["source"], piece["batch"]) for piece in pieces} == {("R-8", "B9"), ("P1-2", "B9")}
    ok("accept", "--today", "2026-11-28")
    ok("cut", "R-8", "--done")
    assert "nothing is left to plan" in refused("plan", *WEEK, "--today", "2026-11-28")
    other = ("4x25", "--batch", "B10", "--bay", "east", "--today", "2026-11-29")
    said = ok("receive-order", "P1-2", *other)
    assert "OTHER BATCH, DO NOT CUT YET: J1: wants one batch and would get B10" in said


def test_a_size_typed_the_wrong_way_round_is_refused_and_nothing_comes_in(planned: Plan, store: Path) -> None:
    planned(BARE)
    ok("accept", *TODAY)
    said = refused("receive-order", "P1-1", "5x4", "--batch", "B9", "--bay", "east")
    assert "swap the two" in said or "width is across" in said
    assert line_states(store) == {"P1-1": OrderState.DRAFT}


def test_all_that_stands_against_what_came_is_told_at_once_and_nothing_comes_in(planned: Plan, store: Path) -> None:
    planned(replace(LONG, stock=THREE.stock))
    ok("accept", *TODAY)
    before = end(store)
    used = "R-1 was received before; give the new thing a tag of its own; see: stockplan history R-1"
    wrong = ("--batch", "new", "--bay", "", "--tag", "R-1")
    told = refused("receive-order", "P9-9", "7x250", *wrong)
    for words in ("there is no order P9-9", "batch: ", "bay: empty", "found 7.00 m", "found 250.00 m", used):
        assert words in told
    told = refused("receive-order", "P1-1", "25x4", *wrong)
    for words in ("batch: ", "bay: empty", "found 25.00 m", used, "swap the two"):
        assert words in told
    assert refused("receive-order", "P1-1", "4x25", "--batch", "", "--bay", "F1", *wrong[4:]) == f"stockplan: {used}\n"
    told = refused("order", "P1-8", "P1-9", *TODAY)
    assert "there is no order P1-8" in told
    assert "there is no order P1-9" in told
    assert set(line_states(store).values()) == {OrderState.DRAFT}
    assert end(store) == before


def test_withdrawing_drops_drafts_but_what_is_ordered_still_comes_and_is_used(planned: Plan, store: Path) -> None:
    planned(LONG)
    ok("accept", *TODAY)
    ok("order", "P1-1", *TODAY)
    said = ok("withdraw", "1")
    assert "No longer to order: P1-2." in said
    assert "still on the way for no plan: P1-1." in said
    assert line_states(store) == {"P1-1": OrderState.ORDERED, "P1-2": OrderState.CANCELLED}
    fill(store, replace(LONG, jobs=(replace(JOB, strips=(Strip("A", 4000, 15_000),)),)))
    ok("plan", *WEEK)
    ok("accept", *TODAY)
    (one,) = schedule(store).standing
    assert (one.plan, one.item.tag, one.item.arrives_on) == (2, "P1-1", date(2026, 11, 29))
    ok("receive-order", "P1-1", "4x25", "--batch", "B9", "--bay", "east", "--tag", "R-9", "--today", "2026-11-29")
    assert reserved(store) == {"R-9": 2}
    assert "J1 A" in ok("cut", "R-9")


def test_a_short_roll_for_no_plan_is_just_stock(planned: Plan, store: Path) -> None:
    planned(BARE)
    ok("accept", *TODAY)
    ok("order", "P1-1", *TODAY)
    ok("withdraw", "1")
    assert "for no plan any more and is free" in ok("receive-order", "P1-1", "4x24", "--batch", "", "--bay", "east")
    assert reserved(store) == {}
