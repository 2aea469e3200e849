"""Column generation with each price kept near that of the best bound: few rounds, and bounds that climb from the first.

Left to themselves the prices of a relaxation with few columns swing to and fro. Here each piece type may also be had or
given away at a price somewhat above or below that of the best bound so far, which fences its dual in (Marsten, Hogan,
Blankenship, "The boxstep method for large-scale optimization", Operations Research 23, 1975; by slack variables: du
Merle and others, "Stabilized column generation", Discrete Mathematics 194, 1999). Once the bound has risen by a good
part of what the fenced relaxation promised, the fences move to its prices; wider where the relaxation leant on them,
narrower elsewhere. It ends where no fence is leant on and value and bound meet.

Purchases, of which there is no end, may not gain at prices that are to bound anything. A gaining pattern of theirs is
taken, its pieces made cheaper by just so much that it gains no more, and the next sought, until none gains: that gives
several patterns a round, and prices near those asked for. On 150 jobs pooled (`pooled.py`) that takes 16 rounds and 4 s
from prices 2.1 % below the relaxation, where smoothing took 530 rounds and 160 s. Where pricing takes long, several
patterns of each source are taken at the same prices: at a grid of 10 mm 18 rounds are enough then, else more than 100.

Rows of `links.py` may be held as well: those that count pieces from the start, the others, which are closer but take
branching to price (`touching.py`), where they are violated once the bound is near. Each class of stock is then priced
by itself. On weeks of 30 jobs the former lift the bound by 0.2 to 0.4 %, the latter by as much again.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping

from stockplan.cutting.ascent import first_price
from stockplan.cutting.bounds import lagrangian_bound, repaired
from stockplan.cutting.budget import Budget
from stockplan.cutting.instance import Instance, PieceType, Source
from stockplan.cutting.links import Link, discounted, links_of, rebates
from stockplan.cutting.master import Master
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.pricers import GAIN, Pricers
from stockplan.cutting.pricing import Pricer
from stockplan.cutting.touching import Charge, charges_of, most_valuable
from stockplan.cutting.valuing import Priced

TOLERANCE = 2e-5  # between value and bound, relative
SERIOUS = 0.3  # part of what was promised for which the fences move
WIDEST, NARROWEST = 1.0, 0.005  # share of a price on either side of it
WIDER, NARROWER = 4.0, 0.7
LONG, LONG_TOLERANCE = 4.0, 1e-3  # seconds, after which this is near enough where a rough relaxation is wanted
MOST_ROUNDS = 300
NEAR = 2e-4  # value and bound, for rows that do not count pieces to be looked for
ROUNDS_BETWEEN = 5  # two looks for such rows
LEAST_EXCESS, ROWS_A_ROUND = 0.02, 60  # of a source, by which one is violated; how many are added at a time
MOST_STUCK, PROGRESS = 3, 1e-6  # moves of the fences in a row that bring the bound no further, relative
MOST_AT_ONCE = 24  # sources of one batch that patterns are sought of in a round
MOST_TOUCHED = 4  # patterns of one source in a round, where its rows do not count pieces

Rows = Mapping[Source, Mapping[Link, float]]


class Boxed:
    """Such a relaxation.

    Parameters
    ----------
    instance
        The problem.
    pricers
        Its recursions, exact; each class of stock apart where rows tie it.
    prices
        Prices to begin with.
    budget
        Work and clock.
    patterns
        Patterns to begin with, and what each costs, pence; default none.
    share
        How far from those prices the first fences stand, as a share of each.
    tied
        Whether to hold rows of `links.py`; default not.

    Attributes
    ----------
    bound, prices, rows, worth
        The best bound, pence; its prices of pieces and of rows; at most what each class of stock is worth at them.
    """

    def __init__(
        self,
        instance: Instance,
        pricers: Pricers,
        prices: Mapping[PieceType, float],
        budget: Budget,
        *,
        patterns: Mapping[Pattern, float] | None = None,
        share: float,
        tied: bool = False,
    ) -> None:
        self.instance, self.pricers, self.budget = instance, pricers, budget
        self.master = self._stated(patterns)
        self._tied = tied
        self._touching = links_of(instance)
        if tied:
            self.master.tie(link for rows in links_of(instance, counted=True).values() for link in rows)
        self.bound = 0.0
        self.prices: Mapping[PieceType, float] = dict(prices)
        self.rows: Rows = {}
        self.worth: Mapping[Source, float] = {}
        self._shares = dict.fromkeys(instance.piece_types(), share)
        self._usual = {t: first_price(instance, t) for t in self._shares}
        self._centre_bound = 0.0

    def _stated(self, patterns: Mapping[Pattern, float] | None) -> Master:
        return Master(self.instance, patterns)

    def run(self, tell: Callable[[float], None], tolerance: float = TOLERANCE, *, roughly: bool = False) -> None:
        """Add patterns until value and bound meet or the budget is over; the prices of the best bound are in `prices`.

        Parameters
        ----------
        tell
            Told the best bound after each round.
        tolerance
            Distance between value and bound, relative, at which they have met.
        roughly
            Whether to end once moving the fences gained less than that distance, a greater one when it takes long;
            default not.
        """
        began = time.monotonic()
        self._look(self.prices, {}, self.rows)
        tell(self.bound)
        self._centre_bound = self.bound
        self._fence()
        stuck = tied_before = 0
        for number in range(MOST_ROUNDS):
            if self.budget.over() or not self.master.solve():
                return
            added = self._look(self.master.prices(), self.master.class_prices(), self.master.link_prices())
            tell(self.bound)
            value, leant_on = self.master.value, self.master.leant_on()
            apart = value - self.bound
            close = LONG_TOLERANCE if roughly and time.monotonic() > began + LONG else tolerance
            settled = not added or apart < close * value
            due = settled or number >= tied_before + ROUNDS_BETWEEN
            if self._tied and apart < NEAR * value and due and self._touch():
                tied_before = number
                continue
            enough = roughly and self.bound - self._centre_bound < close * value
            if settled and (enough or not leant_on or stuck == MOST_STUCK or self._ended(close)):
                return
            if settled or self.bound - self._centre_bound >= SERIOUS * (value - self._centre_bound):
                stuck = stuck + 1 if self.bound < self._centre_bound * (1 + PROGRESS) else 0
                self._move(leant_on)

    def _ended(self, tolerance: float) -> bool:
        """Whether hardly more than the bound is to be had: what was found so far costs no more without fences."""
        value = self.master.unfenced()
        return value is not None and value - self.bound < tolerance * value

    def _touch(self) -> bool:
        """Add the rows that do not count pieces which the relaxation violates; False where there are none."""
        found = self.master.untied(self._touching, LEAST_EXCESS)
        found.sort(key=lambda one: (-round(one[0], 6), one[1].group, one[1].source.tags))
        self.master.tie(link for _, link in found[:ROWS_A_ROUND])
        return bool(found)

    def _move(self, leant_on: set[PieceType]) -> None:
        """Move the fences to the prices of the best bound."""
        self._centre_bound = self.bound
        self._shares = {
            t: min(WIDEST, share * WIDER) if t in leant_on else max(NARROWEST, share * NARROWER)
            for t, share in self._shares.items()
        }
        self._fence()

    def _fence(self) -> None:
        """Fences round the prices of the best bound; prices of next to nothing have room to rise as well."""
        widths = {t: share * max(self.prices.get(t, 0.0), self._usual[t]) for t, share in self._shares.items()}
        self.master.fence(self.prices, widths)

    def _look(self, prices: Mapping[PieceType, float], classes: Mapping[Source, float], rows: Rows) -> int:
        """Price everything, keep the bound, and add what gains; returns how many patterns were new."""
        fresh, stock = self._price_stock(prices, classes, rows)
        bought = self.pricers.without_gain(prices, self.budget)
        priced = stock + bought.priced
        off = rebates(self.instance, rows)
        bound = lagrangian_bound(self.instance, bought.prices, priced, off)
        if bound > self.bound:
            self.bound, self.prices = bound, repaired(self.instance, bought.prices, priced)
            self.rows = {source: dict(held) for source, held in rows.items()}
            self.worth = {one.source: one.value for one in stock}
        return self.master.add(fresh | bought.patterns)

    def _price_stock(
        self, prices: Mapping[PieceType, float], classes: Mapping[Source, float], rows: Rows
    ) -> tuple[dict[Pattern, float], list[Priced]]:
        """The patterns of stock that gain and their costs, and the value of every source in the yard."""
        fresh: dict[Pattern, float] = {}
        everything: list[Priced] = []
        for pricer in self.pricers.each:
            if pricer.sources[0].option is not None:
                continue
            mine = rows.get(pricer.sources[0], {})
            lowered = discounted(prices, {link: p for link, p in mine.items() if link.counted}) if mine else prices
            charges = charges_of(pricer, mine)
            found, priced = _charged(pricer, lowered, charges, classes) if charges else _plain(pricer, lowered, classes)
            fresh.update(found)
            everything.extend(priced)
            self.budget.spend(1)
            pricer.forget()
        return fresh, everything


def _plain(
    pricer: Pricer, prices: Mapping[PieceType, float], classes: Mapping[Source, float]
) -> tuple[dict[Pattern, float], list[Priced]]:
    priced = pricer.price(prices)
    gains = [(p.value - p.source.value_pence + classes.get(p.source, 0.0), p) for p in priced]
    gaining = sorted((g for g in gains if g[0] > GAIN), key=lambda g: -g[0])
    found = {}
    for gain, one in gaining[:MOST_AT_ONCE]:
        for pattern, value in pricer.patterns(one.source, one.value - gain + GAIN, pricer.usual):
            found[pattern] = pricer.cost(pattern, value, prices)
    return found, priced


def _charged(
    pricer: Pricer, prices: Mapping[PieceType, float], charges: list[Charge], classes: Mapping[Source, float]
) -> tuple[dict[Pattern, float], list[Priced]]:
    source = pricer.sources[0]
    touched = most_valuable(pricer, prices, charges, source.value_pence - classes.get(source, 0.0) + GAIN)
    return dict(list(touched.patterns.items())[:MOST_TOUCHED]), [Priced(source, touched.most)]
