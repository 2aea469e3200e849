"""What was settled before a plan is made: copies cut already, pins, and stock still on its way.

A gate stands before a source that not every job may use: an offer of a supplier, which may come too late; an ordered
roll, which comes on its day; a pinned item, since a pinned job may use no other. Gates are numbered, those of the
supply options first.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from stockplan.domain.jobs import BatchRule, Job
from stockplan.domain.request import PlanRequest
from stockplan.domain.stock import StockItem


@dataclass(frozen=True, slots=True)
class Gate:
    """Who may use a stock item: jobs laid after it comes; a pinned job only if it is pinned to this one."""

    arrives_on: date | None
    tag: str | None


@dataclass(frozen=True)
class Settled:
    """What is settled for one product.

    Parameters
    ----------
    cut
        By job and strip: how many copies are cut.
    batches
        By job begun: names of the batches it was begun in.
    pins
        By pinned job: the tags it may be cut from.
    gates
        Gates of stock items, in order of number.
    of_item
        By tag: number of the item's gate; items open to all are not in it.
    first
        Number of the first of these gates.
    """

    cut: Counter[tuple[str, str]]
    batches: dict[str, set[str]]
    pins: dict[str, set[str]]
    gates: tuple[Gate, ...]
    of_item: dict[str, int]
    first: int

    def left_of(self, job: Job) -> Job:
        """The job with only the copies still to be cut."""
        if job.code not in self.batches:
            return job
        strips = (replace(s, count=s.count - self.cut[job.code, s.label]) for s in job.strips)
        return replace(job, strips=tuple(s for s in strips if s.count > 0))

    def allows(self, job: Job, batch: str) -> bool:
        """Whether the rest of a job may come from a batch."""
        begun = self.batches.get(job.code)
        return job.batch_rule is BatchRule.ANY or begun is None or begun == {batch}

    def open_to(self, job: Job) -> frozenset[int]:
        """Numbers of the gates of stock that a job may pass."""
        pinned = self.pins.get(job.code)
        return frozenset(
            self.first + number
            for number, gate in enumerate(self.gates)
            if (gate.arrives_on is None or gate.arrives_on < job.lay_on) and (pinned is None or gate.tag in pinned)
        )


def settled_before(request: PlanRequest, stock: Sequence[StockItem], jobs: Sequence[Job], first_gate: int) -> Settled:
    """Gather what is settled for some jobs and stock.

    Parameters
    ----------
    request
        The plan asked for.
    stock, jobs
        Those of one product.
    first_gate
        Number of the first gate of a stock item.
    """
    codes = {job.code for job in jobs}
    cut: Counter[tuple[str, str]] = Counter()
    batches: defaultdict[str, set[str]] = defaultdict(set)
    for done in request.cut_already:
        if done.job in codes:
            cut[done.job, done.strip] += done.count
            batches[done.job].add(done.batch)
    pins: defaultdict[str, set[str]] = defaultdict(set)
    for pin in request.pins:
        if pin.job in codes:
            pins[pin.job].add(pin.source)
    pinned = {tag for tags in pins.values() for tag in tags}
    gates: dict[Gate, int] = {}
    of_item = {}
    for item in stock:
        if item.arrives_on is not None or item.tag in pinned:
            gate = Gate(item.arrives_on, item.tag if item.tag in pinned else None)
            of_item[item.tag] = first_gate + gates.setdefault(gate, len(gates))
    return Settled(cut, dict(batches), dict(pins), tuple(gates), of_item, first_gate)
