"""The life of a plan as typed: accepted or refused, orders placed and taken in, rolls cut, planned again."""

from __future__ import annotations

import json
import re
import sqlite3
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from builders import MONDAY, ROLL, small_request
from stores_with_plans import THIRD, THREE, TODAY, Plan, end, ok, refused, reserved, schedule, states
from typed_commands import WEEK, fill, run

from stockplan.actions.accepting import accept_plan
from stockplan.actions.asking import Wish, ask
from stockplan.actions.planning import make_plan
from stockplan.bench.weeks import write_folder
from stockplan.cutting import plan_cuts
from stockplan.domain.jobs import Strip, Window
from stockplan.domain.plan import Plan as CutPlan
from stockplan.domain.request import PlanRequest, SearchLimits
from stockplan.errors import PlanOutdated
from stockplan.store.session import open_store

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


def test_a_plan_that_is_shown_says_what_has_become_of_it(planned: Plan, store: Path) -> None:
    planned()
    assert "Plan 1 is" not in run("show", "1").stderr
    ok("accept", *TODAY)
    assert "Plan 1 is accepted; its orders as they stand now: stockplan orders.\n" in run("show", "1").stderr
    ok("withdraw", "1")
    assert "Plan 1 is withdrawn: order and cut nothing by it.\n" in run("show", "1").stderr
    ok("plan", *WEEK)
    ok("accept", *TODAY)
    ok("cut", "R-1", "--done")
    ok("cut", "R-2", "--done")
    assert "Plan 2 is done: nothing is left to order or to cut by it.\n" in run("show", "2").stderr


def test_a_plan_on_stock_that_has_changed_is_refused_with_what_changed_and_what_to_type(
    planned: Plan, store: Path
) -> None:
    planned()
    ok("measure", "R-1", "4.00x9.85")
    before = end(store)
    said = refused("accept", *TODAY)
    assert "plan 1 cannot be accepted; what stands against it:\n" in said
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


def test_what_is_written_off_names_the_jobs_that_were_to_be_cut_from_it(planned: Plan) -> None:
    planned()
    ok("accept", *TODAY)
    done = run("write-off", "R-1", "--why", "flood")
    assert done.exit_code == 0
    assert "written off; plan 1 had it reserved" in done.stdout
    assert "ENDANGERED: J1: R-1, from which it was to be cut, is written off.\nENDANGERED: J2: R-1, " in done.stderr
    counted = run("count", "north", "R-7", "--yes", "--write-off-missing")
    assert "ENDANGERED: J3: R-2, from which it was to be cut, is written off.\nWhat to do: plan" in counted.stderr


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


def test_a_plan_does_not_take_the_place_of_one_accepted_while_it_was_looked_for(planned: Plan, store: Path) -> None:
    planned()

    def slow(request: PlanRequest, limits: SearchLimits, *_: object) -> CutPlan:
        assert not _accepted(store, 1)
        return plan_cuts(request, limits)

    assert make_plan(str(store), THREE.window, date(2026, 11, 23), SearchLimits(5, 1000), planner=slow).number == 2
    before = reserved(store)
    assert "R-1 has been promised to plan 1 since, for J1, J2" in _accepted(store, 2)
    assert (reserved(store), states(store)) == (before, {1: "accepted"})
    ok("verify")


def test_a_clock_put_back_lets_no_plan_take_the_place_of_one_made_and_accepted_after_it(
    planned: Plan, store: Path
) -> None:
    planned()
    ok("plan", *WEEK)
    with closing(sqlite3.connect(store)) as connection, connection:
        connection.execute("UPDATE stored_plan SET made_at = '2099-01-01 00:00:00.000000'")
    assert not _accepted(store, 2)
    assert "R-1 has been promised to plan 2 since, for J1, J2" in _accepted(store, 1)
    assert states(store) == {2: "accepted"}


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


def test_what_a_thing_is_worth_does_not_hang_on_what_else_is_promised(store: Path) -> None:
    narrow = replace(ROLL, tag="R-5", width_mm=2000)
    fill(store, small_request(stock=(ROLL, narrow), supply=()))
    ok("hold", ROLL.tag, "Q-1", "--until", "2099-01-31")
    with open_store(str(store)) as opened, opened.reading() as session:
        asked = ask(session, Window(MONDAY, MONDAY), MONDAY, Wish()).request
    assert [item.tag for item in asked.stock] == ["R-5"]
    assert asked.widest_mm("G30") == ROLL.width_mm


