"""What covers a lawn that may be laid in several ways: the answers for each way, put together and ranked anew."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from math import inf

from stockplan.domain.cover import Answer, Coverage, Laying, Ready

Rank = tuple[int, bool, bool, bool, bool, int]


def rank(answer: Answer) -> Rank:
    """In which order answers stand: readiest, in time, sound, known to be replaceable, in one piece, cheapest."""
    return (
        list(Ready).index(answer.ready),
        not answer.in_time,
        any(take.source.condition for take in answer.takes),
        answer.freeing is not None and answer.freeing.cost_pence is None,
        _seamed(answer),
        answer.cost_pence,
    )


def _seamed(answer: Answer) -> bool:
    return answer.seam_mm > 0 or (answer.laying is not None and answer.laying.seams > 0)


def laid(coverage: Coverage, laying: Laying) -> Coverage:
    """Say of every answer for which way to lay the lawn it is."""
    return replace(coverage, answers=tuple(replace(one, laying=laying) for one in coverage.answers))


def most_pence(found: Iterable[Coverage], laying: Laying, most: int) -> float:
    """Say what a free answer for one more way to lay the lawn may cost at most, to be told beside what was found.

    Only ways that lean alike are looked at, so that the best of each stays in sight.

    Parameters
    ----------
    found
        For other ways; each from `laid`.
    laying
        The way to come.
    most
        How many answers of each readiness are told.
    """
    alike = (
        one
        for each in found
        for one in each.of(Ready.FREE)
        if one.laying is not None and one.laying.bearing == laying.bearing
    )
    sound = [one for one in alike if not any(take.source.condition for take in one.takes)]
    seamed = laying.seams > 0
    before = list(_unlike(sorted((one for one in sound if _seamed(one) <= seamed), key=rank)))
    if len(before) < most:
        return inf
    # After so many without a seam, a way with one is told only where it is cheaper than all of them.
    return before[most - 1].cost_pence if _seamed(before[most - 1]) == seamed else min(one.cost_pence for one in before)


def put_together(coverages: Sequence[Coverage], most: int) -> Coverage:
    """Put together what was answered for each way to lay a lawn.

    Of each readiness the first few by `rank` are kept. Where they leave out a way with a seam that costs less than any
    of them, the cheapest of these comes after them. Of ways that lean alike and take from the same things, the best is
    kept alone.

    Parameters
    ----------
    coverages
        Each from `laid`, with the question for that way; one at least.
    most
        How many answers of each readiness.
    """
    every = sorted((one for each in coverages for one in each.answers), key=rank)
    kept = [one for ready in Ready for one in _few([one for one in _unlike(every) if one.ready is ready], most)]
    used = [one.laying for one in kept if one.laying]
    first = next((each for each in coverages if kept and kept[0] in each.answers), coverages[0])
    lettered = _lettered(dict.fromkeys(used))
    answers = tuple(replace(one, laying=lettered[one.laying] if one.laying else None) for one in kept)
    free = any(one.ready is Ready.FREE for one in kept)
    return replace(first, answers=answers, misses=() if free else first.misses, layings=tuple(lettered.values()))


def _unlike(answers: Iterable[Answer]) -> Iterator[Answer]:
    seen = set()
    for one in answers:
        things = tuple(sorted((take.source.key, take.source.form, take.source.width_mm) for take in one.takes))
        way = (one.ready, things, one.laying.bearing if one.laying else None, _seamed(one))
        if way not in seen:
            seen.add(way)
            yield one


def _few(ranked: Sequence[Answer], most: int) -> list[Answer]:
    kept = list(ranked[:most])
    least = min((one.cost_pence for one in kept), default=0)
    cheaper = [one for one in ranked[most:] if one.cost_pence < least and rank(one)[:4] == rank(kept[0])[:4]]
    return kept + cheaper[:1]


def _lettered(layings: Iterable[Laying]) -> dict[Laying, Laying]:
    every = list(layings)
    if len(every) == 1:
        return {every[0]: every[0]}
    return {one: replace(one, label=chr(ord("A") + number)) for number, one in enumerate(every)}
