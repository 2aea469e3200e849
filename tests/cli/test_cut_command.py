"""Cutting as typed: the sheet, what came off, what is spoiled."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from builders import OTHER_ROLL
from stores_with_plans import SECOND, THREE, TODAY, Plan, cut_number, end, ok, refused, reserved, states
from typed_commands import WEEK, run

from stockplan import cli
from stockplan.domain.came_off import CameOff
from stockplan.domain.jobs import Strip
from stockplan.store.ledger_rows import read_stock
from stockplan.store.session import open_store


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
        "bin",
    ):
        assert words in sheet
    assert "was never in the yard" in refused("cut", "R-5")


def test_cut_as_planned_gives_tags_to_what_is_kept_and_ends_jobs_and_plan(planned: Plan, store: Path) -> None:
    planned()
    ok("accept", *TODAY)
    said = ok("cut", "R-2", "--done")
    (tag,) = re.findall(r"^Write (P-\w+) on the part roll of 4.00 × 4.00 m, batch B8, bay north.$", said, re.M)
    assert f"\nIts label: stockplan labels {tag} --file labels.pdf\n" in said
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


def test_what_is_kept_of_a_thing_without_a_bay_has_none_either(planned: Plan) -> None:
    planned(replace(THREE, stock=tuple(replace(item, bay="") for item in THREE.stock)))
    ok("accept", *TODAY)
    assert re.search(r"batch B8, bay not recorded\.$", ok("cut", "R-2", "--done"), re.M)


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


def test_a_mend_that_opens_a_whole_roll_says_what_other_work_will_leave(planned: Plan) -> None:
    planned()
    ok("accept", *TODAY)
    ok("receive", "R-9", "4x25", "--product", "G30", "--batch", "B9", "--bay", "north", "--cost", "10")
    said = ok("cut", "R-1", "--done", "--spoiled", "J2/A/1", "--tail", "1", *TODAY)
    assert "J2 A, 4.00 × 2.50 m: from R-9, 4.00 × 25.00 m, batch B9\n" in said
    assert "R-9 may stay whole: accepted plans will leave over 4.00 × 4.00 m of R-2, large enough for all" in said


def test_what_is_found_wet_though_a_plan_is_to_cut_it_says_so(planned: Plan) -> None:
    planned()
    assert "CAREFUL" not in ok("condition", "R-2", "wet")
    ok("accept", *TODAY)
    assert "CAREFUL: plan 1 is to cut it; its sheet: stockplan cut R-2\n" in ok("condition", "R-2", "damaged")
    assert "CAREFUL" not in ok("condition", "R-2", "sound")


def test_the_bay_of_what_is_kept_is_told_together_with_what_cannot_have_come_off(planned: Plan, store: Path) -> None:
    planned()
    ok("accept", *TODAY)
    told = refused("cut", "R-2", "--done", "--leftover", "9=1x1", "--bay", "North")
    assert "there is no leftover 9" in told
    assert "bay: differs only in letter case from one in the yard, found 'North', would be right: 'north'" in told
    assert "found 'North'" in refused("cut", "R-2", "--done", "--bay", "North")
    assert "bay: longer than" in refused("cut", "R-2", "--done", "--bay", "N" * 500)
    assert reserved(store) == {"R-1": 1, "R-2": 1}


def test_the_code_on_a_piece_tells_what_it_was_cut_from(planned: Plan) -> None:
    planned()
    ok("accept", *TODAY)
    assert "J2/A/1 is a piece that plan 1 is still to cut from R-1" in refused("history", "J2/A/1")
    ok("cut", "R-2", "--done", "--spoiled", "J3/A/2", "--seconds", "0.1")
    for code, source in (("J3/A/1", "R-2"), ("J3/A/2", "R-2 (spoiled)")):
        assert f"{code} is a piece for job J3, cut from {source}; see: stockplan history R-2" in refused(
            "history", code
        )


def test_a_spoiled_piece_that_nothing_mends_ends_with_3(planned: Plan) -> None:
    planned()
    ok("accept", *TODAY)
    result = run("cut", "R-2", "--done", "--spoiled", "J3/A/1", "--spoiled", "J3/A/2", "--tail", "1.5", *TODAY)
    assert result.exit_code == 0
    assert (
        "\n  2 × J3 A, 4.00 × 2.00 m: from new-1, a new roll of 4.00 × 25.00 m from Fernlea Mills, 1,100.00, to order"
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


def test_a_sheet_that_goes_to_a_printer_is_not_asked_about(planned: Plan, store: Path) -> None:
    import pty  # noqa: PLC0415

    planned()
    ok("accept", *TODAY)
    before = end(store)
    ours, theirs = pty.openpty()
    os.write(ours, b"y\n\n\n\n\n")
    done = subprocess.run(
        [sys.executable, "-m", "stockplan", "--store", str(store), "cut", "R-2"],
        stdin=theirs, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, timeout=60, check=False,
    )  # fmt: skip
    os.close(ours)
    os.close(theirs)
    assert done.returncode == 0, done.stdout
    assert "R-2: part roll 4.00 × 8.00 m" in done.stdout
    assert "Is it cut?" not in done.stdout
    assert end(store) == before


@pytest.mark.parametrize("off", ["--bay Z1", "--tail 1"])
def test_what_came_off_is_not_taken_for_recorded_where_nobody_says_done(planned: Plan, store: Path, off: str) -> None:
    planned()
    ok("accept", *TODAY)
    before = end(store)
    assert "what came off is recorded with --done; nothing was stored" in refused("cut", "R-2", *off.split(), status=2)
    assert end(store) == before


def test_a_roll_that_measures_short_endangers_its_jobs(planned: Plan, tmp_path: Path) -> None:
    planned()
    ok("accept", *TODAY)
    told = run("measure", "R-2", "4x7.9")
    assert "ENDANGERED" not in told.stderr
    told = run("measure", "R-2", "4x3.5")
    assert told.exit_code == 0
    assert "ENDANGERED: J3: R-2 measures 4.00 × 3.50 m and cannot give A no. 2 (4.00 × 2.00 m)." in told.stderr
    assert "plan these days again" in told.stderr
    sheet = tmp_path / "north.csv"
    sheet.write_text("tag,measured_length_m\nR-1,\nR-2,3.4\n", encoding="utf-8")
    told = run("count", "north", "--found", str(sheet), "--yes")
    assert "ENDANGERED: J3: R-2 measures 4.00 × 3.40 m" in told.stderr


def test_pieces_of_jobs_with_slashes_and_blanks_in_their_names(
    planned: Plan, store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from typer.testing import CliRunner  # noqa: PLC0415

    odd = replace(SECOND, code="24/117, rear", strips=(Strip("front/A", 4000, 2000, 2), Strip("1", 4000, 1000)))
    planned(replace(THREE, jobs=(odd,)))
    ok("accept", *TODAY)
    (source,) = reserved(store)
    told = refused("cut", source, "--done", "--spoiled", "24/117, rear/front/A/3")
    assert "no piece 24/117, rear/front/A/3 is cut" in told
    assert "24/117, rear/front/A/1" in told
    assert "no piece J1/A/²/1 is cut" in refused("cut", source, "--done", "--spoiled", "J1/A/²")
    monkeypatch.setattr("stockplan.cli.cutting._someone_answers", lambda: True)
    typed = "y\n24/117, rear/front/A/9\n24/117, rear/front/A/2\n\n\n\n"
    done = CliRunner().invoke(cli.app, ["cut", source, "--seconds", "0.1", *TODAY], input=typed)
    assert "is on this sheet" in done.output
    assert "24/117, rear now lacks 1 piece of front/A" in done.output
    ok("reverse", cut_number(store), "--why", "slip")
    done = run("cut", source, "--done", "--spoiled", "24/117, rear/1", "--seconds", "0.1", *TODAY)
    assert "24/117, rear now lacks 1 piece of 1" in done.output


def test_a_leftover_is_stated_once(planned: Plan, store: Path) -> None:
    planned()
    ok("accept", *TODAY)
    before = end(store)
    told = refused("cut", "R-2", "--done", "--leftover", "1=4x3", "--leftover", "1=4x2", status=2)
    assert "given twice: 1" in told
    told = refused("cut", "R-2", "--done", "--keep", "0.1x0.1")
    assert "come to 32.0 m², 0.010 m² more than R-2 holds" in told
    assert end(store) == before


@pytest.mark.parametrize(("meanwhile", "stored"), [(("measure", "R-2", "4x6.5"), False), (("move", "R-2", "Z9"), True)])
def test_answers_are_only_taken_for_the_sheet_that_was_shown(
    planned: Plan, store: Path, monkeypatch: pytest.MonkeyPatch, meanwhile: tuple[str, ...], stored: bool
) -> None:
    planned()
    ok("accept", *TODAY)

    def answer_late(_: object, off: CameOff) -> CameOff:
        ok(*meanwhile)
        return off

    monkeypatch.setattr("stockplan.cli.cutting._someone_answers", lambda: True)
    monkeypatch.setattr("stockplan.cli.cutting._ask", answer_late)
    if stored:
        assert "R-2 is cut" in ok("cut", "R-2")
    else:
        assert "the sheet of R-2 is not as it was shown; nothing was stored" in refused("cut", "R-2")
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
