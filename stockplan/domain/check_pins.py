"""Rules about what was settled before: pins, and what has been cut already."""

from __future__ import annotations

from collections.abc import Iterator

from stockplan.domain.check_facts import Facts, Rule, Violation, piece_name
from stockplan.domain.jobs import BatchRule


def pins(facts: Facts) -> Iterator[Violation]:
    """Every piece of a pinned job comes from what the job is pinned to."""
    pinned: dict[str, list[str]] = {}
    for pin in facts.request.pins:
        pinned.setdefault(pin.job, []).append(pin.source)
    for cuts in facts.plan.cuts():
        for piece in cuts.pieces():
            wanted = pinned.get(piece.job)
            if wanted is not None and cuts.source not in wanted:
                yield Violation(Rule.PINS, f"is pinned to {' or '.join(wanted)}", piece_name(piece))


def cut_already(facts: Facts) -> Iterator[Violation]:
    """Copies cut before are not cut again, and a job that wants one batch keeps the batch it was begun in."""
    begun: dict[str, set[str]] = {}
    for done in facts.request.cut_already:
        begun.setdefault(done.job, set()).add(done.batch)
    for cuts in facts.plan.cuts():
        source = facts.sources.get(cuts.source)
        for piece in cuts.pieces():
            count = facts.cut[piece.job, piece.strip]
            if 1 <= piece.number <= count:
                yield Violation(Rule.CUT_ALREADY, f"copies 1 to {count} are cut already", piece_name(piece))
            job, batches = facts.jobs.get(piece.job), begun.get(piece.job)
            if source is None or job is None or batches is None or job.batch_rule is not BatchRule.ONE:
                continue
            if source.bought or batches != {source.batch}:
                names = " and ".join(sorted(batches))
                yield Violation(Rule.CUT_ALREADY, f"the job was begun in batch {names}", piece_name(piece))
