"""Whether something covers a small job, and what it costs the firm: the question and its answers.

What an answer costs is what the planner would charge: worth of what is touched (or its price), less the worth of what
is left of it, plus the cuts; beside that any seam, and what it costs to free a thing that is promised.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from enum import StrEnum

from stockplan.domain.layout import LayoutSettings
from stockplan.domain.pieces import Pieces
from stockplan.domain.plan import NEW_BATCH
from stockplan.domain.request import CostSettings
from stockplan.domain.small_cuts import SmallCut
from stockplan.domain.stock import StockForm, StockItem, SupplyForm, SupplyOption
from stockplan.domain.units import MM2_PER_M2
from stockplan.domain.worth import UnitCost, stock_worth


class Ready(StrEnum):
    """How ready a cover is, the readiest first."""

    FREE = "free"  # lies in the yard, promised to nobody
    REST = "rest"  # an accepted plan will leave it over
    PROMISED = "promised"  # reserved for a plan or held for a quote
    BUY = "buy"


@dataclass(frozen=True, slots=True)
class Source:
    """One thing to cut from.

    Parameters
    ----------
    key
        Its tag, that of what it will be left of, or for a purchase the supplier's name.
    product, batch
        Batch as it is matched.
    form, width_mm, length_mm
        How it lies or is sold.
    cost
        What its grass cost.
    touch_pence
        Worth of it as it lies, or its price: what it costs to take all of it.
    bay, condition
        Where it lies, and the word for it when it is not sound.
    from_day
        The day it can be cut from; for a purchase the day it comes. None for at once.
    """

    key: str
    product: str
    batch: str
    form: StockForm | SupplyForm
    width_mm: int
    length_mm: int
    cost: UnitCost
    touch_pence: int
    bay: str = ""
    condition: str = ""
    from_day: date | None = None

    @property
    def on_core(self) -> bool:
        """Whether its tail stays on a core."""
        return self.form in (StockForm.ROLL, StockForm.PART_ROLL, SupplyForm.ROLL)


def source_of(item: StockItem, widest_mm: int, condition: str = "", from_day: date | None = None) -> Source:
    """Take a stock item as something to cut from."""
    return Source(
        item.tag,
        item.product,
        item.batch_key,
        item.form,
        item.width_mm,
        item.length_mm,
        UnitCost(item.cost_pence_per_m2, MM2_PER_M2),
        stock_worth(item, widest_mm),
        item.bay,
        condition,
        from_day or item.arrives_on,
    )


def purchase(option: SupplyOption, length_mm: int, today: date) -> Source:
    """Take a purchase ordered today as something to cut from."""
    price = option.price_of(length_mm)
    return Source(
        option.supplier,
        option.product,
        NEW_BATCH,
        option.form,
        option.width_mm,
        length_mm,
        UnitCost(price, option.width_mm * length_mm),
        price,
        from_day=today + timedelta(days=option.lead_days),
    )


@dataclass(frozen=True, slots=True)
class Promise:
    """What a thing in the yard is promised to.

    Parameters
    ----------
    plan
        Number of the accepted plan it is reserved for; None when it is held for a quote.
    quote, until
        The quote it is held for and the last day of that.
    jobs
        Codes and lay dates of the jobs cut from it, in order of lay date.
    needs
        Sizes to be cut from it by job, as `in_order` has them.
    tied
        Jobs that have pieces elsewhere and must keep the batch.
    spent_pence
        What the plan takes off the firm's worth with it, cuts included: what freeing it gives back.
    whole
        For tied jobs of which nothing is cut: all their pieces, and what the plan spends on other things that serve
        them alone. Such a job may also be cut wholly from elsewhere, and these are then given back.
    """

    plan: int | None = None
    quote: str = ""
    until: date | None = None
    jobs: tuple[tuple[str, date], ...] = ()
    needs: Mapping[str, Pieces] = field(default_factory=dict)
    tied: frozenset[str] = frozenset()
    spent_pence: int = 0
    whole: Mapping[str, tuple[Pieces, int]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Question:
    """What is to be covered.

    Parameters
    ----------
    pieces
        Sizes as cut, see `in_order`; at most `MOST_PIECES` of them, one batch for all.
    products
        Any of these grasses would do; at least one.
    today
        The day of asking: what is bought is ordered then.
    lay_on
        The day it is to be laid; what is bought must come before it. None when that is open.
    most
        How many answers of each sort are wanted; at least 1, default 3.
    """

    pieces: Pieces
    products: tuple[str, ...]
    today: date
    lay_on: date | None = None
    most: int = 3

    @property
    def area_mm2(self) -> int:
        """Area of all pieces in square millimetres."""
        return sum(width * length for width, length in self.pieces)


@dataclass(frozen=True, slots=True)
class Offer:
    """What there is to cover it with.

    Parameters
    ----------
    free, rests
        What lies free, and what accepted plans will leave over.
    promised
        What is promised, and to what.
    supply
        What can be bought.
    widest_mm
        Of the widest roll of each product.
    costs, layout
        The firm's settings.
    """

    free: Sequence[Source]
    supply: Sequence[SupplyOption]
    widest_mm: Mapping[str, int]
    rests: Sequence[Source] = ()
    promised: Sequence[tuple[Source, Promise]] = ()
    costs: CostSettings = field(default_factory=CostSettings)
    layout: LayoutSettings = field(default_factory=LayoutSettings)


@dataclass(frozen=True, slots=True)
class Take:
    """What one source gives.

    Parameters
    ----------
    source, pieces, cut
        Which source, which pieces, and how it is cut.
    """

    source: Source
    pieces: Pieces
    cut: SmallCut

    @property
    def cost_pence(self) -> int:
        """Worth before, less what is left, plus the cuts."""
        return self.source.touch_pence + self.cut.net_pence


@dataclass(frozen=True, slots=True)
class Freeing:
    """What it takes to free something promised.

    Parameters
    ----------
    promise
        What it is promised to.
    replacement
        What the jobs that lose it are cut from instead; empty when it is held for a quote, of which no more is known.
    cost_pence
        What the replacement costs, less what the plan no longer spends; None when nothing replaces it, or for a quote.
    """

    promise: Promise
    replacement: tuple[Take, ...]
    cost_pence: int | None


@dataclass(frozen=True, slots=True)
class Answer:
    """One way to cover the question.

    Parameters
    ----------
    ready
        How ready it is.
    takes
        What is cut from what; all of one batch.
    seam_mm, seam_pence
        Length and cost of a seam that the question did not have; 0 for none.
    freeing
        What it takes to free it; None for what is not promised.
    in_time
        Whether everything is there before the lay date.
    """

    ready: Ready
    takes: tuple[Take, ...]
    seam_mm: int = 0
    seam_pence: int = 0
    freeing: Freeing | None = None
    in_time: bool = True

    @property
    def grass_pence(self) -> int:
        """Cost of the grass and its cuts alone."""
        return sum(take.cost_pence for take in self.takes)

    @property
    def cost_pence(self) -> int:
        """What it costs the firm in all, as far as known."""
        freeing = self.freeing.cost_pence if self.freeing else None
        return self.grass_pence + self.seam_pence + (freeing or 0)

    @property
    def from_day(self) -> date | None:
        """The day from which it can be cut; None for at once."""
        return max((take.source.from_day for take in self.takes if take.source.from_day), default=None)


@dataclass(frozen=True, slots=True)
class Miss:
    """Something that nearly covers the question.

    Parameters
    ----------
    source
        What it is.
    across_mm, along_mm
        What it lacks in each direction; 0 for nothing.
    turned
        Whether it would do if grass could be turned.
    """

    source: Source
    across_mm: int
    along_mm: int
    turned: bool = False


@dataclass(frozen=True, slots=True)
class Proposed:
    """A use of something free by a plan that nobody has accepted yet.

    Parameters
    ----------
    source
        Its tag.
    plan
        Number of the plan.
    jobs
        Codes of the jobs it would be cut for.
    """

    source: str
    plan: int
    jobs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Coverage:
    """Every answer, the readiest first and within that the cheapest; and what nearly does it.

    Parameters
    ----------
    question
        What was asked.
    answers
        Free ones in one piece, with a seam, then rests, promised ones, purchases.
    misses
        Told only where nothing free covers the question without a seam; the nearest first.
    proposed
        What the last plan would cut of what is told as free, where it is not accepted yet.
    """

    question: Question
    answers: tuple[Answer, ...]
    misses: tuple[Miss, ...] = ()
    proposed: tuple[Proposed, ...] = ()

    def of(self, ready: Ready) -> tuple[Answer, ...]:
        """Answers of one readiness."""
        return tuple(answer for answer in self.answers if answer.ready is ready)
