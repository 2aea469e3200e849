"""Labels of a plan and of what is reserved for one: which there are, and what they say."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

from stores_with_plans import THREE, TODAY, Plan, ok
from typed_commands import WEEK, run

from stockplan.actions.labelling import Wanted, find_labels
from stockplan.actions.piece_labels import NOT_KNOWN
from stockplan.report.label_facts import LabelFacts


def test_what_is_reserved_bears_the_jobs_it_is_for_and_no_longer_when_it_is_free(planned: Plan, store: Path) -> None:
    planned()
    ok("accept", *TODAY)

    def jobs() -> list[str]:
        return [facts.job for facts in find_labels(str(store), Wanted(("R-1", "R-2"))).facts]

    assert jobs() == ["J1, J2", "J3"]
    ok("withdraw", "1")
    assert jobs() == ["", ""]


def test_pieces_bear_the_batch_of_what_they_come_off_once_that_is_known(planned: Plan, store: Path) -> None:
    planned(replace(THREE, stock=()))
    proposed = find_labels(str(store), Wanted(plan=1))
    assert {facts.what for facts in proposed.facts} == {"piece off new-1"}
    ok("accept", *TODAY)
    coming = find_labels(str(store), Wanted(plan=1))
    assert {facts.what for facts in coming.facts} == {"piece off P1-1"}
    assert {facts.batch for facts in coming.facts} == {NOT_KNOWN}
    assert {facts.code for facts in coming.facts} >= {"J1/A/1", "J2/A/1", "J3/A/1", "J3/A/2"}
    ok("order", "P1-1", *TODAY)
    came = ("4x25", "--batch", "B9", "--bay", "east", "--tag", "R-9", "--today", "2026-11-29")
    ok("receive-order", "P1-1", *came)
    here = find_labels(str(store), Wanted(plan=1)).facts
    assert {(facts.batch, facts.what) for facts in here} == {("B9", "piece off R-9")}


def test_how_many_leftovers_have_no_tag_yet_is_told_until_they_are_cut(planned: Plan, tmp_path: Path) -> None:
    """What is still to come leaves something over as well as what lies here."""

    def waiting() -> int:
        told = re.search(r"(\d+) leftovers? without a tag yet", ok("labels", "--plan", "1", "--file", str(file)))
        return int(told[1]) if told else 0

    file = tmp_path / "plan.pdf"
    planned(replace(THREE, stock=()))
    ok("accept", *TODAY)
    ordered = waiting()
    assert ordered > 0
    ok("order", "P1-1", *TODAY)
    ok("receive-order", "P1-1", "4x25", "--batch", "B9", "--bay", "east", "--tag", "R-9", "--today", "2026-11-29")
    assert waiting() == ordered
    ok("cut", "R-9", "--done", *TODAY)
    assert waiting() == 0


def test_pieces_that_a_plan_gave_up_get_no_labels(planned: Plan, store: Path, tmp_path: Path) -> None:
    planned()
    assert len(find_labels(str(store), Wanted(plan=1)).facts) == 6
    ok("accept", *TODAY)
    ok("cut", "R-1", "--done")
    assert find_labels(str(store), Wanted(plan=1)).given_up == ()
    ok("withdraw", "1")
    found = find_labels(str(store), Wanted(plan=1))
    assert found.given_up == ("J3/A/1", "J3/A/2")
    assert {facts.job for facts in found.facts if "/" in facts.code} == {"J1", "J2"}
    said = ok("labels", "--plan", "1", "--file", str(tmp_path / "plan.pdf"))
    assert "No labels for what plan 1 is no longer to cut: J3/A/1, J3/A/2.\n" in said
    assert "without a tag yet" not in said


def test_pieces_on_an_order_that_another_plan_took_over_get_labels_there_only(planned: Plan, store: Path) -> None:
    planned(replace(THREE, stock=()))
    ok("accept", *TODAY)
    ok("order", "P1-1", *TODAY)
    assert run("plan", *WEEK, "--again").exit_code == 0
    ok("accept", *TODAY)
    one, two = (find_labels(str(store), Wanted(plan=number)) for number in (1, 2))
    assert (one.facts, len(one.given_up)) == ((), 6)
    assert (len(two.facts), two.given_up) == (6, ())


def test_that_there_is_nothing_to_print_is_said(planned: Plan, tmp_path: Path) -> None:
    planned()
    ok("accept", *TODAY)
    ok("withdraw", "1")
    file = tmp_path / "plan.pdf"
    said = ok("labels", "--plan", "1", "--file", str(file))
    assert f"There is nothing to print a label for; {file} was not written.\n" in said
    assert not file.exists()


def test_labels_of_a_bay_in_which_nothing_lies_say_which_may_be_meant(planned: Plan, tmp_path: Path) -> None:
    planned()
    for typed, meant in (("nort", "perhaps north is meant"), ("zzz", "something lies in north")):
        told = run("labels", "--bay", typed, "--file", str(tmp_path / "bay.pdf"))
        assert (told.exit_code, told.stderr) == (1, f"stockplan: nothing lies in bay {typed}; {meant}\n")


def test_the_label_of_a_single_piece_is_printed_again_by_its_name(planned: Plan, store: Path, tmp_path: Path) -> None:
    planned()
    ok("accept", *TODAY)

    def found(code: str) -> list[LabelFacts]:
        return list(find_labels(str(store), Wanted((code,), or_pieces=True)).facts)

    of_plan = {facts.code: facts for facts in find_labels(str(store), Wanted(plan=1)).facts}
    assert {code: found(code) for code in of_plan} == {code: [facts] for code, facts in of_plan.items()}
    ok("cut", "R-1", "--done")
    assert {code: found(code) for code in of_plan} == {code: [facts] for code, facts in of_plan.items()}
    file = tmp_path / "piece.pdf"
    assert f"Wrote {file}: 2 labels." in ok("labels", "J1/A/1", "R-2", "--file", str(file))
    of_all = ("labels", "--plan", "1", "--file", str(file))
    assert ok(*of_all, "J1/A/1") == ok(*of_all)  # each once


def test_a_spoiled_piece_gets_no_label_and_what_is_cut_in_its_place_does(planned: Plan, tmp_path: Path) -> None:
    planned()
    ok("accept", *TODAY)
    run("cut", "R-2", "--done", "--spoiled", "J3/A/2", "--tail", "1.5", "--seconds", "1")
    file = str(tmp_path / "piece.pdf")
    told = run("labels", "J3/A/2", "--file", file)
    assert (told.exit_code, told.stderr) == (
        1,
        "stockplan: J3/A/2 is a piece for job J3, cut from R-2 (spoiled); see: stockplan history R-2\n",
    )
    ok("receive", "R-9", "4x5", "--product", "G30", "--batch", "B8", "--bay", "east", "--cost", "5")
    ok("plan", *WEEK)
    ok("accept", *TODAY)
    assert "1 label." in ok("labels", "J3/A/2", "--file", file)


def test_a_piece_of_which_only_the_weight_is_asked_is_not_said_never_to_have_been_in_the_yard(planned: Plan) -> None:
    planned()
    ok("accept", *TODAY)
    told = run("lift", "J1/A/1")
    assert (told.exit_code, told.stderr) == (
        1,
        "stockplan: J1/A/1 is a piece that plan 1 is still to cut from R-1; see: stockplan cut R-1\n",
    )


def test_what_only_sheets_have_is_refused_for_a_label_printer(planned: Plan, tmp_path: Path) -> None:
    planned()
    file = tmp_path / "label.pdf"
    told = run("labels", "R-1", "--rows", "3", "--skip", "1", "--file", str(file))
    assert told.exit_code == 2
    assert "only sheets of A4 have such; add --a4" in told.stderr
    assert "--rows and --skip" in told.stderr
    ok("labels", "R-1", "--a4", "--rows", "3", "--file", str(file))
    assert len(file.read_bytes()) > 0
