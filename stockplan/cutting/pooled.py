"""A bound for weeks too large to price batch by batch: all the yard's grass as one batch, at a few costs.

In a large week hardly a job is held up for want of a batch, so the rule that a job comes from one batch adds little to
the bound (fixing every job's batch raised the relaxation of 150 jobs by 0.2 %), but it multiplies the piece types by
the batches. Here every stock item of a product
is of one batch, and its cost per square metre is lowered to the least of its group. Whatever a real plan cuts can be
cut here, for no more: with F what an item counts for per penny of its cost and f_i what its leftovers do, using it
costs c (F - sum f_i) plus cuts, and F >= sum f_i. Worth is rounded down leftover by leftover, so an item whose cost was
lowered is also made cheaper by a penny for each leftover it can come to at most. The best cost here is thus never above
the best cost there, nor is any bound on it.

A roll of 3.97 m among pieces on a grid of 50 mm would make every recursion one of 10 mm. Such a roll is made wider, up
to the next step: what was beside its lanes is then no narrower and worth no less. Only a drop whose lanes took all of
its width needs a rip more, so it is made cheaper by a rip for each drop that it can come to. A source measured to the
millimetre among pieces in whole centimetres is made longer likewise, and cheaper by the crosscut that ends its last
drop.

The prices of this bound hold in the problem itself as well, piece size by piece size, and bound it better, since there
no cost is lowered: on 150 jobs the relaxation over the pool stands at 156,579 pounds after 7 s, and its prices bound
the problem itself by 157,545, or 157,657 with sources as wide and long as they are (`bounding.py`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from stockplan.cutting.budget import Budget
from stockplan.cutting.building import build_instance
from stockplan.cutting.instance import Instance, PieceType, Source, for_bounds
from stockplan.cutting.nearly import nearly_solved
from stockplan.domain.request import PlanRequest
from stockplan.domain.stock import StockItem
from stockplan.domain.worth import LEAST_LENGTH_MM, LEAST_WIDTH_MM

POOL = "pool"
COSTS = 6  # groups of cost; more are closer and take longer to price
LENGTH_STEP_MM = 10


def pooled(request: PlanRequest, instance: Instance, costs: int = COSTS) -> Instance:
    """The same product's problem with all stock in one batch, at no more than so many costs.

    Parameters
    ----------
    request
        What is asked for.
    instance
        The product's problem, for its penalties.
    costs
        At least 1.
    """
    mine = [item for item in request.stock if item.product == instance.product]
    lowered = _lowered(mine, costs)
    alike = tuple(replace(item, batch=POOL, cost_pence_per_m2=lowered[item.cost_pence_per_m2]) for item in mine)
    begun = tuple(replace(cut, batch=POOL) for cut in request.cut_already)
    easier = for_bounds(build_instance(replace(request, stock=alike, cut_already=begun), instance.product))
    dearer = {item.tag for item in mine if lowered[item.cost_pence_per_m2] < item.cost_pence_per_m2}
    sources = tuple(part for source in easier.sources for part in _with_rounding(source, dearer))
    return with_coarse_sizes(replace(easier, sources=sources, penalties=instance.penalties))


def with_coarse_sizes(instance: Instance) -> Instance:
    """A problem that costs no more, its sources as wide and long as the next step of its pieces; for bounds only."""
    types = instance.piece_types()
    across = math.gcd(LEAST_WIDTH_MM, *(piece.width_mm for piece in types))
    along = math.gcd(LENGTH_STEP_MM, *(piece.length_mm for piece in types))
    shortest = min((piece.length_mm for piece in types), default=1)

    def larger(source: Source) -> Source:
        width, length = -(-source.width_mm // across) * across, -(-source.length_mm // along) * along
        cuts = instance.costs.crosscut_pence if length > source.length_mm else 0
        if width > source.width_mm:
            cuts += source.length_mm // shortest * instance.costs.rip_pence
        return replace(source, width_mm=width, length_mm=length, value_pence=source.value_pence - cuts)

    return replace(instance, sources=tuple(map(larger, instance.sources)))


def _lowered(items: Sequence[StockItem], costs: int) -> dict[int, int]:
    """By cost: the least cost of its group, groups being equally wide."""
    found = sorted({item.cost_pence_per_m2 for item in items})
    least: dict[int, int] = {}
    return {cost: least.setdefault((cost - found[0]) * costs // (found[-1] - found[0] + 1), cost) for cost in found}


def _with_rounding(source: Source, dearer: set[str]) -> list[Source]:
    """A source class in two: copies whose cost was lowered, cheaper by what rounding may come to, and the others."""
    if source.copies is None:
        return [source]
    most_leftovers = source.width_mm * source.length_mm // (LEAST_WIDTH_MM * LEAST_LENGTH_MM)
    changed = tuple(tag for tag in source.tags if tag in dearer)
    same = tuple(tag for tag in source.tags if tag not in dearer)
    parts = [replace(source, tags=same)] if same else []
    if changed:
        parts.append(replace(source, tags=changed, value_pence=source.value_pence - most_leftovers))
    return parts


def pooled_bound(
    request: PlanRequest, instance: Instance, budget: Budget, on_round: Callable[[float], None] | None = None
) -> tuple[float, dict[PieceType, float]]:
    """A lower bound on what covering a product's jobs costs, penalties included, pence.

    Parameters
    ----------
    request, instance
        What is asked for, and the product's problem.
    budget
        Work and clock.
    on_round
        Told the bound now and then.

    Returns
    -------
    The bound, 0 when the budget is over first, and prices by piece type of the product's problem: those of its size,
    bought or from the yard, and of what is open to it. Offers that come too late for a piece make it dearer: on L 3,
    where some do, the prices of its size alone bound the problem by 114,456 pounds, these by 115,019.
    """
    easier = pooled(request, instance)
    bound, prices = nearly_solved(easier, budget, on_round or (lambda _: None))
    bought = {source.batch for source in instance.sources if source.option is not None}
    offered = {source.batch for source in easier.sources if source.option is not None}
    known = {replace(t, batch=int(t.batch in offered)): price for t, price in prices.items()}
    alike = ((t, replace(t, batch=int(t.batch in bought))) for t in instance.piece_types())
    return bound, {t: known[one] for t, one in alike if one in known}