# --- planning again -------------------------------------------------------------------------------------------------


def test_what_reversing_a_movement_takes_from_an_accepted_plan_is_told(planned: Plan, store: Path) -> None:
    planned()
    ok("accept", *TODAY)
    (promise,) = re.findall(r"^ *(\d+) .* reserved for plan 1 ", ok("history", "R-1"), re.M)
    ok("measure", "R-1", "4.00x5.40")
    ok("measure", "R-1", "4.00x10.00")
    again = run("reverse", str(end(store)), "--why", "slip")
    assert "ENDANGERED: J1: R-1 measures 4.00 × 5.40 m and cannot give" in again.stderr
    ok("reverse", str(end(store) - 2), "--why", "slip")
    told = ok("reverse", promise, "--why", "slip")
    assert "It is reserved for plan 1 no longer, which was to cut it: plan its days again.\n" in told
    assert reserved(store) == {"R-2": 1}


def test_planning_again_leaves_what_is_accepted_and_says_what_is_different(planned: Plan, store: Path) -> None:
    planned()
    ok("accept", *TODAY)
    assert "nothing is left to plan from 2026-11-30 to 2026-12-04: J1, J2, J3 are cut or stay with plan 1" in refused(
        "plan", *WEEK
    )
    fill(store, small_request(replace(THIRD, strips=(Strip("A", 4000, 2000, 3),)), supply=()))
    again = run("plan", *WEEK)
    assert "R-2 of plan 1: planned anew, as J3 lacks 1 of A.\n" in again.stderr
    assert "Different from plan 1:\n  J3: 3 pieces from R-2 instead of 2\n" in again.stderr
    assert "left over now: part roll of G30, 4.00 × 2.00 m" in again.stderr
    assert "What plan 1 is to cut from 1 source stays with it." in again.stderr
    assert "J1" not in again.output
    assert "It takes the place of what earlier plans were to cut: R-2 (plan 1)." in ok("accept", *TODAY)
    assert reserved(store) == {"R-1": 1, "R-2": 2}


def test_a_note_that_begins_with_a_tag_leaves_it_as_it_is_spelt(planned: Plan, store: Path) -> None:
    small = replace(THREE, stock=tuple(replace(item, tag=item.tag.lower()) for item in THREE.stock), supply=())
    planned(small)
    ok("accept", *TODAY)
    fill(store, replace(small, jobs=(replace(THIRD, strips=(Strip("A", 4000, 2000, 3),)),)))
    told = run("plan", *WEEK).stderr
    assert "\nr-2 of plan 1: planned anew, as J3 lacks 1 of A.\n" in told
    assert "\nWhat plan 1 is to cut from 1 source stays with it.\n" in told


def test_a_job_left_short_is_told_what_accepted_plans_will_leave_over_for_it(planned: Plan, store: Path) -> None:
    bare = replace(THREE, supply=())
    planned(bare)
    ok("accept", *TODAY)
    fill(store, replace(bare, jobs=(replace(THIRD, code="J9", strips=(Strip("A", 4000, 3000),)),)))
    again = run("plan", *WEEK)
    assert again.exit_code == 3
    assert "J9 is short, and accepted plans will leave over 4.00 × 4.00 m of R-2, large enough for each" in again.stderr


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
    assert "there is no job J2, J9; stockplan jobs lists" in refused("cancel-job", "J2", "J9", "J1")
    assert refused("cancel-job", "j1", "J9") == "stockplan: there is no job j1, J9; perhaps J1 is meant\n"
    assert refused("take-off", "j1") == "stockplan: the store knows no job j1; perhaps J1 is meant\n"


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
    assert "Nothing is planned differently from plan 1." in again.stderr
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
    assert "differently from plan 2" in run("plan", *WEEK).stderr
    assert "J2 is no longer pinned to R-2" in ok("unpin", "J2")
    assert "J2: from R-1; was from R-2" in run("plan", *WEEK).stderr
    assert "there is no pin J2; there are: none" in refused("unpin", "J2")


