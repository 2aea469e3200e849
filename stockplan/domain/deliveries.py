"""What late, short and odd deliveries mean for the jobs they serve."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from stockplan.domain.purchase import OrderLine, OrderState
from stockplan.domain.standing import Schedule, Standing
from stockplan.domain.stock import batch_key
from stockplan.domain.units import size


@dataclass(frozen=True, slots=True)
class Danger:
    """A job that something endangers.

    Parameters
    ----------
    job
        Its code.
    what
        What is wrong, as a sentence without the job's name in front.
    """

    job: str
    what: str

    def __str__(self) -> str:
        return f"{self.job}: {self.what}"


def late(schedule: Schedule, one: Standing) -> Iterator[Danger]:
    """Jobs laid before, or on the day, something comes that is to be cut for them.

    Parameters
    ----------
    schedule
        What is promised.
    one
        What is still to come; in the yard nothing is late.
    """
    due = one.item.arrives_on
    for code in one.jobs():
        job = schedule.job(code)
        if due is not None and job is not None and job.lay_on <= due:
            yield Danger(code, f"is laid on {job.lay_on}, and {one.item.tag} does not come before {due}")


def too_small(one: Standing) -> Iterator[Danger]:
    """Jobs that lose pieces because what came is shorter or narrower than planned."""
    lost: dict[str, list[str]] = {}
    for piece in one.lost:
        name = f"{piece.strip} no. {piece.number} ({size(piece.width_mm, piece.length_mm)} m)"
        lost.setdefault(piece.job, []).append(name)
    measured = size(one.item.width_mm, one.item.length_mm)
    for code, names in lost.items():
        yield Danger(code, f"{one.item.tag} measures {measured} m and cannot give {', '.join(names)}")


def mixing(schedule: Schedule, codes: Iterable[str]) -> Iterator[Danger]:
    """Tell which of some jobs want one batch and would get several, in order of code.

    What is still to come is left aside, so that the first delivery of several is not yet odd.

    Parameters
    ----------
    schedule
        What is promised.
    codes
        The jobs asked about.
    """
    here = [one for one in schedule.standing if one.item.arrives_on is None]
    for code in sorted(codes):
        mixed = schedule.mixed(code, here)
        if mixed:
            told = "; ".join(_of_batch(batch, sources) for batch, sources in sorted(mixed.items()))
            yield Danger(code, f"wants one batch and would get {told}")


def _of_batch(batch: str, sources: list[str]) -> str:
    unknown = any(batch == batch_key("", tag) for tag in sources)  # its one source is in its name
    return batch if unknown else f"{batch} ({', '.join(sources)})"


def overdue(line: OrderLine, today: date) -> str:
    """Say in what way an order is late; empty when it is not.

    Parameters
    ----------
    line
        The order.
    today
        The day it is asked.
    """
    if line.state is OrderState.DRAFT and line.order_by < today:
        return f"had to be ordered by {line.order_by}"
    if line.state is OrderState.ORDERED and line.arrives_on < today:
        return f"was due on {line.arrives_on}"
    return ""
