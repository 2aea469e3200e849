"""What a job truly costs in grass: the plan with it less the plan without it, and how well that is known.

Let C₁ and C₀ be the least net costs of the days with and without the job. From plans and bounds L₁ ≤ C₁ ≤ U₁ and
L₀ ≤ C₀ ≤ U₀ follows

    L₁ − U₀ ≤ C₁ − C₀ ≤ U₁ − L₀,

often a wide interval. Two more things are always true where both plans leave the same work short:

- *floor*: take the job's pieces out of the best plan with it, and what they were cut from keeps at least what these
  pieces are worth as leftovers, since worth never falls as a leftover grows and no cut is added. So C₀ ≤ C₁ − floor,
  the pieces reckoned at the cheapest grass they can come from.
- *ceiling*: add to the best plan without the job a purchase for it alone. So C₁ ≤ C₀ + ceiling.

For the same reasons U₀ need not be above U₁ − floor, nor U₁ above U₀ + whatever the job costs from things that the plan
without it leaves untouched. Worth is rounded down leftover by leftover; `ROUNDING_PENCE` a piece is allowed for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from stockplan.domain.plan import ProductPlan
from stockplan.domain.request import CostSettings
from stockplan.domain.strip import Strip
from stockplan.domain.worth import Leftover, UnitCost, leftover_worth

ROUNDING_PENCE = 1


@dataclass(frozen=True, slots=True)
class Solved:
    """What is known of the cheapest plan for some jobs.

    Parameters
    ----------
    cost_pence, bound_pence
        Of the best plan found, and below which no plan can be.
    short
        Job, strip and count of everything left short.
    """

    cost_pence: int
    bound_pence: int
    short: frozenset[tuple[str, str, int]] = frozenset()

    @property
    def proven(self) -> bool:
        """Whether no plan is cheaper."""
        return self.bound_pence >= self.cost_pence


NOTHING = Solved(0, 0)


def solved(plan: ProductPlan | None) -> Solved:
    """Take what is known from a plan of one product; nothing costs nothing."""
    if plan is None:
        return NOTHING
    short = frozenset((one.job, one.strip, one.count) for one in plan.short)
    return Solved(plan.net_cost_pence, plan.lower_bound_pence, short)


@dataclass(frozen=True, slots=True)
class TrueCost:
    """The cost of adding a job, in pence.

    Parameters
    ----------
    least, most
        It is not less and not more than this.
    likely
        The difference of the best plans known, within the two.
    """

    least: int
    most: int
    likely: int

    @property
    def exact(self) -> bool:
        """Whether it is known to the penny."""
        return self.least == self.most


@dataclass(frozen=True, slots=True)
class Grass:
    """A size of grass that pieces can come from, and what it cost."""

    width_mm: int
    length_mm: int
    cost: UnitCost


def floor_pence(strips: Sequence[Strip], grass: Sequence[Grass], widest_mm: int, costs: CostSettings) -> int:
    """What the pieces of a job are worth as loose leftovers of the cheapest grass each can come from.

    Parameters
    ----------
    strips
        The job's pieces.
    grass
        Everything they can come from.
    widest_mm
        Of the product's widest roll.
    costs
        Whether leftovers have worth.
    """
    if not costs.leftovers_have_worth:
        return 0
    total = 0
    for strip in strips:
        shape = Leftover(strip.width_mm, strip.length_mm, False, widest_mm)
        prices = {one.cost for one in grass if one.width_mm >= strip.width_mm and one.length_mm >= strip.length_mm}
        least = min((leftover_worth(shape, cost) for cost in prices), default=0)
        total += max(0, least - ROUNDING_PENCE) * strip.count
    return total


def true_cost(with_it: Solved, without: Solved, floor: int = 0, ceiling: int | None = None) -> TrueCost | None:
    """Bracket the cost of adding a job; None where the plans leave different work short and cannot be compared.

    Parameters
    ----------
    with_it, without
        What is known of the days with the job and without it.
    floor, ceiling
        See the head of this module; default none.
    """
    if with_it.short != without.short:
        return None
    base = min(without.cost_pence, with_it.cost_pence - floor)
    top = with_it.cost_pence if ceiling is None else min(with_it.cost_pence, without.cost_pence + ceiling)
    least = max(0, floor, with_it.bound_pence - base)
    most = top - without.bound_pence
    if ceiling is not None:
        most = min(most, ceiling)
    most = max(most, least)
    return TrueCost(least, most, min(max(top - base, least), most))


def with_removal(with_it: Solved, without: Solved, floor: int) -> Solved:
    """Know of the days without the job also the plan with it, the job taken out again.

    Parameters
    ----------
    with_it, without, floor
        As for `true_cost`.
    """
    if with_it.short < without.short:
        # The plan with the job happens to cover more. The bound is of all plans that leave no more short: of it too.
        return Solved(max(0, with_it.cost_pence - floor), without.bound_pence, with_it.short)
    return without


def with_addition(without: Solved, with_it: Solved, extra_pence: int | None) -> Solved:
    """Know of the days with the job also the plan without it and the job cut from what that leaves untouched.

    Parameters
    ----------
    without, with_it
        As for `true_cost`.
    extra_pence
        What the job costs from untouched things; None where they do not cover it.
    """
    if extra_pence is None:
        return with_it
    cost = without.cost_pence + extra_pence
    if with_it.short != without.short:
        # The bound is of plans that leave more short: it says nothing of those that leave less.
        return Solved(cost, max(0, without.bound_pence), without.short)
    return replace(with_it, cost_pence=min(with_it.cost_pence, cost))
