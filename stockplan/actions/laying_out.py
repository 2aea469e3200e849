"""Working out strips: layouts for the jobs that have measured lawns and no strips."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from stockplan.domain.jobs import Job
from stockplan.domain.lawn import lawn_words
from stockplan.domain.layout import LayoutSettings
from stockplan.domain.request import PlanRequest, Progress

QUIET_SECONDS = 1.0  # what takes longer is told of


@dataclass(frozen=True, slots=True)
class LaidOut:
    """Jobs with their layouts, and those that have none.

    Parameters
    ----------
    jobs
        Jobs with at least one layout.
    left
        Jobs without, and why; an empty reason where a job has neither strips nor lawns.
    """

    jobs: tuple[Job, ...]
    left: tuple[tuple[Job, str], ...]

    def notes(self) -> tuple[str, ...]:
        """Why lawns could not be laid out, a sentence each."""
        return tuple(f"{job.code} is not planned: {why}" for job, why in self.left if why)


def lay_out(
    jobs: Sequence[Job],
    request: PlanRequest,
    settings: LayoutSettings,
    progress: Callable[[Progress], None] | None = None,
) -> LaidOut:
    """Work out how the lawns of jobs may be laid.

    Parameters
    ----------
    jobs
        Jobs without strips.
    request
        What grass there is, in the yard and on offer.
    settings
        How strips are laid out.
    progress
        Told how far it is, once it takes more than a second.
    """
    from stockplan.cutting.strips import grass_of, job_layouts, most_layouts  # noqa: PLC0415
    from stockplan.domain.pile_direction import job_wish, pile_faults  # noqa: PLC0415

    began = time.monotonic()
    grass = {code: grass_of(request, code) for code in {job.product for job in jobs if job.lawns}}
    laid: list[Job] = []
    left: list[tuple[Job, str]] = []
    for number, job in enumerate(jobs):
        seconds = time.monotonic() - began
        if progress is not None and seconds > QUIET_SECONDS:
            progress(Progress(job.product, f"laying out lawns, job {number + 1} of {len(jobs)}", None, None, seconds))
        cut_from = grass.get(job.product)
        if not job.lawns:
            left.append((job, ""))
        elif faults := pile_faults(job.lawns, job_wish(job)):
            left.append((job, "; ".join(faults)))
        elif cut_from is None:
            left.append((job, f"{job.product} neither lies in the yard nor is on offer"))
        elif layouts := job_layouts(job, cut_from, settings, most_layouts(len(jobs))):
            laid.append(replace(job, layouts=layouts))
        else:
            left.append((job, no_way(job)))
    return LaidOut(tuple(laid), tuple(left))


def no_way(job: Job) -> str:
    """Say what stands in the way of every layout: the rules, and the sides that seams must keep away from.

    Parameters
    ----------
    job
        A job whose lawns cannot be laid out.
    """
    notes = [(lawn, note) for lawn in job.lawns for note in lawn.notes if note.no_seam]
    sides = dict.fromkeys(note.name or f"side {note.number + 1} of {lawn_words(lawn.label)}" for lawn, note in notes)
    off = f" with no seam at {', '.join(sides)}" if sides else ""
    return f"no way of laying its lawns keeps the firm's rules{off}; see: stockplan settings"
