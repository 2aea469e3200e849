"""Pieces cut for jobs that had no use for them, and have again: they may lie in the yard as offcuts by now."""

from __future__ import annotations

import shlex
from collections.abc import Iterable
from typing import TYPE_CHECKING

from stockplan.actions.in_force import with_pieces
from stockplan.domain.jobs import Job
from stockplan.domain.ledger import PieceCut
from stockplan.domain.misfits import known_batch
from stockplan.domain.standing import Schedule

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from stockplan.store.rows import Rows


def count_again(source: Session | Rows, before: Iterable[Job], after: Iterable[Job]) -> list[str]:
    """Say of which jobs pieces count again that were cut for them, a sentence each.

    Of a job that was changed, or cancelled, what was cut for it may have been logged as offcuts. Where it becomes
    again what it was, the same grass would be counted on twice.

    Parameters
    ----------
    source
        Where to read what has been cut.
    before, after
        Jobs as they were and as they are; one that was not there had been cancelled, if anything was cut for it.
    """
    now = {job.code: job for job in after}
    was = {job.code: job for job in before if job.code in now}
    asked = [code for code, job in now.items() if was.get(code) != job]
    counted = _pieces(source, was, asked)
    found = []
    for code, pieces in _pieces(source, now, asked).items():
        again = [piece for piece in pieces if piece not in counted.get(code, ())]
        if again:
            found.append(_words(code, again) + ("" if code in was else "; another job needs another code"))
    return found


def _pieces(source: Session | Rows, jobs: dict[str, Job], codes: Iterable[str]) -> dict[str, list[PieceCut]]:
    """The pieces that count, by job."""
    found: dict[str, list[PieceCut]] = {}
    for (code, _), pieces in with_pieces(source, Schedule(jobs=jobs), codes).pieces.items():
        found.setdefault(code, []).extend(pieces)
    return found


def _words(code: str, pieces: list[PieceCut]) -> str:
    sources = ", ".join(dict.fromkeys(piece.source for piece in pieces))
    were, count = ("1 piece", "counts") if len(pieces) == 1 else (f"{len(pieces)} pieces", "count")
    product, batch = pieces[0].product, known_batch(pieces[0])
    command = f"stockplan stock --product {shlex.quote(product)} --batch {shlex.quote(batch)} --form offcut"
    return (
        f"{code}: {were} cut for it from {sources} {count} again; what of them was logged as an offcut since is to be "
        f"written off, or it is planned with twice (see: {command})"
    )
