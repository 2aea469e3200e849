"""Every way to cut, tried out: tiny problems solved by going through all of them.

Sizes are whole steps of half a metre. Where every size is one, so is every size at which worth changes its rule, and
between those sizes worth bends upward: no cut off the steps beats the best cut on them by more than the rounding of
each leftover to whole pence.

Nothing here calls the planner. What grass is worth comes from the rule in words, in `builders`.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from itertools import product

from builders import is_full, widest, worth, worth_of_item

from stockplan.domain.jobs import BatchRule, Job
from stockplan.domain.plan import NEW_BATCH
from stockplan.domain.request import PlanRequest
from stockplan.domain.stock import StockForm, SupplyForm, SupplyOption

STEP_MM = 500
Size = tuple[int, int]  # across, along, mm
Pieces = tuple[Size, ...]  # ascending
IMPOSSIBLE = math.inf
Cost = float  # whole pence, or IMPOSSIBLE


@dataclass(frozen=True)
class Ground:
    """Something to cut up: size, what touching it costs, what its grass cost, whether its tail stays on a core."""

    width_mm: int
    length_mm: int
    pence: int
    pence_per_m2: Fraction
    on_core: bool


@dataclass(frozen=True)
class Prices:
    """What a cut costs, what counts as full width, and whether leftovers are worth anything."""

    crosscut: int
    rip: int
    widest_mm: int
    worth: bool

    def loose(self, ground: Ground, width: int, length: int) -> int:
        if not self.worth or width == 0 or length == 0:
            return 0
        return worth(width, length, is_full(width, False, self.widest_mm), ground.pence_per_m2)

    def tail(self, ground: Ground, length: int) -> int:
        if not self.worth or length == 0:
            return 0
        full = is_full(ground.width_mm, ground.on_core, self.widest_mm)
        return worth(ground.width_mm, length, full, ground.pence_per_m2)


def steps(least: int, most: int) -> range:
    """Sizes on the steps, from the least to the most."""
    return range(least, most + 1, STEP_MM)


def splits(pieces: Pieces) -> Iterator[tuple[Pieces, Pieces]]:
    """Every way to take some of the pieces, at least one, and leave the rest; alike pieces count once."""
    sizes = sorted(set(pieces))
    for counts in product(*(range(pieces.count(size) + 1) for size in sizes)):
        taken = tuple(size for size, count in zip(sizes, counts, strict=True) for _ in range(count))
        if taken:
            rest = list(pieces)
            for size in taken:
                rest.remove(size)
            yield taken, tuple(rest)


class ExactCuts:
    """The cheapest way to cut exactly these pieces from one source."""

    def __init__(self, ground: Ground, prices: Prices) -> None:
        self.ground, self.prices = ground, prices
        self._lane = cache(self._lane_cost)
        self._drop = cache(self._drop_cost)
        self._source = cache(self._source_cost)

    def cost(self, pieces: Pieces) -> Cost:
        """Pence, or `IMPOSSIBLE`."""
        if any(width > self.ground.width_mm or length > self.ground.length_mm for width, length in pieces):
            return IMPOSSIBLE
        if sum(w * n for w, n in pieces) > self.ground.width_mm * self.ground.length_mm:
            return IMPOSSIBLE
        return self.ground.pence + self._source(pieces, self.ground.length_mm)

    def _source_cost(self, pieces: Pieces, length: int) -> Cost:
        """Of a source of which so much length is left."""
        if not pieces:
            return -self.prices.tail(self.ground, length)
        best: Cost = IMPOSSIBLE
        for taken, rest in splits(pieces):
            for drop in steps(max(n for _, n in taken), length):
                crosscut = self.prices.crosscut if drop < length else 0
                first = self._drop(taken, drop, self.ground.width_mm)
                if first < IMPOSSIBLE:
                    best = min(best, first + crosscut + self._source(rest, length - drop))
        return best

    def _drop_cost(self, pieces: Pieces, length: int, width: int) -> Cost:
        """Of a drop of which so much width is left."""
        if not pieces:
            return -self.prices.loose(self.ground, width, length)
        best: Cost = IMPOSSIBLE
        for taken, rest in splits(pieces):
            if sum(n for _, n in taken) > length:
                continue
            for lane in steps(max(w for w, _ in taken), width):
                rip = self.prices.rip if lane < width else 0
                others = self._drop(rest, length, width - lane)
                best = min(best, self._lane(taken, length, lane) + rip + others)
        return min(best, IMPOSSIBLE)

    def _lane_cost(self, pieces: Pieces, length: int, width: int) -> int:
        """Of a lane cut into these pieces one after another; their order does not matter."""
        cost = 0
        for piece_width, piece_length in pieces:
            if length > piece_length:
                cost += self.prices.crosscut
            if width > piece_width:
                cost += self.prices.rip - self.prices.loose(self.ground, width - piece_width, piece_length)
            length -= piece_length
        return cost - self.prices.loose(self.ground, width, length)


class MostValuable:
    """The most valuable way to cut one source when pieces carry prices and may repeat without end."""

    def __init__(self, ground: Ground, prices: Prices, pence: Mapping[Size, float]) -> None:
        self.ground, self.prices, self.pence = ground, prices, dict(pence)
        self._lane = cache(self._lane_value)
        self._lanes = cache(self._lanes_value)
        self._drops = cache(self._drops_value)

    def value(self) -> float:
        """Prices of pieces and worth of leftovers less cuts, at least one piece cut; minus infinity if none fits."""
        return self._drops(self.ground.length_mm, False)

    def _drops_value(self, length: int, begun: bool) -> float:
        best = float(self.prices.tail(self.ground, length)) if begun else -math.inf
        for drop in steps(STEP_MM, length):
            crosscut = self.prices.crosscut if drop < length else 0
            one = self._lanes(drop, self.ground.width_mm, False)
            if one > -math.inf:
                best = max(best, one - crosscut + self._drops(length - drop, True))
        return best

    def _lanes_value(self, length: int, width: int, begun: bool) -> float:
        best = float(self.prices.loose(self.ground, width, length)) if begun else -math.inf
        for lane in steps(STEP_MM, width):
            rip = self.prices.rip if lane < width else 0
            one = self._lane(length, lane, False)
            if one > -math.inf:
                best = max(best, one - rip + self._lanes(length, width - lane, True))
        return best

    def _lane_value(self, length: int, width: int, begun: bool) -> float:
        best = float(self.prices.loose(self.ground, width, length)) if begun else -math.inf
        for (piece_width, piece_length), pence in self.pence.items():
            if piece_width > width or piece_length > length:
                continue
            crosscut = self.prices.crosscut if piece_length < length else 0
            trim = 0
            if piece_width < width:
                trim = self.prices.rip - self.prices.loose(self.ground, width - piece_width, piece_length)
            best = max(best, pence - crosscut - trim + self._lane(length - piece_length, width, True))
        return best


# --- whole problems ---------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Best:
    """The best there is: the fewest pieces short, and the least cost at which no more are."""

    pieces_short: int
    net_cost: Cost


class WholeProblem:
    """A request of one grass, solved by going through every assignment and every cut.

    `banned` holds what no piece of a job may come from: its code and a batch, `new` for what is bought.
    """

    def __init__(self, request: PlanRequest, banned: Collection[tuple[str, str]] = ()) -> None:
        self.request, self.banned = request, banned
        code = request.products[0].code
        costs = request.costs
        full = widest(request, code)
        self.prices = Prices(costs.crosscut_pence, costs.rip_pence, full, costs.leftovers_have_worth)
        self.stock: dict[str, list[ExactCuts]] = {}
        for held in request.stock:
            value = worth_of_item(request, held)
            on_core = held.form is not StockForm.OFFCUT
            size = (held.width_mm, held.length_mm)
            ground = Ground(*size, value, Fraction(held.cost_pence_per_m2), on_core)
            self.stock.setdefault(held.batch_key, []).append(ExactCuts(ground, self.prices))
        self.bought = [[ExactCuts(ground, self.prices) for ground in purchases(option)] for option in request.supply]
        self._in_batch = cache(self._batch_cost)

    def solve(self, served: Collection[str] = ()) -> Best:
        """Go through every set of jobs to leave short, none of those to be served, and every batch for the others."""
        jobs = self.request.jobs
        best: Best | None = None
        for left in product((False, True), repeat=len(jobs)):
            if any(is_left and j.code in served for j, is_left in zip(jobs, left, strict=True)):
                continue
            short = sum(j.piece_count for j, is_left in zip(jobs, left, strict=True) if is_left)
            if best is not None and short > best.pieces_short:
                continue
            cost = self._served([j for j, is_left in zip(jobs, left, strict=True) if not is_left])
            if cost < IMPOSSIBLE and (best is None or (short, cost) < (best.pieces_short, best.net_cost)):
                best = Best(short, cost)
        return best or Best(sum(j.piece_count for j in jobs) + 1, IMPOSSIBLE)

    def _served(self, jobs: Sequence[Job]) -> Cost:
        units: list[tuple[Pieces, frozenset[int]]] = []
        owners: list[str] = []
        for one in jobs:
            pieces = tuple(sorted((s.width_mm, s.length_mm) for s in one.strips for _ in range(s.count)))
            in_time = frozenset(
                n for n, s in enumerate(self.request.supply) if (one.lay_on - self.request.today).days > s.lead_days
            )
            units += [(pieces, in_time)] if one.batch_rule is BatchRule.ONE else [((p,), in_time) for p in pieces]
            owners += [one.code] * (len(units) - len(owners))
        batches = [*self.stock, None]
        least: Cost = IMPOSSIBLE
        for chosen in product(batches, repeat=len(units)):
            if any((code, batch or NEW_BATCH) in self.banned for code, batch in zip(owners, chosen, strict=True)):
                continue
            total: Cost = 0
            for batch in batches:
                mine = [unit for unit, taken in zip(units, chosen, strict=True) if taken == batch]
                if batch is None:
                    wanted = tuple(sorted((p, in_time) for pieces, in_time in mine for p in pieces))
                    total += self._purchase_cost(wanted)
                else:
                    total += self._in_batch(batch, 0, tuple(sorted(p for pieces, _ in mine for p in pieces)))
                if total >= least:
                    break
            least = min(least, total)
        return least

    def _batch_cost(self, batch: str, first: int, pieces: Pieces) -> Cost:
        """Of cutting pieces from a batch's stock items, from the numbered one on."""
        if not pieces:
            return 0
        sources = self.stock[batch]
        if first == len(sources):
            return IMPOSSIBLE
        best = self._in_batch(batch, first + 1, pieces)
        for taken, rest in splits(pieces):
            here = sources[first].cost(taken)
            if here < IMPOSSIBLE:
                best = min(best, here + self._in_batch(batch, first + 1, rest))
        return best

    def _purchase_cost(self, wanted: tuple[tuple[Size, frozenset[int]], ...]) -> Cost:
        """Of cutting pieces from purchases that arrive in time for all they serve."""
        if not wanted:
            return 0
        best: Cost = IMPOSSIBLE
        first, others = wanted[0], wanted[1:]
        for keep in product((True, False), repeat=len(others)):
            with_first = [first, *(w for w, kept in zip(others, keep, strict=True) if kept)]
            rest = tuple(w for w, kept in zip(others, keep, strict=True) if not kept)
            pieces = tuple(sorted(size for size, _ in with_first))
            in_time = frozenset.intersection(*(options for _, options in with_first))
            here = min((cuts.cost(pieces) for n in in_time for cuts in self.bought[n]), default=IMPOSSIBLE)
            if here < best:
                best = min(best, here + self._purchase_cost(rest))
        return best


def purchases(option: SupplyOption) -> Iterator[Ground]:
    """Every purchase of a supply option whose length lies on the steps."""
    roll = option.form is SupplyForm.ROLL
    for length in [option.length_mm] if roll else steps(1000, option.length_mm):
        pence = option.price_pence if roll else (option.price_pence * length + 500) // 1000
        per_m2 = Fraction(pence * 1_000_000, option.width_mm * length)
        yield Ground(option.width_mm, length, pence, per_m2, roll)
