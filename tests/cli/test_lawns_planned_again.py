"""A lawn that an accepted plan lays out stays laid out so."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from builders import ROLL, small_request
from typed_commands import fill, run

from stockplan.domain.jobs import Strip

DAY = ("--from", "2026-12-03", "--to", "2026-12-03", "--today", "2026-11-23", "--work", "20")


def test_what_an_accepted_plan_lays_out_is_left_to_it_and_taken_up_as_it_lies(store: Path) -> None:
    fill(store, small_request())
    new = ("--product", "G30", "--lay-on", "2026-12-03", "--pile", "open")
    assert run("measure-lawn", "J9", "6.2 x 4.8", "--lawn", "back", *new).exit_code == 0
    first = run("plan", *DAY, "--json", "-")
    assert first.exit_code == 0, first.output
    (layout,) = json.loads(first.stdout)["layouts"]
    assert run("accept", "1").exit_code == 0
    again = run("plan", *DAY)
    assert again.exit_code == 1
    assert "J9 is cut or stays with plan 1" in again.stderr
    same = run("measure-lawn", "J9", "6.2 x 4.8", "--lawn", "back")
    assert same.exit_code == 0
    assert "ENDANGERED" not in same.output
    smaller = run("measure-lawn", "J9", "6.2 x 4.6", "--lawn", "back")
    assert "ENDANGERED: J9 has been measured again; " in smaller.stderr
    careful = "CAREFUL: J9 has changed since this was planned"
    assert careful in run("cut", "R-1").stdout
    assert "is still to be cut as plan 1 has it.\nWhat to do: plan these days again" in smaller.stderr
    assert run("measure-lawn", "J9", "6.2 x 4.8", "--lawn", "back").exit_code == 0
    assert careful not in run("cut", "R-1").stdout
    anew = run("plan", *DAY, "--again", "--json", "-")
    assert anew.exit_code == 0, anew.output
    (laid_again,) = json.loads(anew.stdout)["layouts"]
    assert laid_again["job"] == layout["job"] == "J9"


@pytest.mark.parametrize(
    ("spoiled", "counts"),
    [((), "2 pieces were cut for it from R-1: they count"), (("B",), "1 piece was cut for it from R-1: it counts")],
)
def test_a_lawn_measured_again_after_something_was_cut_for_it_is_planned_and_accepted_anew(
    store: Path, spoiled: tuple[str, ...], counts: str
) -> None:
    fill(store, small_request())
    new = ("--product", "G30", "--lay-on", "2026-12-03", "--pile", "bearing 0")
    assert run("measure-lawn", "J9", "6.2 x 4.8", "--lawn", "back", *new).exit_code == 0
    first = run("plan", *DAY, "--json", "-")
    assert first.exit_code == 0, first.output
    assert {piece["source"] for piece in json.loads(first.stdout)["pieces"]} == {"R-1"}
    assert run("accept", "1", "--today", "2026-11-23").exit_code == 0
    lost = [option for strip in spoiled for option in ("--spoiled", f"J9/{strip}/1")]
    cut = run("cut", "R-1", "--done", "--today", "2026-11-23", *lost, "--seconds", "1")
    assert "R-1 is cut" in cut.stdout, cut.output
    told = f"J9 has been measured again since {counts} no longer"
    smaller = run("measure-lawn", "J9", "6.2 x 4.6", "--lawn", "back")
    assert told in smaller.stderr
    anew = run("plan", *DAY, "--json", "-")
    assert anew.exit_code == 0, anew.output
    assert told in anew.stderr
    plan = json.loads(anew.stdout)
    (laid,) = plan["layouts"]
    strips = [strip for lawn in laid["lawns"] for strip in lawn["strips"]]
    assert len(plan["pieces"]) == len(strips)
    accepted = run("accept", "--today", "2026-11-23")
    assert accepted.exit_code == 0, accepted.output
    assert told not in run("measure-lawn", "J9", "6.2 x 4.6", "--lawn", "back").stderr
    assert "J9 is cut or stays with plan" in run("plan", *DAY).stderr


def test_a_lawn_that_cannot_be_laid_out_is_told_once(store: Path) -> None:
    fill(store, small_request())
    sides = [option for number in (1, 2, 3, 4) for option in ("--side", f"{number} wall{number}, no seam")]
    new = ("--product", "G30", "--lay-on", "2026-12-03")
    assert run("measure-lawn", "J9", "6.2 x 4.8", *sides, *new).exit_code == 0
    told = run("plan", "--from", "2026-11-30", "--to", "2026-12-04", "--today", "2026-11-23", "--work", "20")
    assert told.exit_code == 3
    assert told.stderr.count("J9") == 1
    no_way = "J9 is not planned: no way of laying its lawns keeps the firm's rules with no seam at wall1"
    assert no_way in told.stderr
    assert no_way in run("why", "J9").stderr
    assert "plan 1 neither serves, cuts nor orders J8" in run("why", "J8").stderr


def test_a_lawn_cut_as_it_was_measured_again_is_done_though_the_plan_before_goes_on(store: Path) -> None:
    """The first plan has another job left to cut, so the layout that it picked is still at hand."""
    request = small_request()
    later = replace(request.jobs[0], code="J2", lay_on=date(2026, 12, 3), strips=(Strip("A", 4000, 6000),))
    spare = tuple(replace(ROLL, tag=tag, length_mm=20000, batch="B9") for tag in ("R-3", "R-4"))
    fill(store, replace(request, jobs=(later,), stock=(*request.stock, *spare), supply=()))
    new = ("--product", "G30", "--lay-on", "2026-12-03", "--pile", "bearing 0")
    assert run("measure-lawn", "J9", "6.2 x 4.8", "--lawn", "back", *new).exit_code == 0
    first = run("plan", *DAY, "--json", "-")
    assert first.exit_code == 0, first.output
    pieces = json.loads(first.stdout)["pieces"]
    assert run("accept", "1", "--today", "2026-11-23").exit_code == 0
    (apart,) = {piece["source"] for piece in pieces if piece["job"] == "J2"}
    mine = {piece["source"] for piece in pieces if piece["job"] == "J9"}
    assert apart not in mine
    for tag in sorted(mine):
        assert run("cut", tag, "--done", "--today", "2026-11-23").exit_code == 0
    assert run("measure-lawn", "J9", "6.2 x 2.6", "--lawn", "back").exit_code == 0
    anew = run("plan", *DAY, "--json", "-")
    assert anew.exit_code == 0, anew.output
    assert run("accept", "--today", "2026-11-23").exit_code == 0
    said = ""
    for tag in sorted({piece["source"] for piece in json.loads(anew.stdout)["pieces"]}):
        said = run("cut", tag, "--done", "--today", "2026-11-23").output
        assert "SHORT" not in said
    assert "J9 is cut in full." in said
    assert "J2, J9 are cut or stay with plan 1; " in run("plan", *DAY).stderr


def test_what_is_cut_of_a_lawn_counts_also_after_the_rest_was_planned_and_accepted_anew(store: Path) -> None:
    request = small_request()
    fill(store, replace(request, stock=(*request.stock, replace(ROLL, tag="R-9"))))
    new = ("--product", "G30", "--lay-on", "2026-12-03", "--pile", "bearing 0")
    assert run("measure-lawn", "J9", "6.2 x 4.8", "--lawn", "back", *new).exit_code == 0
    assert run("plan", *DAY).exit_code == 0
    assert run("accept", "1", "--today", "2026-11-23").exit_code == 0
    run("cut", "R-1", "--done", "--today", "2026-11-23", "--spoiled", "J9/B/1", "--seconds", "1")
    assert run("accept", "2", "--today", "2026-11-23").exit_code == 0
    assert "J9 is cut or stays with plan 2" in run("plan", *DAY).stderr
    again = run("plan", *DAY, "--again", "--json", "-")
    assert again.exit_code == 0, again.output
    plan = json.loads(again.stdout)
    assert [(one["job"], one["strip"], one["count"]) for one in plan["cut_already"]] == [("J9", "A", 1)]
    assert [(one["job"], one["strip"]) for one in plan["pieces"]] == [("J9", "B")]
    assert run("accept", "3", "--today", "2026-11-23").exit_code == 0
    assert "J9 is cut or stays with plan 3" in run("plan", *DAY).stderr
