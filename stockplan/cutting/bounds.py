"""Lower bounds from prices: what no plan can undercut.

Relaxing the piece rows of the master program at prices p_t >= 0 (Lagrange; Geoffrion 1974) leaves independent problems:

    bound(p) = sum over t of fixed_t p_t
             + sum over j of min( penalty_j,
                                  sum over its groups g of units_g min over h of seams_gh + sum over t need_ght p_t )
             + sum over stock classes c of copies_c min( 0, value_c - best_c(p) )

with best_c the pricing value; a piece of no batch (`Mixed` in `instance.py`) has the least price of those that it may
be had as. Purchases have no end, so none may price out below nothing: the prices of the `new` batch are scaled down
until none does (Farley 1990). If a purchase pattern gains v over its cost, and no pattern of that purchase costs less
than m > 0, then prices times m / (m + v) leave none that gains.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence

from stockplan.cutting.instance import Choice, Instance, PieceType
from stockplan.cutting.valuing import Priced

SMALLEST = 1e-6  # pence
CERTAIN = 1e-8  # relative; allowance for rounding in floating point, taken off every bound


def purchase_scale(priced: Sequence[Priced]) -> float:
    """Factor by which prices on the `new` batch must shrink so that no purchase gains.

    Parameters
    ----------
    priced
        Pricing values of every source at the prices to be repaired.
    """
    scale = 1.0
    for one in priced:
        if one.source.option is None:
            continue
        gain = one.value - one.source.value_pence
        if gain > 0:
            # Leftovers are worth at most 0.90 of what the grass cost, so a tenth of the price is always spent.
            least = max(one.source.value_pence / 10, 1e-9)
            scale = min(scale, least / (least + gain))
    return scale


def repaired(instance: Instance, prices: Mapping[PieceType, float], priced: Sequence[Priced]) -> dict[PieceType, float]:
    """Prices at which no purchase gains."""
    scale = purchase_scale(priced)
    bought = {s.batch for s in instance.sources if s.option is not None}
    return {t: p * scale if t.batch in bought else p for t, p in prices.items()}


def lagrangian_bound(
    instance: Instance,
    prices: Mapping[PieceType, float],
    priced: Sequence[Priced],
    rebates: Mapping[tuple[int, Choice], float] | None = None,
) -> float:
    """Lower bound in pence on cost with penalties, over all plans.

    Parameters
    ----------
    instance
        The problem.
    prices
        Price of each piece type, pence, at least 0.
    priced
        Pricing values at these prices of every stock source, from a recursion that no real pattern exceeds.
    rebates
        By group and choice: pence that rows of `links.py` take off serving a unit; what they charge patterns is then in
        `priced`. Default none.
    """
    safe = repaired(instance, prices, priced)
    bound = sum(count * safe.get(t, 0.0) for t, count in instance.fixed.items())
    bound += cheapest_choices(instance, safe, rebates)[0]
    for one in priced:
        if one.source.copies is not None:
            bound += one.source.copies * min(0.0, one.source.value_pence - one.value)
    return bound - CERTAIN * (1.0 + abs(bound))


def cheapest_choices(
    instance: Instance, prices: Mapping[PieceType, float], rebates: Mapping[tuple[int, Choice], float] | None = None
) -> tuple[float, Counter[PieceType]]:
    """What serving every job costs at given prices, or leaving it short where that is cheaper, and the pieces taken.

    Parameters
    ----------
    instance
        The problem.
    prices
        Pence by piece type.
    rebates
        By group and choice: pence taken off serving a unit; default none.
    """
    off = rebates or {}
    had_as = {t: min(ways, key=lambda way: prices.get(way, 0.0)) for t, ways in instance.made_as.items() if ways}
    paid = {**prices, **{t: prices.get(way, 0.0) for t, way in had_as.items()}}
    cost = [0.0] * len(instance.jobs)
    taken: list[Counter[PieceType]] = [Counter() for _ in instance.jobs]
    served = {group.job for group in instance.groups}
    for number, group in enumerate(instance.groups):
        unit, choice = min(
            (
                (group.cost(h) - off.get((number, h), 0.0) + sum(paid.get(t, 0.0) * n for t, n in d.items()), h)
                for h, d in group.demands.items()
            ),
            default=(math.inf, Choice(-1)),
        )
        cost[group.job] += group.units * unit
        for piece, count in group.demands.get(choice, {}).items():
            taken[group.job][had_as.get(piece, piece)] += count * group.units
    total, pieces = 0.0, Counter[PieceType]()
    for job in sorted(served):
        if cost[job] <= instance.penalties[job]:
            total += cost[job]
            pieces.update(taken[job])
        else:
            total += instance.penalties[job]
    return total, pieces


def whole_pence(instance: Instance, bound: float) -> int:
    """A bound on net cost rounded up to what a plan can cost at all.

    Plans cost whole pence; where leftovers are worth nothing and cuts are free, whole multiples of what divides every
    source's value and every layout's seams, those among them that `mixing.py` has not put first.
    """
    costs = instance.costs
    if costs.leftovers_have_worth or costs.crosscut_pence or costs.rip_pence:
        unit = 1
    else:
        seams = [cost for group in instance.groups + instance.mixed.groups for cost in group.costs.values()]
        unit = math.gcd(*(s.value_pence for s in instance.sources), *seams) or 1
    return math.ceil((bound - SMALLEST) / unit) * unit
