"""Jobs that are changed in the sheets, or cancelled, when something is promised or cut for them already."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from builders import MONDAY
from stores_with_plans import THREE, TODAY, Plan, ok, refused, reserved, schedule
from typed_commands import WEEK, run

from stockplan.bench.weeks import write_folder
from stockplan.domain.jobs import BatchRule, Strip
from stockplan.domain.request import PlanRequest

G40 = replace(THREE.products[0], code="G40")
BOTH = replace(THREE, products=(*THREE.products, G40))
APART = replace(THREE.jobs[2], batch_rule=BatchRule.ANY, strips=(Strip("A", 4000, 9000), Strip("B", 4000, 7000)))
ON_TWO = replace(THREE, supply=(), jobs=(APART,))
COUNTS_NO_LONGER = (
    "since 2 pieces were cut for it from R-2: they count no longer; what is whole can be logged as an offcut, "
    "so that plans use it: stockplan offcut --product G30 --batch B8"
)


def begun(planned: Plan, request: PlanRequest = THREE) -> None:
    """Have all of J3 cut from R-2, and J1 and J2 still to be cut from R-1."""
    planned(request)
    ok("accept", *TODAY)
    assert "J3 is cut in full." in ok("cut", "R-2", "--done")


def changed(folder: Path, request: PlanRequest, sheet: str, was: str, becomes: str) -> str:
    write_folder(replace(request, stock=(), supply=()), folder)
    text = (folder / f"{sheet}.csv").read_text()
    assert was in text
    (folder / f"{sheet}.csv").write_text(text.replace(was, becomes))
    return ok("import", str(folder))


def test_pieces_too_small_for_what_is_wanted_now_are_told_and_cut_anew(planned: Plan, tmp_path: Path) -> None:
    begun(planned)
    told = changed(tmp_path, THREE, "strips", "J3,A,4,2,2", "J3,A,4,2.1,2")
    assert f"ENDANGERED: J3 has other strips {COUNTS_NO_LONGER}.\n" in told
    again = run("plan", *WEEK, "--json", "-")
    assert f"J3 has other strips {COUNTS_NO_LONGER}." in again.stderr
    plan = json.loads(again.stdout)
    assert [piece["length_mm"] for piece in plan["pieces"] if piece["job"] == "J3"] == [2100, 2100]
    assert "cut_already" not in plan


def test_a_batch_that_counts_no_longer_is_not_told_as_mixed(planned: Plan, store: Path, tmp_path: Path) -> None:
    begun(planned)
    changed(tmp_path, THREE, "strips", "J3,A,4,2,2", "J3,A,4,2.1,2")
    ok("receive", "R-9", "4.00x4.50", "--product", "G30", "--batch", "B9", "--bay", "E1", "--cost", "1")
    assert run("plan", *WEEK, "--pin", "J3=R-9").exit_code == 0
    ok("accept", *TODAY)
    assert schedule(store).mixed("J3") == {}
    assert "CAREFUL" not in ok("cut", "R-9")
    again = run("plan", *WEEK)
    assert "planned anew" not in again.stderr


def test_a_job_laid_in_other_grass_is_not_served_by_what_was_cut_before(planned: Plan, tmp_path: Path) -> None:
    begun(planned, BOTH)
    told = changed(tmp_path, BOTH, "jobs", "J3,Birch End,G30", "J3,Birch End,G40")
    assert f"ENDANGERED: J3 has changed to G40 {COUNTS_NO_LONGER}.\n" in told
    again = run("plan", *WEEK, "--json", "-")
    assert again.exit_code == 3
    assert [(one["job"], one["count"]) for one in json.loads(again.stdout)["short"]] == [("J3", 2)]


def test_a_sheet_for_a_job_that_is_laid_in_other_grass_by_now_says_so(
    planned: Plan, store: Path, tmp_path: Path
) -> None:
    planned(BOTH)
    ok("accept", *TODAY)
    changed(tmp_path, BOTH, "jobs", "J3,Birch End,G30", "J3,Birch End,G40")
    assert "CAREFUL: J3 has changed since this was planned" in ok("cut", "R-2")
    assert run("plan", *WEEK).exit_code == 3
    ok("accept", *TODAY)
    assert reserved(store) == {"R-1": 1}


@pytest.mark.parametrize("changed_before", [False, True])
def test_what_was_cut_for_a_cancelled_job_is_told_with_how_to_log_it(
    planned: Plan, tmp_path: Path, changed_before: bool
) -> None:
    begun(planned)
    if changed_before:
        changed(tmp_path, THREE, "strips", "J3,A,4,2,2", "J3,A,4,2.1,2")
    told = ok("cancel-job", "J3")
    command = ("offcut", "--product", "G30", "--batch", "B8", "--length", "2", "--width", "4", "--bay", "E1")
    assert "2 of its pieces are cut already.\n" in told
    assert "can be logged as an offcut: stockplan offcut --product G30 --batch B8\n" in told
    assert "cannot come off R-2" in refused("offcut", "R-2", *command[5:])
    ok(*command)
    ok("verify")


COUNT_AGAIN = (
    "J3: 2 pieces cut for it from R-2 count again; what of them was logged as an offcut since is to be written off, "
    "or it is planned with twice (see: stockplan stock --product G30 --batch B8 --form offcut)"
)


def test_pieces_that_count_again_as_a_job_is_changed_back_are_told(planned: Plan, tmp_path: Path) -> None:
    begun(planned)
    assert "count again" not in changed(tmp_path, THREE, "strips", "J3,A,4,2,2", "J3,A,4,2.1,2")
    assert f"{COUNT_AGAIN}\n" in changed(tmp_path, THREE, "strips", "J3,A,4,2,2", "J3,A,4,1.9,2")
    assert "count again" not in changed(tmp_path, THREE, "strips", "J3,A,4,2,2", "J3,A,4,1.8,2")


def test_pieces_that_count_again_as_a_job_is_promised_anew_are_told(planned: Plan, tmp_path: Path) -> None:
    begun(planned)
    ok("cancel-job", "J3")
    told = changed(tmp_path, THREE, "strips", "J3,A,4,2,2", "J3,A,4,2,2")
    assert f"{COUNT_AGAIN}; another job needs another code\n" in told


def test_pieces_that_count_for_a_job_measured_in_under_a_code_used_before_are_told(planned: Plan) -> None:
    begun(planned)
    ok("cancel-job", "J3")
    measured = ("measure-lawn", "J3", "4 x 2", "--product", "G30", "--lay-on", "2099-12-01")
    assert f"CAREFUL: {COUNT_AGAIN}; another job needs another code\n" in ok(*measured)
    assert "CAREFUL" not in ok("measure-lawn", "J3", "4 x 2.5")


def test_what_is_cut_for_a_job_cancelled_before_is_told_with_how_to_log_it(planned: Plan) -> None:
    planned()
    ok("accept", *TODAY)
    ok("cancel-job", "J2")
    done = run("cut", "R-1", "--done", *TODAY)
    assert "CAREFUL: J2 is no longer in the schedule, and 1 piece was cut for it; what is whole can be" in done.stderr
    assert "so that plans use it: stockplan offcut --product G30 --batch B7\n" in done.stderr


def test_what_is_cut_for_a_job_changed_before_is_told_with_how_to_log_it(planned: Plan, tmp_path: Path) -> None:
    planned()
    ok("accept", *TODAY)
    changed(tmp_path, THREE, "strips", "J3,A,4,2,2", "J3,A,4,2.1,2")
    done = run("cut", "R-2", "--done", *TODAY)
    assert f"CAREFUL: J3 has other strips {COUNTS_NO_LONGER}\n" in done.stderr
    assert "SHORT: J3 now lacks 2 pieces of A." in done.stderr


@pytest.mark.parametrize("days", [WEEK, ("--from", "2026-12-01", "--to", "2026-12-01", "--today", "2026-11-23")])
def test_other_sizes_from_the_same_things_are_told_as_different(
    planned: Plan, tmp_path: Path, days: tuple[str, ...]
) -> None:
    planned()
    ok("accept", *TODAY)
    changed(tmp_path, THREE, "strips", "J3,A,4,2,2", "J3,A,4,2.1,2")
    told = run("plan", *days).stderr
    assert "J3: from R-2 as before, but cut to 2 × (4.00 × 2.10); was 2 × (4.00 × 2.00)\n" in told
    assert "Nothing is planned differently" not in told


def test_what_is_to_be_cut_for_nothing_though_nothing_is_left_to_plan(
    planned: Plan, store: Path, tmp_path: Path
) -> None:
    many = replace(THREE, jobs=(replace(THREE.jobs[2], batch_rule=BatchRule.ANY, strips=(Strip("A", 4000, 6000, 2),)),))
    planned(many)
    ok("accept", *TODAY)
    assert reserved(store) == {"R-1": 1, "R-2": 1}
    ok("cut", "R-1", "--done")
    changed(tmp_path, many, "strips", "J3,A,4,6,2", "J3,A,4,6,1")
    told = refused("plan", *WEEK)
    assert "R-2 of plan 1 gives nothing that is still wanted, so do not cut it: it is free again once any plan" in told
    assert told.endswith("nothing is left to plan from 2026-11-30 to 2026-12-04: J3 is cut\n")
    ok("withdraw", "1")
    assert reserved(store) == {}


def test_only_plans_that_cut_for_jobs_of_these_days_are_told_to_keep_them(planned: Plan) -> None:
    planned()
    ok("accept", *TODAY)
    ok("cut", "R-2", "--done")
    tuesday = ("--from", "2026-12-01", "--to", "2026-12-01", "--today", "2026-11-23")
    assert "J2, J3 are cut or stay with plan 1; " in refused("plan", *tuesday)
    ok("cancel-job", "J2")
    assert "to 2026-12-01: J3 is cut\n" in refused("plan", *tuesday)


def test_what_stays_reserved_for_a_job_that_is_left_short_is_told(planned: Plan, store: Path, tmp_path: Path) -> None:
    planned(ON_TWO)
    ok("accept", *TODAY)
    changed(tmp_path, ON_TWO, "strips", "J3,A,4,9,", "J3,A,4,11,")
    assert run("plan", *WEEK).exit_code == 3
    told = ok("accept", *TODAY)
    assert "SHORT: nothing covers J3 (1 × A, 1 × B); why, and what would: stockplan show 2\n" in told
    assert "keep for what is short: R-1 (plan 1), R-2 (plan 1); to give it up: stockplan withdraw PLAN\n" in told
    assert reserved(store) == {"R-1": 1, "R-2": 1}


def test_a_sheet_for_a_job_that_lacks_a_piece_by_now_says_so(planned: Plan) -> None:
    planned(ON_TWO)
    ok("accept", *TODAY)
    assert "CAREFUL" not in ok("cut", "R-2")
    assert run("cut", "R-1", "--done", "--spoiled", "J3/A/1", *TODAY).exit_code == 3
    assert "CAREFUL: J3 lacks 1 of A, and no plan is to cut that\n" in ok("cut", "R-2")


def test_days_to_plan_again_hold_every_job_that_hangs_together_with_the_one_that_is_short(planned: Plan) -> None:
    apart = replace(APART, lay_on=MONDAY, strips=(Strip("A", 4000, 9000), Strip("B", 4000, 5000)))
    planned(replace(THREE, supply=(), jobs=(apart, THREE.jobs[1])))
    ok("accept", *TODAY)
    cut = run("cut", "R-1", "--done", "--spoiled", "J3/A/1", *TODAY)
    assert cut.exit_code == 3
    assert "moves other work too: stockplan plan --from 2026-11-30 --to 2026-12-01\n" in cut.output


def test_a_plan_of_too_few_days_is_refused_with_the_days_of_all_that_would_lose_something(
    planned: Plan, tmp_path: Path
) -> None:
    planned()
    ok("accept", *TODAY)
    changed(tmp_path, THREE, "strips", "J2,A,4,2.5", "J2,A,4,2.6")
    tuesday = run("plan", "--from", "2026-12-01", "--to", "2026-12-01", *TODAY)
    assert "plan 2026-11-30 to 2026-12-01 to take all of it in" in tuesday.stderr
    said = refused("accept", "2", *TODAY)
    assert "J1 would lose R-1, which plan 1 cuts for it, and is not planned here" in said
    assert "Plan again with: stockplan plan --from 2026-11-30 --to 2026-12-01\n" in said
    assert run("plan", "--from", "2026-11-30", "--to", "2026-12-01", *TODAY).exit_code == 0
    ok("accept", *TODAY)
