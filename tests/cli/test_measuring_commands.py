"""Lawns measured in from the command line, as the README tells it and as people get it wrong."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest
from typed_commands import fill, run, small_case

from stockplan.domain.jobs import Job
from stockplan.domain.lawn import LawnPlace
from stockplan.domain.pile import parse_pile
from stockplan.store.repository import read_jobs
from stockplan.store.session import open_store

ROOT = Path(__file__).parent.parent.parent
NEW = ("--product", "G30", "--lay-on", "2026-12-03", "--site", "5 Quince Court")


@pytest.fixture
def yard(store: Path) -> Path:
    """A store with one product and job J1, which has strips of its own."""
    fill(store, small_case().request)
    return store


@pytest.fixture(scope="module")
def standing_yard(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same for all commands that store nothing."""
    place = tmp_path_factory.mktemp("standing") / "yard.db"
    fill(place, small_case().request)
    return place


def jobs(store: Path) -> dict[str, Job]:
    with open_store(str(store)) as opened, opened.reading() as session:
        return {job.code: job for job in read_jobs(session)}


def marked(name: str) -> str:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    (block,) = re.findall(rf"<!-- {name} -->\n```text\n(.*?)```", text, re.DOTALL)
    return block


def test_a_new_job_of_a_day_that_has_passed_is_told(yard: Path) -> None:
    done = run("measure-lawn", "J9", "6 x 4", "--product", "G30", "--lay-on", "2001-02-03")
    assert (done.exit_code, done.stderr) == (0, "Job J9 is to be laid on 2001-02-03, which has passed.\n")
    assert run("measure-lawn", "J8", "6 x 4", "--product", "G30", "--lay-on", "2099-02-03").stderr == ""


def test_the_readmes_notes_give_what_the_readme_shows(store: Path, tmp_path: Path) -> None:
    sheets = tmp_path / "sheets"
    sheets.mkdir()
    for name in ("products", "supply", "stock"):
        shutil.copy(ROOT / f"demo_data/{name}.csv", sheets)
    assert run("import", str(sheets)).exit_code == 0
    notes = tmp_path / "back.txt"
    notes.write_text(marked("notes"), encoding="utf-8")
    command = (
        "measure-lawn",
        "J301",
        str(notes),
        "--product",
        "K30",
        "--lay-on",
        "2026-12-03",
        "--site",
        "5 Quince Court",
    )
    result = run(*command)
    assert result.exit_code == 0, result.output
    assert result.stdout == marked("measured")
    job = jobs(store)["J301"]
    assert (job.site, job.product, job.lay_on.isoformat(), job.strips) == ("5 Quince Court", "K30", "2026-12-03", ())
    assert (job.lawns[0].label, job.lawns[0].place, len(job.lawns[0].holes)) == ("back", LawnPlace.BACK, 2)
    typed = "measure-lawn J301 '6.2 x 4.8' --lawn front --place front --side '1 house'"
    assert typed in (ROOT / "README.md").read_text(encoding="utf-8")
    front = run("measure-lawn", "J301", "6.2 x 4.8", "--lawn", "front", "--place", "front", "--side", "1 house")
    assert front.exit_code == 0, front.output
    assert [lawn.label for lawn in jobs(store)["J301"].lawns] == ["back", "front"]


def test_measured_again_a_lawn_takes_the_old_ones_place_and_the_same_again_changes_nothing(yard: Path) -> None:
    assert run("measure-lawn", "J9", "6 x 4; side 1 house", *NEW).exit_code == 0
    assert run("measure-lawn", "J9", "3 x 2", "--lawn", "side").exit_code == 0
    before = jobs(yard)
    again = run("measure-lawn", "J9", "3 x 2", "--lawn", "side")
    assert "measured anew: side" in again.stdout
    assert jobs(yard) == before
    assert run("measure-lawn", "J9", "7 x 4", "--pile", "bearing 90").exit_code == 0
    after = jobs(yard)["J9"]
    assert {lawn.label: lawn.area_mm2 for lawn in after.lawns} == {"lawn": 28_000_000, "side": 6_000_000}
    assert after.pile == parse_pile("bearing 90")
    assert run("measure-lawn", "J9", "7 x 4", "--pile", "practice").exit_code == 0
    assert jobs(yard)["J9"].pile is None


def test_everything_that_can_be_said_of_a_lawn(yard: Path) -> None:
    run("measure-lawn", "J9", "6 x 4", *NEW, "--lawn", "front", "--batch-rule", "any")
    options = (
        "--place",
        "back",
        "--side",
        "1 house",
        "--side",
        "3, path, no seam",
        "--side",
        "4 no-seam",
        "--north",
        "12.5",
    )
    result = run("measure-lawn", "J9", "6 x 4", "--lawn", "back", *options, "--unseen-from", "front", "--pile", "open")
    assert result.exit_code == 0, result.output
    assert "Pile over back: open; the planner picks the axis." in result.stdout
    lawn = jobs(yard)["J9"].lawns[1]
    assert [(note.number, note.name, note.no_seam) for note in lawn.notes] == [
        (0, "house", False),
        (2, "path", True),
        (3, "", True),
    ]
    assert (lawn.place, lawn.y_bearing, lawn.cannot_be_seen_with) == (LawnPlace.BACK, 12.5, ("front",))


