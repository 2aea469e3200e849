"""The life of a plan as typed: accepted or refused, orders placed and taken in, rolls cut, planned again."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from builders import JOB, MONDAY, OTHER_ROLL, ROLL, small_request
from simple_planner import simple_plan
from typed_commands import WEEK, fill, run

from stockplan import cli
from stockplan.actions.accepting import accept_plan
from stockplan.actions.in_force import read_books, read_schedule
from stockplan.domain.jobs import BatchRule, Job, Strip
from stockplan.domain.purchase import OrderState
from stockplan.domain.request import PlanRequest
from stockplan.domain.standing import Schedule
from stockplan.errors import PlanOutdated
from stockplan.store.ledger_rows import ledger_end, read_movements, read_stock, read_yard
from stockplan.store.plan_rows import read_promised, read_states
from stockplan.store.session import open_store

TUESDAY = MONDAY.replace(month=12, day=1)
SECOND = Job("J2", "Alder Close", "G30", TUESDAY, "road", BatchRule.ONE, (Strip("A", 4000, 2500),))
THIRD = Job("J3", "Birch End", "G30", TUESDAY, "road", BatchRule.ONE, (Strip("A", 4000, 2000, 2),))
THREE = small_request(JOB, SECOND, THIRD)
TODAY = ("--today", "2026-11-23")
Plan = Callable[..., None]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Callable[[PlanRequest, Path], None]:
    """Stores with a week and a plan of it, each made once and then copied."""
    known: list[tuple[PlanRequest, Path]] = []

    def put(request: PlanRequest, store: Path) -> None:
        before = next((path for asked, path in known if asked == request), None)
        if before is None:
            fill(store, request)
            assert run("plan", *WEEK).exit_code in (0, 3)
            before = tmp_path_factory.mktemp("made") / "yard.db"
            shutil.copy(store, before)
            known.append((request, before))
        else:
            shutil.copy(before, store)

    return put


@pytest.fixture
def planned(store: Path, made: Callable[[PlanRequest, Path], None], monkeypatch: pytest.MonkeyPatch) -> Plan:
    """Fill the store with a week, and plan it with the simple planner: R-1 for J1 and J2, R-2 for J3."""
    monkeypatch.setattr("stockplan.cutting.plan_cuts", simple_plan, raising=False)
    return lambda request=THREE: made(request, store)


def ok(*arguments: str) -> str:
    result = run(*arguments)
    assert result.exit_code == 0, result.output
    return result.output


def refused(*arguments: str, status: int = 1) -> str:
    result = run(*arguments)
    assert result.exit_code == status, result.output
    return result.stderr


def schedule(store: Path) -> Schedule:
    with open_store(str(store)) as opened, opened.reading() as session:
        return read_schedule(session, read_promised(session))


def reserved(store: Path) -> dict[str, int]:
    with open_store(str(store)) as opened, opened.reading() as session:
        return dict(read_books(session).reserved)


def states(store: Path) -> dict[int, str]:
    with open_store(str(store)) as opened, opened.reading() as session:
        return read_states(session)


def line_states(store: Path) -> dict[str, OrderState]:
    with open_store(str(store)) as opened, opened.reading() as session:
        return {key: line.state for key, line in read_books(session).lines.items()}


def end(store: Path) -> int:
    with open_store(str(store)) as opened, opened.reading() as session:
        return ledger_end(session)


# --- accepting ------------------------------------------------------------------------------------------------------


def test_a_plan_is_accepted_once_and_withdrawn_once(planned: Plan, store: Path) -> None:
    planned()
    assert "Reserved: R-1, R-2." in ok("accept", *TODAY)
    assert reserved(store) == {"R-1": 1, "R-2": 1}
    assert re.search(r"^ +1  2026-11-30 to 2026-12-04 +2026-11-23 +[\d.]+ +accepted +2$", ok("plans"), re.M)
    assert "plan 1 is accepted already" in refused("accept", *TODAY)
    assert "Free again: R-1, R-2." in ok("withdraw", "1")
    assert reserved(store) == {}
    assert "plan 1 is withdrawn already" in refused("withdraw", "1")
    (listed,) = json.loads(ok("plans", "--json"))["plans"]
    assert (listed["plan"], listed["state"], listed["to_cut"]) == (1, "withdrawn", 0)
    assert "plan 1 was withdrawn; make a new one" in refused("accept", "1", *TODAY)
    assert "there is no plan 9" in refused("withdraw", "9")
    ok("verify")


def test_a_plan_on_stock_that_has_changed_is_refused_with_what_changed_and_what_to_type(
    planned: Plan, store: Path
) -> None:
    planned()
    ok("measure", "R-1", "4.00x9.85")
    before = end(store)
    said = refused("accept", *TODAY)
    assert "plan 1 cannot be accepted" in said
    assert "  R-1 measures 4.00 × 9.85 m; was planned as 4.00 × 10.00 m\n" in said
    assert "Plan again with: stockplan plan --from 2026-11-30 --to 2026-12-04\n" in said
    assert (reserved(store), states(store), end(store)) == ({}, {}, before)
    ok("plan", *WEEK)
    ok("accept", *TODAY)
    assert reserved(store) == {"R-1": 2, "R-2": 2}


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (("write-off", "R-1", "--why", "soaked"), "R-1 has been written off"),
        (("hold", "R-2", "Q7", "--until", "2099-01-01"), "R-2 is held for Q7 until 2099-01-01"),
    ],
)
def test_what_else_stands_against_a_plan(planned: Plan, typed: tuple[str, ...], said: str) -> None:
    planned()
    ok(*typed)
    assert said in refused("accept", *TODAY)
    again = run("plan", *WEEK)
    assert ("Left out, as held for a quote: R-2." in again.stderr) == (typed[0] == "hold")


def test_what_is_held_of_another_product_is_not_told(planned: Plan) -> None:
    other = replace(THREE.products[0], code="G99")
    planned(
        replace(THREE, products=(*THREE.products, other), stock=(*THREE.stock, replace(ROLL, tag="R-9", product="G99")))
    )
    ok("hold", "R-9", "Q7", "--until", "2099-01-01")
    assert "Left out" not in run("plan", *WEEK).stderr


def test_what_is_moved_or_not_touched_is_harmless(planned: Plan) -> None:
    planned(replace(THREE, stock=(*THREE.stock, replace(ROLL, tag="R-7", width_mm=900))))
    ok("move", "R-1", "south")
    ok("write-off", "R-7", "--why", "not of this plan")
    ok("accept", *TODAY)


def test_of_two_plans_for_the_same_jobs_only_one_is_accepted_however_close_together(planned: Plan, store: Path) -> None:
    planned()
    ok("plan", *WEEK)
    with ThreadPoolExecutor(2) as pool:
        both = list(pool.map(lambda number: _accepted(store, number), (1, 2)))
    (lost,) = (said for said in both if said)
    assert re.search(r"R-1 has been promised to plan [12] since, for J1, J2", lost)
    assert sorted(states(store).values()) == ["accepted"]
    ok("verify")


def _accepted(store: Path, number: int) -> str:
    try:
        accept_plan(str(store), number, date(2026, 11, 23))
    except PlanOutdated as outdated:
        return str(outdated)
    return ""


def test_nothing_is_half_stored_when_accepting_breaks_off(
    planned: Plan, store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    planned()
    before = end(store)

    def break_off(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("stockplan.store.plan_rows.write_state", break_off)
    assert run("accept", *TODAY).exit_code == 130
    assert (reserved(store), states(store), end(store)) == ({}, {}, before)


# --- planning again -------------------------------------------------------------------------------------------------


def test_planning_again_leaves_what_is_accepted_and_says_what_is_different(planned: Plan, store: Path) -> None:
    planned()
    ok("accept", *TODAY)
    assert "nothing is left to plan from 2026-11-30 to 2026-12-04: J1, J2, J3 are cut or stay with plan 1" in refused(
        "plan", *WEEK
    )
    fill(store, small_request(replace(THIRD, strips=(Strip("A", 4000, 2000, 3),)), supply=()))
    again = run("plan", *WEEK)
    assert "R-2 of plan 1: planned anew, as J3 lacks 1 of A.\n" in again.stderr
    assert "Different from plan 1:\n  J3: 3 from R-2 instead of 2\n" in again.stderr
    assert "left over now: part roll of G30, 4.00 × 2.00 m" in again.stderr
    assert "What plan 1 is to cut from 1 source stays with it." in again.stderr
    assert "J1" not in again.output
    assert "It takes the place of what earlier plans were to cut: R-2 (plan 1)." in ok("accept", *TODAY)
    assert reserved(store) == {"R-1": 1, "R-2": 2}


def test_a_cancelled_job_is_told_with_what_was_to_be_cut_and_planned_no_more(planned: Plan, store: Path) -> None:
    planned()
    ok("accept", *TODAY)
    said = ok("cancel-job", "J2")
    assert "Do not cut for it: R-1 (plan 1); plan these days again." in said
    assert "CAREFUL: J2 is no longer in the schedule" in ok("cut", "R-1")
    again = run("plan", *WEEK)
    assert again.exit_code == 0
    assert "R-1 of plan 1: planned anew, as J2 is no longer in the schedule." in again.stderr
    assert "J2: no longer planned; was from R-1" in again.stderr
    ok("accept", *TODAY)
    assert [one.jobs() for one in schedule(store).standing] == [["J3"], ["J1"]]
    assert "there is no job J2, J9" in refused("cancel-job", "J2", "J9", "J1")


def test_what_served_only_cancelled_jobs_is_free_at_once(planned: Plan, store: Path) -> None:
    planned()
    ok("accept", *TODAY)
    assert "Free again, as nothing else is cut from it: R-2." in ok("cancel-job", "J3")
    assert reserved(store) == {"R-1": 1}
    assert states(store) == {1: "accepted"}
    ok("cancel-job", "J1", "J2")
    assert (reserved(store), states(store)) == ({}, {1: "withdrawn"})
    ok("verify")


def test_again_frees_everything_and_the_new_plan_takes_the_place_of_the_old(planned: Plan, store: Path) -> None:
    planned()
    ok("accept", *TODAY)
    again = run("plan", *WEEK, "--again")
    assert again.exit_code == 0
    assert "What plan 1 is to cut from 2 sources is planned anew." in again.stderr
    assert "Beside what is settled it is as plan 1." in again.stderr
    assert "takes the place" in ok("accept", *TODAY)
    assert reserved(store) == {"R-1": 2, "R-2": 2}
    assert states(store) == {1: "withdrawn", 2: "accepted"}


def test_a_pin_is_kept_now_and_later_until_it_is_taken_out(planned: Plan, store: Path) -> None:
    planned()
    pinned = run("plan", *WEEK, "--pin", "J2=R-2")
    assert pinned.exit_code == 0
    assert "J2: from R-2; was from R-1" in pinned.stderr
    assert ok("pins") == "J2=R-2\n"
    assert json.loads(ok("pins", "--json"))["pins"] == [{"job": "J2", "source": "R-2"}]
    assert "as plan 2" in run("plan", *WEEK).stderr
    assert "J2 is no longer pinned to R-2" in ok("unpin", "J2")
    assert "J2: from R-1; was from R-2" in run("plan", *WEEK).stderr
    assert "there is no pin J2; there are: none" in refused("unpin", "J2")


def test_pins_that_cannot_be_kept_are_refused_all_at_once_and_not_stored(planned: Plan, store: Path) -> None:
    planned()
    said = refused("plan", *WEEK, "--pin", "J9=R-2", "--pin", "J2=R-9")
    assert "J9 cannot be cut from R-2: there is no job J9" in said
    assert "J2 cannot be cut from R-9: there is nothing with that tag" in said
    assert "unpin" not in said
    assert ok("pins") == "No job is pinned.\n"
    assert run("plan", *WEEK, "--pin", "J2").exit_code == 2
    ok("accept", *TODAY)
    assert "R-2: it is reserved for plan 1; plan with --again" in refused("plan", *WEEK, "--pin", "J1=R-2")


# --- orders and deliveries ------------------------------------------------------------------------------------------

BARE = replace(THREE, stock=())
LONG = replace(THREE, stock=(), jobs=(replace(JOB, strips=(Strip("A", 4000, 15_000, 2),)),))


def test_orders_are_drafted_listed_placed_and_taken_in(planned: Plan, store: Path) -> None:
    planned(BARE)
    assert "To order by 2026-11-23: P1-1" in ok("accept", *TODAY)
    (listed,) = json.loads(ok("orders", *TODAY, "--json"))["orders"]
    assert (listed["order"], listed["state"], listed["late"]) == ("P1-1", "draft", "")
    assert [job["job"] for job in listed["jobs"]] == ["J1", "J2", "J3"]
    assert "LATE: had to be ordered by 2026-11-23" in ok("orders", "--today", "2026-11-24")
    assert "due on 2026-11-29" in ok("order", "P1-1", *TODAY)
    assert "P1-1 is ordered already" in refused("order", "P1-1", *TODAY)
    assert "has not come in yet" in refused("cut", "P1-1")
    came = ok(
        "receive-order", "P1-1", "3.99x24.85", "--batch", "B9", "--bay", "east", "--tag", "R-9", "--today", "2026-11-29"
    )
    assert "24.85 m is planned with from now on" in came
    assert "ENDANGERED: J1: R-9 measures 3.99 × 24.85 m and cannot give A no. 1 (4.00 × 3.00 m)" in came
    assert re.search(r"planned beside the rest: stockplan plan --from 2026-1\d-\d\d --to 2026-1\d-\d\d\n", came)
    assert reserved(store) == {"R-9": 1}
    with open_store(str(store)) as opened, opened.reading() as session:
        (item,) = read_stock(session)
    assert (item.batch, item.cost_pence_per_m2) == ("B9", round(110_000 / (3.99 * 24.85)))
    assert "P1-1 has come in already" in refused("receive-order", "P1-1", "4x25", "--batch", "B9", "--bay", "east")
    assert "No order is open" in ok("orders", *TODAY)
    assert "in as R-9" in ok("orders", "--all", *TODAY)
    ok("verify")


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
    assert "ENDANGERED: J1: is laid on 2026-11-30, and P1-1 is due on 2026-11-30." in said
    assert "ENDANGERED" not in ok("order", "P1-1", "--promised", "2026-11-29", *TODAY)
    said = ok("order", "P1-1", "--promised", "2026-12-01", *TODAY)
    assert [re.findall(r"ENDANGERED: (J\d)", said)] == [["J1", "J2", "J3"]]
    assert "there is no order P1-7; open orders are P1-1" in refused("order", "P1-1", "P1-7")
    again = run("plan", *WEEK, "--seconds", "1")
    assert "planned anew, as J1 is laid on 2026-11-30, and P1-1 is due on 2026-12-01" in again.stderr


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


def test_a_size_typed_the_wrong_way_round_is_refused_and_nothing_comes_in(planned: Plan, store: Path) -> None:
    planned(BARE)
    ok("accept", *TODAY)
    said = refused("receive-order", "P1-1", "5x4", "--batch", "B9", "--bay", "east")
    assert "swap the two" in said or "width is across" in said
    assert line_states(store) == {"P1-1": OrderState.DRAFT}


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


# --- cutting --------------------------------------------------------------------------------------------------------


def test_a_sheet_says_what_to_cut_how_heavy_it_is_and_what_to_mind(planned: Plan) -> None:
    planned()
    assert "no accepted plan cuts R-1" in refused("cut", "R-1")
    ok("accept", *TODAY)
    ok("condition", "R-1", "wet")
    sheet = ok("cut", "R-1")
    assert "CAREFUL: it is wet" in sheet
    for words in (
        "R-1: roll 4.00 × 10.00 m of G30",
        "batch B7, bay north",
        "about 105 kg",
        "J2 A",
        "Before anyone cuts",
        "keep as part roll 4.00 × 0.50" if False else "bin",
    ):
        assert words in sheet
    assert "was never in the yard" in refused("cut", "R-5")


def test_cut_as_planned_gives_tags_to_what_is_kept_and_ends_jobs_and_plan(planned: Plan, store: Path) -> None:
    planned()
    ok("accept", *TODAY)
    said = ok("cut", "R-2", "--done")
    (tag,) = re.findall(r"^Write (P-\w+) on the part roll of 4.00 × 4.00 m, batch B8, bay north.$", said, re.M)
    assert "J3 is cut in full." in said
    assert "Plan 1 is done" not in said
    said = ok("cut", "R-1", "--done")
    assert "Plan 1 is done." in said
    assert states(store) == {1: "done"}
    assert "has left the yard" in refused("cut", "R-1", "--done")
    with open_store(str(store)) as opened, opened.reading() as session:
        lying = {item.tag: item for item in read_stock(session)}
    assert (lying[tag].width_mm, lying[tag].length_mm, lying[tag].batch) == (4000, 4000, "B8")
    assert "J1, J2, J3 are cut" in refused("plan", *WEEK)
    ok("verify")


def test_what_came_off_otherwise_is_recorded_and_what_cannot_be_is_refused(planned: Plan, store: Path) -> None:
    planned()
    ok("accept", *TODAY)
    before = end(store)
    said = refused("cut", "R-2", "--done", "--tail", "4.10", "--bin", "7")
    assert "there is no leftover 7" in said
    assert "pieces and what is kept come to" in refused("cut", "R-2", "--done", "--tail", "4.10")
    assert "across comes first" in refused("cut", "R-2", "--done", "--keep", "4.5x1.0")
    assert refused("cut", "R-2", "--bin", "1", status=2)
    assert end(store) == before
    said = ok("cut", "R-2", "--done", "--tail", "3.85", "--bay", "west")
    assert "part roll of 4.00 × 3.85 m, batch B8, bay west" in said
    assert "Binned: 0.6 m²." in said
    ok("verify")


def test_a_spoiled_piece_says_what_is_short_and_the_mend_can_be_taken(planned: Plan, store: Path) -> None:
    planned()
    ok("accept", *TODAY)
    said = ok("cut", "R-2", "--done", "--spoiled", "J3/A/2", "--keep", "4x1.2", *TODAY)
    assert "SHORT: J3 now lacks 1 piece of A." in said
    (tag,) = re.findall(r"^Write (P-\w+) on", said, re.M)
    assert f"J3 A, 4.00 × 2.00 m: from {tag}, 4.00 × 4.00 m, batch B8" in said
    assert "Take it with: stockplan accept 2" in said
    assert f"Reserved: {tag}." in ok("accept", "2", *TODAY)
    assert states(store) == {1: "accepted", 2: "accepted"}
    said = ok("cut", tag, "--done")
    assert "J3 is cut in full." in said
    assert "Plan 2 is done." in said
    ok("verify")


def test_a_spoiled_piece_that_nothing_mends_ends_with_3(planned: Plan) -> None:
    planned()
    ok("accept", *TODAY)
    result = run("cut", "R-2", "--done", "--spoiled", "J3/A/1", "--spoiled", "J3/A/2", "--tail", "1.5", *TODAY)
    assert result.exit_code == 0
    assert (
        "J3 A, 4.00 × 2.00 m: from a new roll of 4.00 × 25.00 m from Fernlea Mills, 1,100.00, to order by"
        in result.output
    )
    lone = run("cut", "R-1", "--done", "--spoiled", "J1/A/1", *TODAY)
    assert lone.exit_code == 3
    assert "No mend for J1 A with all else as it is: nothing holds it\n" in lone.output


def test_ctrl_c_while_a_mend_is_looked_for_says_that_the_cut_is_recorded(
    planned: Plan, store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    planned()
    ok("accept", *TODAY)

    def press(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("stockplan.cutting.plan_cuts", press)
    stopped = run("cut", "R-2", "--done", "--spoiled", "J3/A/2", *TODAY)
    assert stopped.exit_code == 130
    assert stopped.stderr.endswith("Stopped looking for a mend; the cut is recorded.\n")
    assert "nothing was stored" not in stopped.stderr
    assert reserved(store) == {"R-1": 1}


def test_a_mend_in_the_wrong_batch_is_never_proposed(planned: Plan) -> None:
    planned()
    ok("accept", *TODAY)
    ok("cut", "R-2", "--done")
    said = run("cut", "R-1", "--done", "--spoiled", "J1/B/1", *TODAY).output
    assert "B8" not in said


def cut_number(store: Path) -> str:
    with open_store(str(store)) as opened, opened.reading() as session:
        return str([one.number for one in read_movements(session) if one.kind.value == "cut"][-1])


def contents(store: Path) -> tuple[object, ...]:
    with open_store(str(store)) as opened, opened.reading() as session:
        yard = read_yard(session)
    return yard.items, yard.gone, yard.reservations, yard.account


def test_a_cut_is_undone_with_all_that_came_off_it(planned: Plan, store: Path) -> None:
    planned()
    ok("accept", *TODAY)
    before = contents(store)
    done = run("cut", "R-1", "--done", "--spoiled", "J1/B/1", "--keep", "1.2x1.0", *TODAY)
    tags = re.findall(r"Write (\S+) on", done.output)
    assert tags
    assert {one.item.tag for one in schedule(store).standing} == {"R-2"}
    undone = ok("reverse", cut_number(store), "--why", "it was R-2")
    assert f"Take these tags off again, they are void: {', '.join(tags)}." in undone
    assert "It is reserved for plan 1 again." in undone
    assert contents(store) == before
    assert {one.item.tag for one in schedule(store).standing} == {"R-1", "R-2"}
    ok("verify")
    assert "R-1 is cut" in ok("cut", "R-1", "--done")
    assert not set(tags) & set(contents(store)[0])  # a tag is never given twice


def test_a_cut_stays_when_what_came_off_it_was_touched(planned: Plan, store: Path) -> None:
    planned()
    ok("accept", *TODAY)
    (tag, *_) = re.findall(r"Write (\S+) on", ok("cut", "R-2", "--done"))
    ok("move", tag, "attic")
    before = contents(store)
    told = refused("reverse", cut_number(store), "--why", "slip")
    assert "the cut of R-2 cannot be undone" in told
    assert re.search(rf"movement \d+: {tag} moved to bay attic", told)
    assert "reverse these first, the last one first, or put it right with new movements" in told
    assert contents(store) == before
    ok("reverse", str(end(store)), "--why", "it is still there")
    assert f"they are void: {tag}." in ok("reverse", cut_number(store), "--why", "slip")
    ok("verify")


def test_a_cut_stays_until_what_was_logged_off_it_later_is_undone(planned: Plan, store: Path) -> None:
    planned()
    ok("accept", *TODAY)
    ok("cut", "R-2", "--done", "--bin", "1")
    before = end(store)
    ok("offcut", "R-2", "--length", "0.5", "--width", "0.6", "--bay", "east", "--keep-anyway")
    told = refused("reverse", cut_number(store), "--why", "slip")
    assert "reverse these first, the last one first" in told
    for number in range(end(store), before, -1):
        if f"movement {number}:" in told:
            ok("reverse", str(number), "--why", "slip")
    ok("reverse", cut_number(store), "--why", "slip")
    assert reserved(store) == {"R-1": 1, "R-2": 1}
    ok("verify")


def test_a_plan_goes_on_when_the_cut_that_ended_it_is_undone(planned: Plan, store: Path) -> None:
    planned(replace(THREE, jobs=(replace(SECOND, strips=(Strip("A", 4000, 10_000),)),)))
    ok("accept", *TODAY)
    assert "Plan 1 is done." in ok("cut", "R-1", "--done")
    assert states(store) == {1: "done"}
    ok("reverse", cut_number(store), "--why", "it was R-2")
    assert [one.item.tag for one in schedule(store).standing] == ["R-1"]
    assert states(store) == {1: "accepted"}
    assert "R-1 is cut" in ok("cut", "R-1", "--done")
    assert states(store) == {1: "done"}


def test_a_plan_ends_with_the_last_thing_reserved_for_it(planned: Plan, store: Path) -> None:
    planned(replace(THREE, jobs=(replace(SECOND, strips=(Strip("A", 4000, 10_000),)),)))
    ok("accept", *TODAY)
    ok("write-off", "R-1", "--why", "flood")
    assert states(store) == {1: "withdrawn"}
    ok("reverse", str(end(store)), "--why", "the flood was next door")
    assert (states(store), reserved(store)) == ({1: "accepted"}, {"R-1": 1})
    ok("count", "north", "R-2", "--yes", "--write-off-missing")
    assert (states(store), reserved(store)) == ({1: "withdrawn"}, {})


def test_a_plan_that_cuts_nothing_is_done_when_it_is_accepted(planned: Plan, store: Path) -> None:
    planned(replace(THREE, supply=(), stock=(), jobs=(SECOND,)))
    assert "Plan 1 is accepted; nothing is to be cut by it, so it is done." in ok("accept", *TODAY)
    assert states(store) == {1: "done"}
    assert "plan 1 is done" in refused("accept", "1", *TODAY)


def test_on_a_terminal_each_leftover_is_confirmed_corrected_or_binned_in_one_step(
    planned: Plan, store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from typer.testing import CliRunner  # noqa: PLC0415

    planned()
    ok("accept", *TODAY)
    monkeypatch.setattr("stockplan.cli.cutting._someone_answers", lambda: True)
    no = CliRunner().invoke(cli.app, ["cut", "R-2"], input="n\n")
    assert "Nothing was recorded." in no.output
    yes = CliRunner().invoke(cli.app, ["cut", "R-2"], input="y\nxx\nJ9/A/1\n\nabc\n4.0x3.9\n")
    assert "'xx' is not a piece" in yes.output
    assert "no piece J9/A/1 is on this sheet" in yes.output
    assert "'abc' is not a size" in yes.output
    assert "1: keep as part roll 4.00 × 4.00" in yes.output
    assert "part roll of 4.00 × 3.90 m" in yes.output
    with_bin = CliRunner().invoke(cli.app, ["cut", "R-1"], input="y\n\nbin\nbin\nbin\nbin\n")
    assert with_bin.exit_code == 0, with_bin.output
    assert "Write" not in with_bin.output
    ok("verify")


def test_nothing_is_half_stored_when_a_cut_breaks_off(
    planned: Plan, store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    planned()
    ok("accept", *TODAY)
    before = end(store)

    def break_off(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("stockplan.actions.cutting_sheets._close", break_off)
    assert run("cut", "R-1", "--done").exit_code == 130
    assert end(store) == before
    assert reserved(store) == {"R-1": 1, "R-2": 1}


def test_planning_again_keeps_what_is_cut_in_its_batch(planned: Plan, store: Path) -> None:
    planned()
    ok("accept", *TODAY)
    ok("cut", "R-2", "--done", "--spoiled", "J3/A/2")
    ok("withdraw", "1")
    ok("plan", *WEEK)
    plan = json.loads(run("show", "--json", "-").stdout)
    assert plan["cut_already"] == [{"job": "J3", "strip": "A", "count": 1, "batch": "B8"}]
    assert [(piece["number"], piece["batch"]) for piece in plan["pieces"] if piece["job"] == "J3"] == [(2, "B8")]
    assert OTHER_ROLL.batch == "B8"
