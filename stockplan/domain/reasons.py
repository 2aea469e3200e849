"""Why a plan is as it is: what would happen without an order, and why a job is cut from its batch.

Every amount is what a plan that was really found costs more. A cheaper one may exist, so amounts are told as `at most`;
so is a job left short told as one for which nothing was found.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum


@dataclass(frozen=True, slots=True)
class Instead:
    """What a job would be cut from: the job's code; stock tags and order keys, in order."""

    job: str
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sooner:
    """An order that must come sooner than planned: its key, the last day to order it then, the day it must be here."""

    order: str
    order_by: date
    arrives_on: date


@dataclass(frozen=True, slots=True)
class OrderReason:
    """What an order is for, and what would happen without it and with nothing else bought in its place.

    Parameters
    ----------
    order
        The order's key.
    jobs
        Jobs cut from it, in order of code.
    worked_out
        Whether planning without it was tried; where it was not, the rest is empty.
    short
        Jobs for which nothing was found then, in order of code.
    instead
        What the other jobs cut from it would be cut from then.
    extra_pence
        What the plan found costs more, at most; None where a job is short then.
    sooner
        The other orders that must come sooner then, in order of day.
    """

    order: str
    jobs: tuple[str, ...]
    worked_out: bool = False
    short: tuple[str, ...] = ()
    instead: tuple[Instead, ...] = ()
    extra_pence: int | None = None
    sooner: tuple[Sooner, ...] = ()

    def with_keys(self, keys: Mapping[str, str]) -> OrderReason:
        """The same with orders under other keys.

        Parameters
        ----------
        keys
            By key until now: the new one.
        """
        instead = (replace(one, sources=tuple(keys.get(key, key) for key in one.sources)) for one in self.instead)
        sooner = (replace(one, order=keys.get(one.order, one.order)) for one in self.sooner)
        return replace(self, order=keys.get(self.order, self.order), instead=tuple(instead), sooner=tuple(sooner))


class BatchGround(StrEnum):
    """On what ground a job is cut from its batch."""

    PINNED = "pinned"  # people decided what it is cut from
    BEGUN = "begun"  # part of it is cut already, so the rest is of the same batch
    ONLY = "only"  # no other batch could hold it, even if nothing else were cut
    NO_ROOM = "no room"  # others could, but no room was found in them beside the other jobs
    CHEAPEST = "cheapest"  # room was found in another; the whole plan then costs so much more, at most
    NOT_WORKED_OUT = "not worked out"  # others could, and planning with them was not tried


@dataclass(frozen=True, slots=True)
class BatchReason:
    """Why a job is cut from its batch; where it mixes several, why not from one.

    Parameters
    ----------
    job
        The job's code.
    batches
        Batches it is cut from, in order.
    ground
        See `BatchGround`.
    instead
        The next-best batch found, where the ground is `CHEAPEST`; a job that may mix batches may have several.
    extra_pence
        What the whole plan then costs more, at most; None where the ground is another.
    lacking_mm
        Where the ground is `ONLY`: a size, across and along, that nothing in any other batch is large enough for; None
        where it is not one size that rules them out.
    """

    job: str
    batches: tuple[str, ...]
    ground: BatchGround
    instead: tuple[str, ...] = ()
    extra_pence: int | None = None
    lacking_mm: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class Otherwise:
    """What the plan of a product would be if something in it were otherwise, looked for in earnest.

    Parameters
    ----------
    what
        What is otherwise: a batch's name, or words.
    short
        Jobs short then that are not now, in order of code.
    instead
        What the jobs asked about would be cut from then.
    least_pence, most_pence
        What the product's plan then costs more, at least and at most; less than nothing where it would cost less, which
        only a plan not proven best leaves open. None where a job is short then; the least also where nothing is known.
    proven
        Whether no better plan exists then: none that leaves less short, none as little short that costs less.
    sooner
        Orders of the plan that must come sooner then, in order of day.
    """

    what: str
    short: tuple[str, ...]
    instead: tuple[Instead, ...]
    least_pence: int | None
    most_pence: int | None
    proven: bool
    sooner: tuple[Sooner, ...] = ()


@dataclass(frozen=True, slots=True)
class Why:
    """Why something in a plan is as it is.

    Parameters
    ----------
    name
        A job's code, an order's key or the tag of a thing in the yard.
    product
        Its product.
    is_job
        Whether it is a job.
    sources
        What the job is cut from; of a source, the jobs cut from it.
    batches
        Batches the job is cut from; none of a source, and of a job left short.
    ground
        Of a job covered: see `BatchGround`; None of others.
    lacking_mm
        As in `BatchReason`.
    otherwise
        What was looked for, the cheapest first.
    short, remedies
        Of a job left short: why, and what would each alone cover it.
    """

    name: str
    product: str
    is_job: bool
    sources: tuple[str, ...]
    batches: tuple[str, ...] = ()
    ground: BatchGround | None = None
    lacking_mm: tuple[int, int] | None = None
    otherwise: tuple[Otherwise, ...] = ()
    short: str = ""
    remedies: str = ""