def test_looking_stores_nothing_and_needs_no_store(store: Path) -> None:
    result = run("measure-lawn", "J9", "6 x 4", "--look")
    assert result.exit_code == 0
    assert "24.00 m²" in result.stdout
    assert "Pile over lawn: open; the planner picks the axis." in result.stdout
    astray = run("measure-lawn", "J9", "6 x 4; side 1 house; pile towards hose", "--look")
    assert astray.exit_code == 1
    assert "no edge is called 'hose'; named edges: house" in astray.stderr
    assert not store.exists()


def test_looking_knows_the_job(yard: Path) -> None:
    assert run("measure-lawn", "J9", "6 x 4; side 1 house", "--pile", "from house", *NEW).exit_code == 0
    result = run("measure-lawn", "J9", "7 x 4; side 1 house", "--look")
    assert "Pile over lawn: from house; bearing 0°." in result.stdout
    assert jobs(yard)["J9"].lawns[0].area_mm2 == 24_000_000


def test_tapes_and_offsets_are_told_with_how_far_they_agree(store: Path) -> None:
    plot = "plot A B C D clockwise; A B 6.00; B C 4.00; C D 6.01; D A 4.00; A C 7.21; B D 7.22"
    result = run("measure-lawn", "J9", plot, "--look")
    assert "in standard errors" in result.stdout
    assert re.search(r"A–C +7\.21 +\+\d +0\.\d", result.stdout)
    offsets = run("measure-lawn", "J9", "baseline 8; 0 left 2; 2 left 2.6; 4 left 3; 6 left 2.6; 8 left 2", "--look")
    assert "20.40 m² by the trapezoidal rule, 20.53 m² by Simpson's, +0.7 %" in offsets.stdout


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        (("J8", "6 x 4"), 1, "there is no job 'J8'; to make it, say --product and --lay-on as well"),
        (("J1", "6 x 4", *NEW), 1, "job J1 is there already"),
        (("j1", "6 x 4", *NEW), 1, "differs from 'J1' only in letter case"),
        (("J9", "6 x 4", "--product", "G31", "--lay-on", "2026-12-03"), 1, "no product G31; it knows: G30"),
        (("J9", "6 x 4", "--product", "G30"), 2, "both --product and --lay-on"),
        (("J1", "6 x 4", "--site", "here"), 2, "needs --product and --lay-on"),
        (("J1", "back.txt"), 1, "back.txt: there is no such file"),
        (("J1", "6 x 4; side 9 house; place rear"), 1, "Nothing was stored: 2 faults."),
        (("J1", "62 x 48"), 1, "read as feet it would be 276.5 m²; would be right: sizes in the unit stated;"),
        (("J1", "6 x 4", "--pile", "towards hose"), 1, "no edge is called 'hose'; no edge has a name"),
        (("J1", "6 x 4", "--pile", "hither"), 2, "cannot be read; write 'towards EDGE'"),
        (("J1", "6 x 4", "--side", "house"), 2, "says nothing of a side"),
        (("J1", "6 x 4", "--side", "5 house"), 1, "lawn has sides 1 to 4; there is no side 5"),
        (("J1", "6 x 4", "--north", "361"), 2, "is not a bearing"),
        (("J1", "6 x 4", "--unseen-from", "front"), 1, "cannot be seen with 'front', which is no other lawn"),
        (("J1", "6 x 4", "--lawn", "x" * 41), 1, "a lawn's name is 1 to 40 characters"),
        (("J1", "6 x 4", "--units", "yd"), 2, "is not one of m, mm, ft"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_said_and_nothing_is_stored(
    standing_yard: Path, arguments: tuple[str, ...], status: int, words: str
) -> None:
    result = run("--store", str(standing_yard), "measure-lawn", *arguments)
    assert result.exit_code == status
    assert words in " ".join(result.stderr.replace("│", " ").split())
    found = jobs(standing_yard)
    assert set(found) == {"J1"}
    assert found["J1"].lawns == ()


def test_all_that_stands_against_measuring_in_is_told_at_once(standing_yard: Path) -> None:
    def told(*arguments: str) -> str:
        result = run("--store", str(standing_yard), "measure-lawn", *arguments)
        assert result.exit_code == 1
        return result.stderr

    wrong = ("--product", "G31", "--lay-on", "2026-12-03", "--lawn", "x" * 41)
    said = told("j1", "6 x", *wrong)
    for words in ("a side missing", "a lawn's name is", "letter case; write J1", "no product G31", ": 4 faults."):
        assert words in said
    said = told("J1", "62 x 48", *wrong, "--side", "5 house")
    for words in (
        "no side 5",
        "a lawn's name is",
        "is there already",
        "read as feet",
        "no product G31",
        ": 5 faults.",
    ):
        assert words in said
    assert "no job" not in told("J9", "6 x", "--look")
    assert set(jobs(standing_yard)) == {"J1"}


def test_a_large_lawn_is_taken_when_it_is_right(yard: Path) -> None:
    assert run("measure-lawn", "J9", "62 x 48", *NEW, "--large-is-right").exit_code == 0
    assert jobs(yard)["J9"].lawns[0].area_mm2 == 2976 * 10**6


def test_a_file_with_several_lawns(yard: Path, tmp_path: Path) -> None:
    square = [[0, 0], [6, 0], [6, 4], [0, 4]]
    polygons = {"type": "MultiPolygon", "coordinates": [[square], [[[x + 10, y] for x, y in square]]]}
    path = tmp_path / "garden.geojson"
    path.write_text(json.dumps(polygons), encoding="utf-8")
    assert run("measure-lawn", "J9", str(path), *NEW, "--lawn", "court").exit_code == 0
    assert [lawn.label for lawn in jobs(yard)["J9"].lawns] == ["court 1", "court 2"]
    refused = run("measure-lawn", "J9", str(path), "--side", "1 house")
    assert refused.exit_code == 1
    assert "there are 2 lawns" in refused.stderr


def test_lawns_are_listed_and_taken_off(yard: Path) -> None:
    assert run("lawns").stdout == "0 lawns, 0.00 m²\n"
    run("measure-lawn", "J9", "6 x 4; side 1 house; place back", *NEW)
    run("measure-lawn", "J9", "3 x 2", "--lawn", "side", "--unseen-from", "lawn")
    listed = run("lawns").stdout
    assert re.search(r"J9 +lawn +back +24\.00 +20\.00 +4 +0 +house +towards house \(common practice", listed)
    assert "2 lawns, 30.00 m²" in listed
    document = json.loads(run("lawns", "--json", "--job", "J9").stdout)
    assert (document["format"], document["version"]) == ("stockplan-lawns", 1)
    first = document["lawns"][0]
    assert (first["edge"][2], first["pile"]["bearing"], first["sides"][0]["name"]) == ([6000, 4000], 180, "house")
    assert run("lawns", "--remove", "side").exit_code == 2
    refused = run("lawns", "--job", "J9", "--remove", "lawn")
    assert refused.exit_code == 1
    assert "which is no other lawn of the job" in refused.stderr
    assert run("lawns", "--job", "J9", "--remove", "side").exit_code == 0
    assert [lawn.label for lawn in jobs(yard)["J9"].lawns] == ["lawn"]
    assert "has no lawn called 'side'; it has lawn" in run("lawns", "--job", "J9", "--remove", "side").stderr


def test_lawns_of_a_job_the_store_does_not_know_are_refused(standing_yard: Path) -> None:
    for code, meant in (("j1", "perhaps J1 is meant"), ("J7", "`stockplan jobs` lists them")):
        unknown = run("--store", str(standing_yard), "lawns", "--job", code, "--json")
        assert (unknown.exit_code, unknown.stdout) == (1, "")
        assert unknown.stderr == f"stockplan: the store knows no job '{code}'; {meant}\n"
    assert run("--store", str(standing_yard), "lawns", "--job", "J1").stdout == "0 lawns, 0.00 m²\n"


LAWNS = (
    "job,lawn,corner,x_m,y_m,part\n"
    "J1,front,1,0,0,edge\nJ1,front,2,{0},4,edge\nJ1,front,3,{0},0,edge\nJ1,front,4,0,4,edge\n"
)


def test_outlines_in_sheets_are_judged_too(yard: Path, tmp_path: Path) -> None:
    sheets = tmp_path / "sheets"
    sheets.mkdir()
    lawns = sheets / "lawns.csv"
    lawns.write_text(LAWNS.format(6), encoding="utf-8")
    crossed = run("import", str(sheets))
    assert crossed.exit_code == 1
    assert "lawns.csv:4: corner: lawn front: an edge that crosses itself, found side 1 meets side 3" in crossed.stderr
    lawns.write_text(LAWNS.format(600).replace("2,600,4", "2,600,0").replace("3,600,0", "3,600,4"), encoding="utf-8")
    assert "a very large lawn, found 2400.0 m², more" in run("import", str(sheets)).stderr
    assert run("import", str(sheets), "--large-is-right").exit_code == 0
    assert jobs(yard)["J1"].lawns[0].area_mm2 == 2400 * 10**6
    assert "Nothing new" in run("import", str(sheets), "--large-is-right").stdout