def test_a_plan_that_leaves_a_job_short_for_its_pin_can_be_accepted(planned: Plan, store: Path) -> None:
    planned()
    ok("accept", *TODAY)
    ok("receive", "R-9", "1.00x1.00", "--product", "G30", "--bay", "E1", "--cost", "9")
    short = run("plan", *WEEK, "--pin", "J2=R-9")
    assert short.exit_code == 3
    assert "J2: short now; was from R-1" in short.stderr
    assert "SHORT: nothing covers J2 (1 × A); why, and what would: stockplan show 2\n" in ok("accept", *TODAY)
    assert reserved(store) == {"R-1": 2, "R-2": 1}


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
    tuesday = ("--from", "2026-12-01", "--to", "2026-12-01", "--today", "2026-11-23")
    told = refused("plan", *tuesday, "--again", "--pin", "J3=R-1")
    assert "R-1: it is reserved for plan 1 and jobs of other days; take those days in, or withdraw that plan" in told


def test_why_a_thing_cannot_be_pinned_to_is_said(planned: Plan) -> None:
    g99 = replace(THREE.products[0], code="G99")
    more = (replace(ROLL, tag="R-8"), replace(ROLL, tag="R-9", product="G99"), replace(ROLL, tag="R-10"))
    planned(replace(THREE, products=(*THREE.products, g99), stock=(*THREE.stock, *more)))
    ok("hold", "R-8", "Q7", "--until", "2099-01-01")
    ok("write-off", "R-10", "--why", "flood")
    said = refused("plan", *WEEK, "--pin", "J1=R-8", "--pin", "J2=R-9", "--pin", "J3=R-10")
    assert "J1 cannot be cut from R-8: it is held for Q7 until 2099-01-01" in said
    assert "J2 cannot be cut from R-9: R-9 is G99, the job is laid in G30" in said
    assert "J3 cannot be cut from R-10: it has left the yard" in said


def test_a_pin_made_before_that_can_no_longer_be_kept_is_said_with_how_to_take_it_out(planned: Plan) -> None:
    planned()
    assert run("plan", *WEEK, "--pin", "J2=R-2").exit_code == 0
    ok("write-off", "R-2", "--why", "flood")
    said = refused("plan", *WEEK)
    assert "J2 cannot be cut from R-2: it has left the yard" in said
    assert "a pin made before is taken out with: stockplan unpin J2=R-2" in said


def test_sheets_that_change_what_a_plan_is_to_cut_name_it(planned: Plan, store: Path, tmp_path: Path) -> None:
    planned(THREE)
    ok("accept", *TODAY)
    write_folder(THREE, tmp_path)
    assert "ENDANGERED" not in ok("import", str(tmp_path))
    jobs, strips, stock = (tmp_path / f"{name}.csv" for name in ("jobs", "strips", "stock"))
    strips.write_text(strips.read_text().replace("J2,A,4,2.5", "J2,A,4,2.6"))
    jobs.write_text(jobs.read_text().replace("J3,Birch End,", "J3,Birch Gate,"))
    told = ok("import", str(tmp_path))
    assert "jobs: 2 changed (J2, J3), 1 as before" in told
    (source,) = {one.item.tag for one in schedule(store).standing if "J2" in one.jobs()}
    assert (
        f"ENDANGERED: J2 A is now 4.00 × 2.60, was 4.00 × 2.50; {source} is still to be cut as plan 1 has it.\n" in told
    )
    assert told.count("ENDANGERED") == 1
    tag = sorted(reserved(store))[0]
    row = next(line for line in stock.read_text().splitlines() if line.startswith(f"{tag},"))
    cells = row.split(",")
    cells[stock.read_text().splitlines()[0].split(",").index("length_m")] = "1"
    stock.write_text(stock.read_text().replace(row, ",".join(cells)))
    told = ok("import", str(tmp_path))
    assert f"stock: 1 changed ({tag})" in told
    assert f"{tag} measures 4.00 × 1.00 m and cannot give" in told
    assert "What to do: plan these days again" in told
