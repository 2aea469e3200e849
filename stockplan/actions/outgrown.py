"""Pieces cut for jobs that want others by now: measured again since, with other strips, or laid in other grass."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from stockplan.domain.lawn import Lawn
from stockplan.domain.ledger import PieceCut
from stockplan.domain.standing import Schedule, of_use

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from stockplan.store.rows import Rows


def without_outgrown(
    source: Session | Rows, schedule: Schedule, jobs: Iterable[str], texts: Mapping[int, str]
) -> Schedule:
    """Set aside the pieces that a job has no use for as it is wanted now.

    They are of other grass, smaller than the strip they were cut for or of one that is wanted no more, or cut for other
    lawns than it has now: a letter is another size there.
    Where the schedule's jobs come without their lawns, those of the last plan for the job stand for them.

    Parameters
    ----------
    source
        Where to read plans from that are not given.
    schedule
        With all that has been cut.
    jobs
        Codes of jobs among it that plans lay out.
    texts
        The files of the plans by which something was cut for these jobs, by number.
    """
    schedule = _set_aside(schedule, lambda code, label, piece: not of_use(schedule.jobs[code], label, piece))
    concerned = {code: plans_of(schedule, code) for code in jobs}
    concerned = {code: plans for code, plans in concerned.items() if schedule.jobs[code].lawns or len(plans) > 1}
    if not concerned:
        return schedule
    lawns = _lawns(source, texts, {number for plans in concerned.values() for number in plans})
    now = {code: schedule.jobs[code].lawns or lawns.get((max(plans), code), ()) for code, plans in concerned.items()}

    def outgrown(code: str, _: str, piece: PieceCut) -> bool:
        was = lawns.get((piece.plan, code)) if piece.plan is not None and code in now else None
        return bool(was) and was != now[code]

    return _set_aside(schedule, outgrown)


def _set_aside(schedule: Schedule, outgrown: Callable[[str, str, PieceCut], bool]) -> Schedule:
    """Move pieces from those that count to those that do not, each asked about by its job and strip."""
    kept: dict[tuple[str, str], tuple[PieceCut, ...]] = {}
    aside = {code: tuple(pieces) for code, pieces in schedule.outgrown.items()}
    for (code, label), pieces in schedule.pieces.items():
        old = tuple(piece for piece in pieces if outgrown(code, label, piece))
        if old:
            aside[code] = aside.get(code, ()) + old
        if len(old) < len(pieces):
            kept[code, label] = tuple(piece for piece in pieces if piece not in old)
    return replace(schedule, pieces=kept, outgrown=aside)


def plans_of(schedule: Schedule, code: str) -> set[int]:
    """Numbers of the plans that cut something for a job, or are still to."""
    cut = {piece.plan for (job, _), pieces in schedule.pieces.items() if job == code for piece in pieces}
    still = {one.plan for one in schedule.standing if code in one.jobs()}
    return {number for number in cut | still if number is not None}


def _lawns(
    source: Session | Rows, texts: Mapping[int, str], plans: set[int]
) -> dict[tuple[int, str], tuple[Lawn, ...]]:
    """The lawns of every job as plans have them; none where a plan's file is older than that."""
    from stockplan.report.plan_reader import read_request  # noqa: PLC0415
    from stockplan.store.plan_rows import read_plan_texts  # noqa: PLC0415

    lacking = plans - texts.keys()
    known = {**texts, **(read_plan_texts(source, lacking) if lacking else {})}
    return {
        (number, job.code): job.lawns
        for number, text in known.items()
        if number in plans
        for job in read_request(text).jobs
    }
