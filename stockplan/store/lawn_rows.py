"""Measured lawns as rows."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from stockplan.domain.jobs import Job
from stockplan.domain.lawn import EdgeNote, Lawn, LawnPlace, Point
from stockplan.domain.pile import PileWish, parse_pile
from stockplan.errors import StoreError, UnitError
from stockplan.store.rows import Rows, Work, inserting

THOUSANDTHS = 1000  # of a degree
_LAWN = ("job", "label", "position", "place", "y_bearing", "pile", "unseen_from_json")
_CORNER = ("job", "lawn", "ring", "corner", "x_mm", "y_mm", "edge_name", "no_seam")


def read_lawns(rows: Rows, condition: str, values: Mapping[str, Any]) -> dict[str, tuple[Lawn, ...]]:
    """Read the lawns of each job that has any, in the order given.

    Parameters
    ----------
    condition
        On the columns of `job`: which jobs are meant; holds none of a person's words.
    values
        What the names in it stand for.

    Raises
    ------
    StoreError
        When a stored lawn cannot be one.
    """
    lawns = (
        "SELECT lawn.job, lawn.label, lawn.place, lawn.y_bearing, lawn.pile, lawn.unseen_from_json "
        f"FROM lawn JOIN job ON job.code = lawn.job WHERE {condition} ORDER BY lawn.job, lawn.position"
    )
    corners = (
        "SELECT lawn_corner.job, lawn_corner.lawn, ring, x_mm, y_mm, edge_name, no_seam "
        f"FROM lawn_corner JOIN job ON job.code = lawn_corner.job WHERE {condition} "
        "ORDER BY lawn_corner.job, lawn_corner.lawn, ring, corner"
    )
    rings: defaultdict[tuple[str, str], defaultdict[int, list[Point]]] = defaultdict(lambda: defaultdict(list))
    notes: defaultdict[tuple[str, str], list[EdgeNote]] = defaultdict(list)
    for job, label, ring, x_mm, y_mm, name, no_seam in rows.run(corners, values):
        places = rings[job, label][ring]
        if ring == 0 and (name or no_seam):
            notes[job, label].append(EdgeNote(len(places), name, bool(no_seam)))
        places.append(Point(x_mm, y_mm))
    found: defaultdict[str, tuple[Lawn, ...]] = defaultdict(tuple)
    for job, label, place, y_bearing, pile, unseen_from in rows.run(lawns, values):
        edge, *holes = [tuple(ring) for _, ring in sorted(rings[job, label].items())] or [()]
        try:
            bearing = None if y_bearing is None else y_bearing / THOUSANDTHS
            apart = tuple(json.loads(unseen_from))
            lawn = Lawn(
                label, edge, tuple(holes), tuple(notes[job, label]), LawnPlace(place), bearing, read_wish(pile), apart
            )
        except (TypeError, ValueError) as error:
            raise StoreError(f"job {job} in the store has a lawn that cannot be one: {error}") from error
        found[job] = (*found[job], lawn)
    return dict(found)


def read_wish(text: str) -> PileWish | None:
    """Read a stored pile wish; none where there is no text.

    Raises
    ------
    StoreError
        When it cannot be read.
    """
    try:
        return parse_pile(text) if text else None
    except UnitError as error:
        raise StoreError(f"the store holds a pile wish that cannot be read: {error}") from error


def insert_lawns(work: Work, jobs: Iterable[Job]) -> None:
    """Write the lawns of jobs that have none in the store."""
    lawns: list[dict[str, Any]] = []
    corners: list[dict[str, Any]] = []
    for job in jobs:
        for position, lawn in enumerate(job.lawns):
            lawns.append(_lawn_values(job.code, position, lawn))
            corners += _corner_values(job.code, lawn)
    if lawns:
        work.rows.run_each(inserting("lawn", _LAWN), lawns)
        work.rows.run_each(inserting("lawn_corner", _CORNER), corners)


def replace_lawns(work: Work, job: Job) -> None:
    """Write the lawns and the pile wish of a job that is in the store; nothing else of it is touched."""
    work.rows.run("DELETE FROM lawn WHERE job = :job", {"job": job.code})
    work.rows.run("UPDATE job SET pile = :pile WHERE code = :job", {"job": job.code, "pile": str(job.pile or "")})
    insert_lawns(work, [job])


def _lawn_values(job: str, position: int, lawn: Lawn) -> dict[str, Any]:
    return {
        "job": job,
        "label": lawn.label,
        "position": position,
        "place": lawn.place.value,
        "y_bearing": None if lawn.y_bearing is None else round(lawn.y_bearing * THOUSANDTHS) % (360 * THOUSANDTHS),
        "pile": str(lawn.pile or ""),
        "unseen_from_json": json.dumps(list(lawn.cannot_be_seen_with), ensure_ascii=False),
    }


def _corner_values(job: str, lawn: Lawn) -> list[dict[str, Any]]:
    notes = {note.number: note for note in lawn.notes}
    rings: Sequence[Sequence[Point]] = (lawn.edge, *lawn.holes)
    values = []
    for ring, places in enumerate(rings):
        for corner, (x_mm, y_mm) in enumerate(places):
            note = notes.get(corner, EdgeNote(corner)) if ring == 0 else EdgeNote(corner)
            where = {"job": job, "lawn": lawn.label, "ring": ring, "corner": corner, "x_mm": x_mm, "y_mm": y_mm}
            values.append({**where, "edge_name": note.name, "no_seam": note.no_seam})
    return values
