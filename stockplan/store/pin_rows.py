"""Pins as rows: what people have decided to cut jobs from."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from stockplan.domain.request import Pin
from stockplan.store.rows import Rows, Work, inserting, rows_of

if TYPE_CHECKING:
    from sqlalchemy.orm import Session


def read_pins(source: Session | Rows) -> tuple[Pin, ...]:
    """Read what people have decided, in order of job and tag."""
    query = "SELECT job, source FROM pin"
    return tuple(Pin(job, tag) for job, tag in sorted(map(tuple, rows_of(source).run(query))))


def write_pins(work: Work, pins: Iterable[Pin], who: str) -> None:
    """Write pins; one that is there already stays as it is."""
    known = set(read_pins(work.rows))
    rows = [
        {"job": pin.job, "source": pin.source, "at": work.at, "who": who}
        for pin in dict.fromkeys(pins)
        if pin not in known
    ]
    if rows:
        work.rows.run_each(inserting("pin", rows[0]), rows)


def delete_pins(work: Work, pins: Iterable[Pin]) -> None:
    """Take pins out."""
    rows = [{"job": pin.job, "source": pin.source} for pin in pins]
    if rows:
        work.rows.run_each("DELETE FROM pin WHERE job = :job AND source = :source", rows)


def move_pins(work: Work, before: str, after: str) -> None:
    """Let jobs that are pinned to one thing be pinned to another, as where it goes by another name.

    Parameters
    ----------
    before, after
        Tag, or key of an order.
    """
    names = {"before": before, "after": after}
    twice = "job IN (SELECT job FROM pin WHERE source = :after)"
    work.rows.run(f"DELETE FROM pin WHERE source = :before AND {twice}", names)
    work.rows.run("UPDATE pin SET source = :after WHERE source = :before", names)
