"""The pricing problem where a pattern is charged for each job it holds pieces of, however many: by branching on jobs.

A row of `links.py` that does not count pieces charges m for any piece of a job. A source holds at most k of the job's
pieces, so a charge of m / k on each of them is never more; at prices lowered so the recursions of `pricing.py` bound
what any pattern is worth. Where their best pattern holds some of a job's pieces but fewer than k, it is charged too
little; then either the source holds none of that job's pieces, or the charge is paid in full and its pieces cost no
more. The node whose bound is highest is looked into first.
"""

from __future__ import annotations

import heapq
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from stockplan.cutting.instance import PieceType
from stockplan.cutting.links import Link, most_held
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.pricing import Pricer
from stockplan.cutting.recursions import NEVER

CLOSE = 10.0  # pence: a bound so near the best pattern, or what is asked, is near enough
MOST_NODES = 40
MANY = 10_000  # pieces, more than any source holds


class Touched(NamedTuple):
    """What was found: no pattern is worth more than `most`, less charges; patterns met, the best first, and costs."""

    most: float
    patterns: dict[Pattern, float]


class Charge(NamedTuple):
    """What a pattern is charged for pieces of one job: pence, the pieces, and how many of them a source can hold."""

    pence: float
    types: frozenset[PieceType]
    held: int


def charges_of(
    pricer: Pricer, rows: Mapping[Link, float], needed: Mapping[PieceType, int] | None = None
) -> list[Charge]:
    """The charges of rows that do not count pieces.

    Parameters
    ----------
    pricer
        Of one class of stock.
    rows
        What its rows charge, pence.
    needed
        By piece type how many one source holds at most of those it has room for; default any number.
    """
    source = pricer.sources[0]
    found = []
    for link, pence in rows.items():
        if pence > 0.0 and not link.counted:
            most = {t: MANY if needed is None else needed[t] for t in link.types}
            found.append(Charge(pence, link.types, max(1, most_held(source, most))))
    return found


def most_valuable(
    pricer: Pricer, prices: Mapping[PieceType, float], charges: Sequence[Charge], enough: float
) -> Touched:
    """The most valuable pattern of a class of stock, less what it is charged; its source's own value is not in it.

    Parameters
    ----------
    pricer
        Of one class of stock.
    prices
        Pence by piece type.
    charges
        Of jobs that share no piece type.
    enough
        A pattern worth no more is of no interest, pence.
    """
    tree = _Tree(pricer, prices, charges)
    tree.look(frozenset(), frozenset())
    closed = NEVER
    while tree.open and tree.looked < MOST_NODES:
        bound = -tree.open[0].negative_bound
        if bound <= max(enough, *tree.met.values()) + CLOSE:
            break
        node = heapq.heappop(tree.open)
        job = tree.charged_too_little(node)
        if job is None:
            closed = max(closed, bound)
        else:
            tree.look(node.banned | {job}, node.paid)
            tree.look(node.banned, node.paid | {job})
    most = max([closed, *(-node.negative_bound for node in tree.open)])
    best = sorted(tree.met.items(), key=lambda one: -one[1])
    return Touched(most, {p: tree.costs[p] for p, value in best if value > enough})


class _Node(NamedTuple):
    """A part of the patterns: none of some jobs' pieces, others' charges paid in full; its bound, its best pattern."""

    negative_bound: float
    number: int
    banned: frozenset[int]
    paid: frozenset[int]
    pattern: Pattern


class _Tree:
    """What is known of the patterns of a class: nodes still open, and patterns met with what they are worth."""

    def __init__(self, pricer: Pricer, prices: Mapping[PieceType, float], charges: Sequence[Charge]) -> None:
        self.pricer, self.prices, self.charges = pricer, prices, charges
        self.open: list[_Node] = []
        self.met: dict[Pattern, float] = {}
        self.costs: dict[Pattern, float] = {}
        self.looked = 0

    def look(self, banned: frozenset[int], paid: frozenset[int]) -> None:
        """Price a node, and keep it open where there is any pattern."""
        self.looked += 1
        lowered = self._lowered(banned, paid)
        priced = self.pricer.price(lowered)
        if not priced:
            return
        bound = priced[0].value - sum(self.charges[n].pence for n in paid)
        pattern = self.pricer.pattern(self.pricer.sources[0])
        made = pattern.made()
        held = {n for n, charge in enumerate(self.charges) if any(t in made for t in charge.types)}
        value = priced[0].value - sum(self.charges[n].pence for n in held)
        value += sum(count * (self.prices.get(t, 0.0) - lowered.get(t, 0.0)) for t, count in made.items())
        self.met[pattern] = value
        self.costs[pattern] = self.pricer.cost(pattern, priced[0].value, lowered)
        heapq.heappush(self.open, _Node(-bound, self.looked, banned, paid, pattern))

    def _lowered(self, banned: frozenset[int], paid: frozenset[int]) -> dict[PieceType, float]:
        lowered = dict(self.prices)
        for n, charge in enumerate(self.charges):
            if n not in paid:
                for piece in charge.types & lowered.keys():
                    share = charge.pence / charge.held
                    lowered[piece] = 0.0 if n in banned else max(0.0, lowered[piece] - share)
        return lowered

    def charged_too_little(self, node: _Node) -> int | None:
        """The job of whose charge the node's pattern pays the least part, by pence; None where all is paid."""
        made = node.pattern.made()
        short = []
        for n, charge in enumerate(self.charges):
            count = sum(k for t, k in made.items() if t in charge.types)
            if n not in node.paid and 0 < count < charge.held:
                short.append((charge.pence * (1 - count / charge.held), -n))
        return -max(short)[1] if short else None
