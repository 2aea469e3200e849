"""What accepted plans are still to cut, what lies cut, and what jobs need beside.

Sources still to be cut hang together through the jobs they serve: taking one back from its plan takes pieces from its
jobs, and so spoils the other sources of these jobs. Such a cluster is planned anew as a whole or left alone.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from stockplan.domain.jobs import BatchRule, Job, Strip
from stockplan.domain.ledger import PieceCut
from stockplan.domain.plan import Piece, PlannedLeftover, SourceCuts
from stockplan.domain.request import CutAlready, Pin
from stockplan.domain.stock import StockItem

StripKey = tuple[str, str]  # job and strip


@dataclass(frozen=True, slots=True)
class Standing:
    """One source that an accepted plan is still to cut.

    Parameters
    ----------
    plan
        Number of the plan.
    plan_key
        How the plan names the source: a tag, or an order's key.
    item
        What there is to cut; with `arrives_on` while it is still to come.
    cuts, leftovers
        The plan's cuts as they can be made of it.
    lost
        Pieces of the plan that it can no longer give.
    """

    plan: int
    plan_key: str
    item: StockItem
    cuts: SourceCuts
    leftovers: tuple[PlannedLeftover, ...] = ()
    lost: tuple[Piece, ...] = ()

    def jobs(self) -> list[str]:
        """Codes of the jobs it was planned for, in cutting order."""
        return list(dict.fromkeys(piece.job for piece in (*self.cuts.pieces(), *self.lost)))


@dataclass(frozen=True)  # without slots, so that what is worked out once can be kept
class Schedule:
    """What has been promised, and how much of it is settled.

    Parameters
    ----------
    jobs
        Every job, by code.
    standing
        Every source that accepted plans are still to cut.
    pieces
        Sound pieces that have been cut, by job and strip.
    chosen
        For jobs with layouts, the strips of the layout that an accepted plan picked.
    pins
        What people have decided that is not done yet: a job that is cut from what it is pinned to asks no more of it.
    remeasured
        Jobs whose lawns are no longer as they were when an accepted plan laid them out.
    outgrown
        Sound pieces cut for a job that are of no use to it as it is wanted now; they are not among `pieces`.
    """

    jobs: Mapping[str, Job]
    standing: tuple[Standing, ...] = ()
    pieces: Mapping[StripKey, Sequence[PieceCut]] = field(default_factory=dict)
    chosen: Mapping[str, tuple[Strip, ...]] = field(default_factory=dict)
    pins: tuple[Pin, ...] = ()
    remeasured: frozenset[str] = frozenset()
    outgrown: Mapping[str, Sequence[PieceCut]] = field(default_factory=dict)

    @cached_property
    def _to_cut(self) -> dict[str, list[tuple[Standing, Piece]]]:
        """Every piece still to be cut, by job; none of other grass than the job is laid in by now."""
        found: dict[str, list[tuple[Standing, Piece]]] = {}
        for one in self.standing:
            for piece in one.cuts.pieces():
                job = self.jobs.get(piece.job)
                if job is None or job.product == one.item.product:
                    found.setdefault(piece.job, []).append((one, piece))
        return found

    @cached_property
    def _served(self) -> set[str]:
        """Jobs that something still to be cut was planned for."""
        return set(codes_of(self.standing))

    @cached_property
    def _cut(self) -> dict[str, list[PieceCut]]:
        """Every piece that has been cut, by job."""
        found: dict[str, list[PieceCut]] = {}
        for (code, _), pieces in self.pieces.items():
            found.setdefault(code, []).extend(pieces)
        return found

    def _still(self, code: str, standing: Iterable[Standing] | None) -> list[tuple[Standing, Piece]]:
        """The pieces of a job still to be cut, from all sources or from some."""
        mine = self._to_cut.get(code, [])
        if standing is None or not mine:
            return mine
        counted = set(map(id, standing))
        return [(one, piece) for one, piece in mine if id(one) in counted]

    def job(self, code: str) -> Job | None:
        """Give a job as it is settled: with the layout picked, once something of it is cut or stands to be."""
        job = self.jobs.get(code)
        strips = self.chosen.get(code)
        if job is None or strips is None or code in self.remeasured or (job.strips and not job.layouts):
            return job
        begun = code in self._cut or code in self._served
        return replace(job, strips=strips, layouts=()) if begun else job

    def cut_for(self, code: str) -> int:
        """How many sound pieces have been cut for a job."""
        return len(self._cut.get(code, ()))

    def all_cut_for(self, code: str) -> tuple[PieceCut, ...]:
        """Every sound piece that has been cut for a job, of use to it or not."""
        return (*self._cut.get(code, ()), *self.outgrown.get(code, ()))

    def settled(self, code: str, standing: Iterable[Standing] | None = None) -> tuple[CutAlready, ...]:
        """Say which copies of a job's strips need no planning, by strip and batch.

        A cut piece that is larger than what is wanted now is trimmed and counts; one that is smaller does not.

        Parameters
        ----------
        code
            A job in the schedule.
        standing
            Which of `self.standing`, these very objects, are counted on; default all.
        """
        job = self.job(code)
        if job is None:
            return ()
        still = self._still(code, standing)
        found: list[CutAlready] = []
        for strip in job.strips:
            batches = [*self._cut_batches(code, strip), *_standing_batches(strip, still)][: strip.count]
            counts = Counter(batches)
            found += [CutAlready(code, strip.label, count, batch) for batch, count in counts.items()]
        return tuple(found)

    def _cut_batches(self, code: str, strip: Strip) -> Iterator[str]:
        for piece in self.pieces.get((code, strip.label), ()):
            if _holds(piece, strip):
                yield piece.batch

    def count(self, code: str, strip: Strip) -> tuple[int, int]:
        """Say how many copies of a strip are cut, and into how many sources are still to be cut.

        Parameters
        ----------
        code
            A job in the schedule.
        strip
            What it needs now.
        """
        cut = sum(1 for _ in self._cut_batches(code, strip))
        return cut, sum(1 for _ in _standing_batches(strip, self._still(code, None)))

    def missing(self, code: str, standing: Iterable[Standing] | None = None) -> dict[str, int]:
        """Say how many copies of which strips of a job are neither cut nor to be cut.

        Parameters
        ----------
        code, standing
            As in `settled`.
        """
        job = self.job(code)
        if job is None:
            return {}
        done: Counter[str] = Counter()
        for one in self.settled(code, standing):
            done[one.strip] += one.count
        strips = job.strips_or_first()
        return {strip.label: strip.count - done[strip.label] for strip in strips if strip.count > done[strip.label]}

    def batches(self, code: str, standing: Iterable[Standing] | None = None) -> dict[str, list[str]]:
        """Say which batches a job's pieces come from, cut or to be cut, and for each from what.

        Parameters
        ----------
        code, standing
            As in `settled`.
        """
        found: dict[str, dict[str, None]] = {}
        for cut in self._cut.get(code, ()):
            found.setdefault(cut.batch, {})[cut.source] = None
        for one, _ in self._still(code, standing):
            found.setdefault(one.cuts.batch, {})[one.item.tag] = None
        return {batch: list(sources) for batch, sources in found.items()}

    def mixed(self, code: str, standing: Iterable[Standing] | None = None) -> dict[str, list[str]]:
        """Give the batches of a job that wants one and has several; nothing for any other.

        Parameters
        ----------
        code, standing
            As in `settled`.
        """
        job = self.job(code)
        batches = self.batches(code, standing)
        return batches if job is not None and job.batch_rule is BatchRule.ONE and len(batches) > 1 else {}


def of_use(job: Job, label: str, piece: PieceCut) -> bool:
    """Say whether a piece cut for a job is of use to it as it is wanted now; strips of a layout are not compared.

    Parameters
    ----------
    job
        The job.
    label
        The strip that the piece was cut for.
    piece
        What was cut.
    """
    if piece.product != job.product:
        return False
    if not job.has_own_strips:
        return True
    return any(strip.label == label and _holds(piece, strip) for strip in job.strips)


def _holds(piece: PieceCut, strip: Strip) -> bool:
    return piece.width_mm >= strip.width_mm and piece.length_mm >= strip.length_mm


def _standing_batches(strip: Strip, still: Iterable[tuple[Standing, Piece]]) -> Iterator[str]:
    for one, piece in still:
        if (piece.strip, piece.width_mm, piece.length_mm) == (strip.label, strip.width_mm, strip.length_mm):
            yield one.cuts.batch


def clusters(standing: Sequence[Standing]) -> list[tuple[Standing, ...]]:
    """Put together sources that hang together through the jobs they serve, in the order given.

    Parameters
    ----------
    standing
        Sources still to be cut.
    """
    leader = list(range(len(standing)))  # the first source known to hang together with each

    def first_of(number: int) -> int:
        while leader[number] != number:
            leader[number] = leader[leader[number]]
            number = leader[number]
        return number

    served_by: dict[str, int] = {}
    for number, one in enumerate(standing):
        for code in one.jobs():
            low, high = sorted((first_of(served_by.setdefault(code, number)), first_of(number)))
            leader[high] = low
    groups: dict[int, list[Standing]] = {}
    for number, one in enumerate(standing):
        groups.setdefault(first_of(number), []).append(one)
    return [tuple(groups[number]) for number in sorted(groups)]


def codes_of(standing: Iterable[Standing]) -> list[str]:
    """Codes of the jobs that some sources serve, each once."""
    return list(dict.fromkeys(code for one in standing for code in one.jobs()))


def served(schedule: Schedule, standing: Iterable[Standing]) -> list[str]:
    """Codes of the jobs in the schedule that some sources serve."""
    return [code for code in codes_of(standing) if code in schedule.jobs]
