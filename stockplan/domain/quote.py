"""A job quoted: what it truly costs beside the rule of thumb, and what the customer may see of it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from stockplan.domain.jobs import Job
from stockplan.domain.stock import SupplyForm, SupplyOption
from stockplan.domain.strip import Strip
from stockplan.domain.true_cost import Solved, TrueCost
from stockplan.domain.units import MM2_PER_M2

MOST_WASTAGE_PERCENT = 100


@dataclass(frozen=True, slots=True)
class QuoteSettings:
    """How a job's grass is reckoned by rule of thumb.

    Parameters
    ----------
    wastage_percent
        Added to a job's area; default 10. 8 to 15 % is met in well-run firms (common practice, from memory).
    """

    wastage_percent: int = 10


@dataclass(frozen=True, slots=True)
class RuleOfThumb:
    """Area × price × wastage.

    Parameters
    ----------
    area_mm2
        Of the lawn, or of the pieces where no lawn is given.
    price_pence_per_m2
        What a square metre is reckoned at.
    wastage_percent
        Added to the area.
    """

    area_mm2: int
    price_pence_per_m2: int
    wastage_percent: int

    @property
    def pence(self) -> int:
        """Rounded half up to the penny."""
        whole = 100 * MM2_PER_M2
        return (self.area_mm2 * self.price_pence_per_m2 * (100 + self.wastage_percent) + whole // 2) // whole


def price_per_m2(supply: Iterable[SupplyOption], costs_of_stock: Iterable[int]) -> int:
    """What people reckon a square metre at: the cheapest roll on offer, else cut length, else the dearest in stock.

    Parameters
    ----------
    supply
        What can be bought of the product.
    costs_of_stock
        Cost per square metre of what lies in the yard, for a product that cannot be bought.
    """
    offers = list(supply)
    for form in (SupplyForm.ROLL, SupplyForm.CUT_LENGTH):
        prices = [offer_per_m2(option) for option in offers if option.form is form]
        if prices:
            return min(prices)
    return max(costs_of_stock, default=0)


def offer_per_m2(option: SupplyOption) -> int:
    """What a square metre of an offer costs, pence, rounded half up."""
    area = option.width_mm * (option.length_mm if option.form is SupplyForm.ROLL else 1000)
    return (option.price_pence * MM2_PER_M2 + area // 2) // area


@dataclass(frozen=True, slots=True)
class Weighing:
    """How the yard stands to a job: whether it is cheap for it or dear.

    Parameters
    ----------
    word
        `cheap`, `dear` or `open`.
    sentence
        Said to the estimator.
    """

    word: str
    sentence: str


def weighing(cost: TrueCost | None, rule: RuleOfThumb) -> Weighing:
    """Hold the true cost against the rule of thumb.

    Parameters
    ----------
    cost
        None where it is not known.
    rule
        The rule of thumb.
    """
    if cost is None:
        return Weighing("open", "what the job costs is not known, so neither is what the rule is worth")
    if cost.most < rule.pence:
        share = 100 * (rule.pence - cost.most) // rule.pence
        return Weighing("cheap", f"the yard makes it cheap: {_at_least(share)}under the rule")
    if cost.least > rule.pence:
        share = 100 * (cost.least - rule.pence) // max(1, rule.pence)
        return Weighing("dear", f"the yard makes it dear: {_at_least(share)}over the rule")
    return Weighing("open", "the rule lies within what is proven: neither cheap nor dear for certain")


def _at_least(share: int) -> str:
    return f"at least {share} % " if share else ""


@dataclass(frozen=True, slots=True)
class Seams:
    """Seams that a job needs.

    Parameters
    ----------
    count
        How many.
    along_mm, across_mm
        Along the pile, and head seams.
    """

    count: int
    along_mm: int
    across_mm: int


@dataclass(frozen=True, slots=True)
class Annex:
    """What a customer is shown of a job: no cost of any kind is in it, so none can leak.

    Parameters
    ----------
    quote, site
        What the quote is called, and where the job is.
    product, description
        The grass.
    made_on, lay_on
        Day of the quote and of the work.
    strips
        Sizes as cut.
    lawn_mm2
        Area of the lawn; None where only sizes were given.
    seams
        None where only sizes were given.
    drawings
        Drawings of the lawns, as SVG.
    one_batch
        Whether all pieces come from one dye batch.
    """

    quote: str
    site: str
    product: str
    description: str
    made_on: date
    lay_on: date
    strips: tuple[Strip, ...]
    lawn_mm2: int | None = None
    seams: Seams | None = None
    drawings: tuple[str, ...] = ()
    one_batch: bool = True

    @property
    def grass_mm2(self) -> int:
        """Area of the pieces as cut."""
        return sum(strip.area_mm2 for strip in self.strips)


@dataclass(frozen=True, slots=True)
class Quote:
    """A job quoted, for the firm's own eyes.

    Parameters
    ----------
    annex
        What the customer may see.
    job
        As it was added to the schedule.
    first, last
        The days it was weighed in.
    others
        How many other jobs of these days and this grass are still to be cut.
    cost
        None where it cannot be told; see `true_cost`.
    with_it, without
        What is known of both plans.
    alone_pence
        What it costs where grass is bought for it alone; None where none comes in time.
    rule
        The rule of thumb.
    binned_mm2
        What the plan with the job puts in the bin beyond the plan without it.
    sources
        What the job is cut from in the best plan found: source, batch and pieces.
    orders
        What would be bought that the plan without it does not buy, in words.
    needs
        Take-off beside grass: what and how much, in words.
    seconds
        How long the plan with the job was looked for.
    left_alone
        Whether accepted plans are still to cut grass of this product: neither plan touches it, nor what it will leave.
    """

    annex: Annex
    job: Job
    first: date
    last: date
    others: int
    cost: TrueCost | None
    with_it: Solved
    without: Solved
    alone_pence: int | None
    rule: RuleOfThumb
    binned_mm2: int
    sources: tuple[tuple[str, str, int], ...]
    orders: tuple[str, ...]
    needs: tuple[tuple[str, str], ...] = ()
    seconds: float = 0.0
    left_alone: bool = False

    @property
    def weighing(self) -> Weighing:
        """Whether the yard makes it cheap or dear."""
        return weighing(self.cost, self.rule)
