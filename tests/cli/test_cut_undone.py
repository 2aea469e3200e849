"""A cut undone as typed, in what condition what is kept of it is, and plans that end and go on with it."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

from stores_with_plans import SECOND, THREE, TODAY, Plan, cut_number, end, ok, refused, reserved, schedule, states
from typed_commands import WEEK, run

from stockplan.domain.jobs import Strip
from stockplan.store.ledger_rows import read_yard
from stockplan.store.session import open_store


def contents(store: Path) -> tuple[object, ...]:
    with open_store(str(store)) as opened, opened.reading() as session:
        yard = read_yard(session)
    return yard.items, yard.gone, yard.reservations, yard.account


def conditions(store: Path) -> dict[str, str]:
    with open_store(str(store)) as opened, opened.reading() as session:
        return dict(read_yard(session).conditions)


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
    void = f"{tags[0]} is on record no more, as its arrival was reversed; see: stockplan history {tags[0]}\n"
    assert refused("move", tags[0], "F1").endswith(void)
    assert refused("labels", tags[0], "--file", str(store.parent / "void.pdf")).endswith(void)
    assert contents(store) == before
    assert {one.item.tag for one in schedule(store).standing} == {"R-1", "R-2"}
    ok("verify")
    assert "R-1 is cut" in ok("cut", "R-1", "--done")
    assert not set(tags) & set(contents(store)[0])  # a tag is never given twice


def test_what_is_kept_of_a_damaged_roll_is_damaged_and_a_cut_undone_gives_all_back(planned: Plan, store: Path) -> None:
    planned()
    ok("accept", *TODAY)
    ok("condition", "R-2", "damaged")
    before = contents(store)
    said = ok("cut", "R-2", "--done")
    (tag,) = re.findall(r"Write (\S+) on", said)
    assert "R-2 was damaged, and so is what is kept of it by the record" in said
    assert conditions(store) == {tag: "damaged"}
    told = ok("reverse", cut_number(store), "--why", "slip")
    assert f"they are void: {tag}.\n" in told
    assert contents(store) == before
    assert conditions(store) == {"R-2": "damaged"}
    ok("verify")


def test_a_plan_tells_what_it_cuts_that_is_not_sound(planned: Plan) -> None:
    planned()
    ok("condition", "R-1", "damaged")
    ok("condition", "R-2", "wet")
    told = "Look at these before they are cut, by the record they are not sound: R-1 (damaged), R-2 (wet)."
    assert told in run("plan", *WEEK, *TODAY, "--work", "1").output
    assert told in run("accept", *TODAY).output


def test_a_plan_drawn_and_shown_again_tells_it_as_it_is_on_record_by_then(planned: Plan, tmp_path: Path) -> None:
    planned()
    drawing = tmp_path / "week.svg"
    told = "CAREFUL: it is wet, so heavier than is said here: cut it only when it is fit to be laid"
    for word in ("wet", "sound"):
        ok("condition", "R-2", word)
        shown = ok("show", "--drawing", str(drawing))
        drawn = " ".join(ElementTree.parse(drawing).getroot().itertext())
        assert [told in " ".join(text.split()) for text in (shown, drawn)] == [word == "wet"] * 2


def test_a_plan_shown_again_tells_of_what_came_in_for_its_orders_too(planned: Plan) -> None:
    planned(replace(THREE, stock=()))
    ok("accept", *TODAY)
    ok("order", "P1-1", *TODAY)
    ok("receive-order", "P1-1", "4x25", "--batch", "B9", "--bay", "east", "--tag", "R-9", *TODAY)
    told = "CAREFUL: it is damaged: cut it only when it is fit to be laid"
    assert told not in ok("show")
    ok("condition", "R-9", "damaged")
    assert told in ok("show").split("\nnew-1: ")[1].split("Step")[0]


def test_the_rest_of_a_wet_roll_cut_without_a_plan_stays_wet(planned: Plan, store: Path) -> None:
    planned()
    ok("condition", "R-2", "wet")
    before = contents(store)
    logged = ("offcut", "R-2", "--length", "2", "--width", "1", "--bay", "east", "--rest", "3", "--condition", "used")
    tag, rest = re.findall(r"Write (\S+) on", ok(*logged))
    assert conditions(store) == {tag: "used", rest: "wet"}
    ok("reverse", cut_number(store), "--why", "slip")
    assert contents(store) == before
    ok("verify")


def test_a_cut_undone_after_another_thing_was_to_make_up_for_it_says_what_is_too_many(
    planned: Plan, store: Path
) -> None:
    planned()
    ok("accept", *TODAY)
    refused("cut", "R-2", "--done", "--spoiled", "J3/A/2", "--tail", "1.5", status=3)
    grass = ("--product", "G30", "--batch", "B8", "--bay", "east", "--cost", "5")
    ok("receive", "R-9", "4x5", *grass)
    ok("plan", *WEEK)
    assert "Reserved: R-9." in ok("accept", *TODAY)
    many = "CAREFUL: J3 needs 2 of A; 0 cut and 3 to be cut are too many"
    undone = run("reverse", cut_number(store), "--why", "it was sound")
    assert (undone.exit_code, f"{many}; plan its days again before cutting for it.\n" in undone.stderr) == (0, True)
    for tag in ("R-2", "R-9"):
        assert f"{many}: plan again before cutting for it" in " ".join(ok("cut", tag).split())


def test_a_cut_stays_when_what_came_off_it_was_touched(planned: Plan, store: Path) -> None:
    planned()
    ok("accept", *TODAY)
    (tag, *_) = re.findall(r"Write (\S+) on", ok("cut", "R-2", "--done"))
    ok("move", tag, "attic")
    before = contents(store)
    told = refused("reverse", cut_number(store), "--why", "slip")
    assert "the cut of R-2 cannot be undone" in told
    assert re.search(rf"^  movement \d+: {tag} moved to bay attic", told, re.M)
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
    assert re.search(r"^  movement \d+: C-\w+ came off R-2", told, re.M)
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


def test_a_pin_to_what_is_cut_for_its_job_asks_no_more_of_it(planned: Plan, store: Path) -> None:
    planned(replace(THREE, jobs=THREE.jobs[2:]))
    assert run("plan", *WEEK, "--pin", "J3=R-1").exit_code == 0
    ok("accept", *TODAY)
    said = run("cut", "R-1", "--done", "--spoiled", "J3/A/1", *TODAY).output
    (tail,) = re.findall(r"Write (\S+) on the part roll", said)
    assert f"J3 A, 4.00 × 2.00 m: from {tail}" in said
    ok("accept", *TODAY)
    again = refused("plan", *WEEK)
    assert "nothing is left to plan" in again
    assert "J3 is pinned" not in again
    assert "J3 cannot be cut from R-1: it has left the yard" in refused("plan", *WEEK, "--again", "--pin", "J3=R-1")
    assert ok("pins") == "J3=R-1\n"
