"""What the sheet of lawns may say beside corners, and what is wrong with it."""

from __future__ import annotations

from pathlib import Path

import pytest
from sound_sheets import CONTENTS, FRONT, JOBS, STRIPS, faults, write

from stockplan.domain.lawn import EdgeNote, Lawn, LawnPlace, Point
from stockplan.domain.pile import parse_pile
from stockplan.domain.survey import OutlineFault
from stockplan.errors import SheetFaults
from stockplan.store.sheets import read_folder

MORE = (
    "lawn,job,part,corner,x_m,y_m,hole,edge_name,no_seam,place,north,unseen_from\n"
    "front,J2,edge,2,4,0.125,,path,Yes,,359.5,\n"
    "front,J2,hole,1,2,1,bed,,,,,\n"
    "front,J2,edge,1,-1.5,0,,house,no,front,,\n"
    "front,J2,hole,9,3,4,tree,,,,,\n"
    "front,J2,hole,7,3,1,bed,,,,,verge; back\n"
    "front,J2,hole,3,3.5,4,tree,,,,,\n"
    "front,J2,edge,3,4,5,,,,,,\n"
    "front,J2,hole,9,3,2,bed,,,,,\n"
    "front,J2,hole,5,3.5,4.1,tree,,,front,,\n"
)


def test_what_else_a_lawns_sheet_may_say(tmp_path: Path) -> None:
    jobs = (
        JOBS.replace("batch_rule", "batch_rule,pile_wish")
        .replace("house,\n", "house,,\n")
        .replace("any", "any,From house")
    )
    read = read_folder(write(tmp_path, lawns=MORE, jobs=jobs))
    tree = (Point(3500, 4000), Point(3500, 4100), Point(3000, 4000))
    assert read.jobs[0].pile is None
    assert read.jobs[1].pile == parse_pile("from house")
    (lawn,) = read.jobs[1].lawns
    assert lawn == Lawn(
        "front",
        FRONT.edge,
        (FRONT.holes[0], tree),
        (EdgeNote(0, "house"), EdgeNote(1, "path", no_seam=True)),
        LawnPlace.FRONT,
        y_bearing=359.5,
        cannot_be_seen_with=("verge", "back"),
    )


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ("path,Yes", "path,maybe", "lawns.csv:2: no_seam: neither yes nor no, found 'maybe'"),
        (",359.5,", ",360,", "lawns.csv:2: north: too much, found '360'"),
        ("bed,,,,,\n", "bed,wall,,,,\n", "lawns.csv:3: edge_name: something said of a hole's side, found 'wall'"),
        ("bed,,,,,\n", "bed,,yes,,,\n", "lawns.csv:3: no_seam: something said of a hole's side, found 'yes'"),
        ("tree,,,front,,", "tree,,,back,,", "lawns.csv:10: place: not what another row of the lawn says, found 'back'"),
        ("5,,,,,,\n", "5,bed,,,,,\n", "lawns.csv:8: hole: a hole's name on the edge, found 'bed'"),
        ("verge; back", "verge;;back", "lawns.csv:6: unseen_from: empty"),
        ("edge_name", "edge_nam", "lawns.csv:1: edge_nam: an unknown column, found 'edge_nam', would be right: edge_n"),
    ],
)  # fmt: skip
def test_a_wrong_cell_of_a_column_that_may_be_lacking(tmp_path: Path, old: str, new: str, fault: str) -> None:
    assert old in MORE
    found = faults(write(tmp_path, lawns=MORE.replace(old, new, 1)))
    assert found[0].startswith(fault)
    assert len(found) == 1


def test_a_lawn_of_holes_alone_has_no_edge(tmp_path: Path) -> None:
    found = faults(
        write(tmp_path, lawns=MORE.replace(",edge,", ",hole,").replace(",house,no,", ",,,").replace("path,Yes", ","))
    )
    assert any("part: a lawn without an edge, found only holes" in fault for fault in found)


def test_a_pile_wish_that_cannot_be_read(tmp_path: Path) -> None:
    jobs = (
        JOBS.replace("batch_rule", "batch_rule,pile_wish").replace("house,\n", "house,,\n").replace("any", "any,hither")
    )
    (found,) = faults(write(tmp_path, jobs=jobs))
    assert found.startswith(
        "jobs.csv:3: pile_wish: pile 'hither' cannot be read, found 'hither', would be right: write 'tow"
    )


def test_what_is_wrong_with_an_outline_is_told_by_row(tmp_path: Path) -> None:
    def judge(edge: object, holes: object) -> tuple[OutlineFault, ...]:
        assert (edge, holes) == (FRONT.edge, list(FRONT.holes))
        return OutlineFault("a spike", "it", "none", 0, 2), OutlineFault("a hole outside", "it", "inside", 1)

    with pytest.raises(SheetFaults) as caught:
        read_folder(write(tmp_path), judge=judge)
    assert caught.value.faults == (
        "lawns.csv:4: corner: lawn front: a spike, found it, would be right: none",
        "lawns.csv:5: corner: lawn front: a hole outside, found it, would be right: inside",
    )


def test_lawns_alone_may_be_given_for_jobs_in_the_store(tmp_path: Path) -> None:
    read = read_folder(write(tmp_path, jobs=None, strips=None), CONTENTS)
    assert (read.jobs, read.lawns) == ((), {"J2": (FRONT,)})
    (tmp_path / "jobs only").mkdir()
    left = read_folder(write(tmp_path / "jobs only", strips=STRIPS.replace("J2,A,3.6,4,1\n", ""), lawns=None), CONTENTS)
    assert left.jobs[1].strips == left.jobs[1].lawns == ()
