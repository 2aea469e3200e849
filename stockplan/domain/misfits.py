"""Why what is cut, or is still to be cut, no longer suits the schedule."""

from __future__ import annotations

import shlex
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence

from stockplan.domain.jobs import Job
from stockplan.domain.ledger_movements import CutPiece
from stockplan.domain.ledger_state import PieceCut
from stockplan.domain.plan import Piece
from stockplan.domain.standing import Schedule, Standing
from stockplan.domain.stock import batch_key
from stockplan.domain.units import size


def set_aside(schedule: Schedule, code: str, standing: Iterable[Standing] | None = None) -> str:
    """Say what was cut for a job that is of no use to it any more; nothing where nothing was, or others are there.

    Parameters
    ----------
    schedule
        What has been promised.
    code
        A job in the schedule.
    standing
        As in `Schedule.settled`.
    """
    job, pieces = schedule.jobs.get(code), schedule.outgrown.get(code, ())
    if job is None or not pieces:
        return ""
    if job.has_own_strips and not schedule.missing(code, standing):
        return ""
    if not job.has_own_strips and schedule.settled(code, standing):
        return ""
    if any(piece.product != job.product for piece in pieces):
        how = f"has changed to {job.product}"
    else:
        how = "has other strips" if job.has_own_strips else "has been measured again"
    sources = list(dict.fromkeys(piece.source for piece in pieces))
    were, count = ("1 piece was", "it counts") if len(pieces) == 1 else (f"{len(pieces)} pieces were", "they count")
    return (
        f"{code} {how} since {were} cut for it from {', '.join(sources)}: {count} no longer; "
        f"what is whole can be logged as an offcut, so that plans use it: {logged_by(pieces[0])}"
    )


def logged_by(piece: PieceCut) -> str:
    """Give the command that logs a piece as an offcut: it is no part of what its source left over."""
    return log_command(piece.product, known_batch(piece))


def log_command(product: str, batch: str) -> str:
    """Give the command that logs grass as an offcut.

    Parameters
    ----------
    product, batch
        Of the grass; the batch is empty where it is not known.
    """
    return f"stockplan offcut --product {shlex.quote(product)} --batch {shlex.quote(batch)}"


def for_nobody(one: Standing, pieces: Sequence[CutPiece], jobs: Collection[str]) -> Iterator[str]:
    """Say which pieces cut from a source are for jobs that are no longer in the schedule; a sentence for each job.

    Parameters
    ----------
    one
        The source.
    pieces
        What it was cut into.
    jobs
        Codes of the jobs in the schedule.
    """
    counts = Counter(piece.job for piece in pieces if piece.job not in jobs and not piece.spoiled)
    for code, count in counts.items():
        were = "1 piece was" if count == 1 else f"{count} pieces were"
        command = log_command(one.item.product, one.item.batch)
        yield (
            f"{code} is no longer in the schedule, and {were} cut for it; what is whole can be logged as an offcut, "
            f"so that plans use it: {command}"
        )


def known_batch(piece: PieceCut) -> str:
    """Give the batch of a piece as the yard has it: empty where it is not known."""
    return "" if piece.batch == batch_key("", piece.source) else piece.batch


def misfits(schedule: Schedule, one: Standing) -> Iterator[str]:
    """Say why the cuts of a source no longer suit the schedule, one sentence each; nothing when they do.

    Parameters
    ----------
    schedule
        What has been promised.
    one
        A source still to be cut.
    """
    for code in one.jobs():
        job = schedule.job(code)
        if job is None:
            yield f"{code} is no longer in the schedule"
            continue
        if job.product != one.item.product:
            yield f"{code} is now laid in {job.product}"
            continue
        changed = list(_changed(schedule, job, one))
        yield from changed
        if not changed:
            yield from lacking(schedule, [code])
        if one.item.arrives_on is not None and job.lay_on <= one.item.arrives_on:
            yield f"{code} is laid on {job.lay_on}, and {one.item.tag} does not come before {one.item.arrives_on}"
        pinned = [pin.source for pin in schedule.pins if pin.job == code]
        if pinned and one.item.tag not in pinned:
            yield f"{code} is pinned to {' and '.join(pinned)}"
        if mixed := schedule.mixed(code):
            yield f"{code} would mix batches {' and '.join(sorted(mixed))}"


def lacking(schedule: Schedule, codes: Iterable[str], besides: Collection[str] = ()) -> Iterator[str]:
    """Say which pieces of jobs are neither cut nor to be cut; nothing of jobs that lack none.

    Parameters
    ----------
    schedule
        What has been promised.
    codes, besides
        The jobs asked about, and those among them that are left out.
    """
    for code in codes:
        if code not in besides and (missing := schedule.missing(code)):
            yield f"{code} lacks {', '.join(f'{count} of {strip}' for strip, count in missing.items())}"


def outdated(schedule: Schedule, one: Standing) -> list[str]:
    """Codes of the jobs in the schedule that want other pieces by now than a source is to be cut into.

    Parameters
    ----------
    schedule, one
        As for `misfits`.
    """
    jobs = [job for code in one.jobs() if (job := schedule.job(code)) is not None]
    return [
        job.code for job in jobs if job.product != one.item.product or any(True for _ in _changed(schedule, job, one))
    ]


def surplus(schedule: Schedule, one: Standing) -> dict[str, str]:
    """Say which jobs have more cut and still to be cut than they need, with all else as it was; by code, a sentence.

    Parameters
    ----------
    schedule, one
        As for `misfits`.
    """
    jobs = [job for code in one.jobs() if (job := schedule.job(code)) is not None]
    same = [job for job in jobs if job.product == one.item.product and not any(_other_pieces(schedule, job, one))]
    return {job.code: "; ".join(many) for job in same if (many := list(_too_many(schedule, job, one)))}


def _changed(schedule: Schedule, job: Job, one: Standing) -> Iterator[str]:
    yield from _other_pieces(schedule, job, one)
    if job.code not in schedule.remeasured:
        yield from _too_many(schedule, job, one)


def _other_pieces(schedule: Schedule, job: Job, one: Standing) -> Iterator[str]:
    if job.code in schedule.remeasured:
        yield f"{job.code} has been measured again"
        return
    strips = {strip.label: strip for strip in job.strips}
    for label, mine in _planned(job, one).items():
        strip = strips.get(label)
        if strip is None:
            yield f"{job.code} no longer needs {label}"
        elif (mine.width_mm, mine.length_mm) != (strip.width_mm, strip.length_mm):
            yield (
                f"{job.code} {label} is now {size(strip.width_mm, strip.length_mm)}, "
                f"was {size(mine.width_mm, mine.length_mm)}"
            )


def _too_many(schedule: Schedule, job: Job, one: Standing) -> Iterator[str]:
    planned = _planned(job, one)
    for strip in job.strips:
        mine = planned.get(strip.label)
        if mine is None or (mine.width_mm, mine.length_mm) != (strip.width_mm, strip.length_mm):
            continue
        cut, to_cut = schedule.count(job.code, strip)
        if cut + to_cut > strip.count:
            yield f"{job.code} needs {strip.count} of {strip.label}; {cut} cut and {to_cut} to be cut are too many"


def _planned(job: Job, one: Standing) -> dict[str, Piece]:
    """Of each strip of a job that a source is to be cut into, the first piece, in the order they are cut."""
    found: dict[str, Piece] = {}
    for piece in one.cuts.pieces():
        if piece.job == job.code:
            found.setdefault(piece.strip, piece)
    return found
