"""What the jobs that lose something promised can be cut from instead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import islice

from stockplan.domain.cover import Promise, Question, Source, Take
from stockplan.domain.cover_purchase import cheapest_purchase, cheapest_purchases, is_small
from stockplan.domain.cover_search import Desk, from_batches, from_one_source
from stockplan.domain.pieces import in_order
from stockplan.domain.stock import StockForm, SupplyOption

Replaced = tuple[tuple[Take, ...], int]  # what is cut instead, and what else is given back by it


def replacement(
    promise: Promise,
    batch: str,
    free: Sequence[Source],
    supply: Sequence[SupplyOption],
    question: Question,
    desk: Desk,
) -> Replaced | None:
    """Give the cheapest found of what the jobs of a promise can be cut from instead; None when nothing is found.

    Tried: all their pieces together, and job by job; from one free source, from several of a batch, or bought in time,
    of one offer. A job with pieces elsewhere keeps its batch, or is cut wholly from elsewhere. It is a way that exists;
    planning everything anew may find a cheaper.

    Parameters
    ----------
    promise, batch
        What is promised, and the batch of what is freed.
    free, supply
        What there is instead.
    question
        Gives the day of asking.
    desk
        Of the same product.
    """
    days = dict(promise.jobs)
    ways: list[Replaced] = []
    together = in_order(tuple(piece for pieces in promise.needs.values() for piece in pieces))
    one_go = replace(question, pieces=together, lay_on=min(days.values()), most=1)
    if found := _instead(one_go, batch if promise.tied else None, free, supply, desk):
        ways.append((found, 0))
    if promise.tied and promise.tied <= promise.whole.keys():
        wholly = {code: promise.whole[code] for code in promise.tied}
        lists = [wholly[code][0] if code in wholly else pieces for code, pieces in promise.needs.items()]
        all_pieces = in_order(tuple(piece for pieces in lists for piece in pieces))
        if found := _instead(replace(one_go, pieces=all_pieces), None, free, supply, desk):
            ways.append((found, sum(given_back for _, given_back in wholly.values())))
    taken: list[Take] = []
    given_back = 0
    for code in sorted(promise.needs, key=lambda code: (days[code], code)):
        used = {take.source.key for take in taken}
        rest = [source for source in free if source.key not in used]
        mine = _for_one_job(promise, code, batch, rest, supply, question, desk)
        if mine is None:
            break
        taken += mine[0]
        given_back += mine[1]
    else:
        ways.append((tuple(taken), given_back))
    return min(ways, key=_cost_of, default=None)


def left_of(take: Take) -> list[Source]:
    """Give what is left of a source, under its tag, as something that the jobs it is promised to may be cut from."""
    source = take.source
    return [
        replace(
            source,
            form=StockForm.PART_ROLL if rest.on_core else StockForm.OFFCUT,
            width_mm=rest.width_mm,
            length_mm=rest.length_mm,
            touch_pence=rest.worth_pence,
        )
        for rest in take.cut.remainders
    ]


def _cost_of(replaced: Replaced) -> int:
    return sum(take.cost_pence for take in replaced[0]) - replaced[1]


def _for_one_job(
    promise: Promise,
    code: str,
    batch: str,
    free: Sequence[Source],
    supply: Sequence[SupplyOption],
    question: Question,
    desk: Desk,
) -> Replaced | None:
    tied, lay_on = code in promise.tied, dict(promise.jobs)[code]
    lost = replace(question, pieces=promise.needs[code], lay_on=lay_on, most=1)
    ways: list[Replaced] = []
    if found := _instead(lost, batch if tied else None, free, supply, desk):
        ways.append((found, 0))
    if tied and code in promise.whole:
        pieces, given_back = promise.whole[code]
        if found := _instead(replace(lost, pieces=pieces), None, free, supply, desk):
            ways.append((found, given_back))
    return min(ways, key=_cost_of, default=None)


def _there(source: Source, question: Question) -> bool:
    return source.from_day is None or question.lay_on is None or source.from_day < question.lay_on


def _instead(
    question: Question, batch: str | None, free: Sequence[Source], supply: Sequence[SupplyOption], desk: Desk
) -> tuple[Take, ...] | None:
    pieces = question.pieces
    if not is_small(pieces):
        return None
    sources = [one for one in free if batch in (None, one.batch) and _there(one, question)]
    ways: list[tuple[Take, ...]] = [(take,) for take in islice(from_one_source(desk, sources, pieces), 1)]
    ways += [tuple(takes) for takes in from_batches(desk, sources, pieces, 1)]
    for option in supply if batch is None else ():
        take = cheapest_purchase(desk, option, question)
        takes = (take,) if take else cheapest_purchases(desk, [option], question)
        if takes and all(_there(take.source, question) for take in takes):
            ways.append(takes)
    return min(ways, key=lambda takes: sum(take.cost_pence for take in takes), default=None)
