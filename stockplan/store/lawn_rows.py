"""Measured lawns as rows."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import Any

from sqlalchemy import delete, insert, select, update
from sqlalchemy.orm import Session

from stockplan.domain.jobs import Job, Window
from stockplan.domain.lawn import EdgeNote, Lawn, LawnPlace, Point
from stockplan.domain.pile import PileWish, parse_pile
from stockplan.errors import StoreError, UnitError
from stockplan.store.session import UnitOfWork
from stockplan.store.tables import JobRow, LawnCornerRow, LawnRow

THOUSANDTHS = 1000  # of a degree


def read_lawns(session: Session, window: Window | None = None) -> dict[str, tuple[Lawn, ...]]:
    """Read the lawns of each job that has any, in the order given.

    Parameters
    ----------
    window
        Only of jobs laid inside it; default all.

    Raises
    ------
    StoreError
        When a stored lawn cannot be one.
    """
    lawns = select(
        LawnRow.job,
        LawnRow.label,
        LawnRow.place,
        LawnRow.y_bearing,
        LawnRow.pile,
        LawnRow.unseen_from_json,
    ).order_by(LawnRow.job, LawnRow.position)
    corners = select(
        LawnCornerRow.job,
        LawnCornerRow.lawn,
        LawnCornerRow.ring,
        LawnCornerRow.x_mm,
        LawnCornerRow.y_mm,
        LawnCornerRow.edge_name,
        LawnCornerRow.no_seam,
    ).order_by(LawnCornerRow.job, LawnCornerRow.lawn, LawnCornerRow.ring, LawnCornerRow.corner)
    if window is not None:
        inside = JobRow.lay_on.between(window.first, window.last)
        lawns = lawns.join(JobRow, LawnRow.job == JobRow.code).where(inside)
        corners = corners.join(JobRow, LawnCornerRow.job == JobRow.code).where(inside)
    rings: defaultdict[tuple[str, str], defaultdict[int, list[Point]]] = defaultdict(lambda: defaultdict(list))
    notes: defaultdict[tuple[str, str], list[EdgeNote]] = defaultdict(list)
    for job, label, ring, x_mm, y_mm, name, no_seam in session.execute(corners):
        places = rings[job, label][ring]
        if ring == 0 and (name or no_seam):
            notes[job, label].append(EdgeNote(len(places), name, bool(no_seam)))
        places.append(Point(x_mm, y_mm))
    found: defaultdict[str, tuple[Lawn, ...]] = defaultdict(tuple)
    for job, label, place, y_bearing, pile, unseen_from in session.execute(lawns):
        edge, *holes = [tuple(ring) for _, ring in sorted(rings[job, label].items())] or [()]
        bearing = None if y_bearing is None else y_bearing / THOUSANDTHS
        apart = tuple(json.loads(unseen_from))
        try:
            lawn = Lawn(
                label, edge, tuple(holes), tuple(notes[job, label]), LawnPlace(place), bearing, read_wish(pile), apart
            )
        except ValueError as error:
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


def insert_lawns(session: Session, jobs: Iterable[Job]) -> None:
    """Write the lawns of jobs that have none in the store."""
    lawns: list[dict[str, Any]] = []
    corners: list[dict[str, Any]] = []
    for job in jobs:
        for position, lawn in enumerate(job.lawns):
            lawns.append(_lawn_values(job.code, position, lawn))
            corners += _corner_values(job.code, lawn)
    connection = session.connection()
    if lawns:
        connection.execute(insert(LawnRow), lawns)
        connection.execute(insert(LawnCornerRow), corners)


def replace_lawns(unit_of_work: UnitOfWork, job: Job) -> None:
    """Write the lawns and the pile wish of a job that is in the store; nothing else of it is touched."""
    session = unit_of_work.session
    session.execute(delete(LawnRow).where(LawnRow.job == job.code))
    session.execute(update(JobRow).where(JobRow.code == job.code).values(pile=str(job.pile or "")))
    insert_lawns(session, [job])


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
