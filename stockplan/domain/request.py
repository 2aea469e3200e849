"""A plan asked for: everything the answer depends on, as frozen data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING

from stockplan.domain.jobs import Job, Window
from stockplan.domain.layout import LayoutSettings
from stockplan.domain.stock import Product, StockForm, StockItem, SupplyForm, SupplyOption

if TYPE_CHECKING:  # a plan takes a while to load, and few commands need one
    from stockplan.domain.plan import Plan


@dataclass(frozen=True, slots=True)
class CostSettings:
    """What the planner charges beside grass; common practice, the firm's to set.

    Parameters
    ----------
    crosscut_pence
        Labour for one cut across the pile; default 2.00.
    rip_pence
        Labour for one cut along the pile, trimming included; default 3.00.
    leftovers_have_worth
        False values every leftover at nothing, so that cost is what was bought and touched; default True.
    """

    crosscut_pence: int = 200
    rip_pence: int = 300
    leftovers_have_worth: bool = True


@dataclass(frozen=True, slots=True)
class Pin:
    """A person's word that a job is cut from this stock item; a job with several pins may use all of them.

    Parameters
    ----------
    job
        Code of a job in the window. Every piece of it still to be cut then comes from pinned items.
    source
        Tag of a stock item in the request.
    """

    job: str
    source: str


@dataclass(frozen=True, slots=True)
class CutAlready:
    """Copies of a strip that have been cut before the plan is made; the plan does not cut them again.

    Parameters
    ----------
    job, strip
        Which strip; copies are the first ones, numbered from 1.
    count
        How many copies; at least 1, at most the strip's count.
    batch
        Batch they came from, as `StockItem.batch_key` has it. A job whose rule is one batch takes the rest from it.
    """

    job: str
    strip: str
    count: int
    batch: str


@dataclass(frozen=True, slots=True)
class PlanRequest:
    """Everything a plan depends on.

    Parameters
    ----------
    window
        The days planned; every job in `jobs` is laid inside it.
    today
        The first day on which anything can be ordered.
    products, supply, stock, jobs
        Of any number of products; each product is planned on its own.
    costs
        See `CostSettings`.
    currency
        ISO 4217 code, for printing only.
    pins
        What people have decided; see `Pin`.
    cut_already
        What has been cut; see `CutAlready`. A job cut in full is left out of `jobs`.
    covered
        Codes of jobs that lack nothing as accepted plans have it: none is left short so that another need not be.
    held
        Stock items kept for quotes, not among `stock`: the plan takes none of them, but says where it would have.
    last
        The plan made before, to start from; among equal costs its choices stand.
    layout_settings
        By which lawns were laid out in strips.
    full_widths
        Width of the widest roll of a product, mm, where what is reserved or held makes it another than `supply` and
        `stock` alone: what a thing is worth must not hang on what else is promised.
    """

    window: Window
    today: date
    products: tuple[Product, ...]
    supply: tuple[SupplyOption, ...]
    stock: tuple[StockItem, ...]
    jobs: tuple[Job, ...]
    costs: CostSettings = field(default_factory=CostSettings)
    currency: str = "GBP"
    pins: tuple[Pin, ...] = ()
    cut_already: tuple[CutAlready, ...] = ()
    covered: frozenset[str] = frozenset()
    held: tuple[StockItem, ...] = ()
    last: Plan | None = None
    layout_settings: LayoutSettings = field(default_factory=LayoutSettings)
    full_widths: Mapping[str, int] = field(default_factory=dict, hash=False)

    def widest_mm(self, product: str) -> int:
        """Width of the widest roll of a product, offered or in the yard, mm; 0 when there is none.

        Cut lengths and offcuts count only where no roll is known.
        """
        if product in self.full_widths:
            return self.full_widths[product]
        rolls = [s.width_mm for s in self.supply if s.product == product and s.form is SupplyForm.ROLL]
        rolls += [i.width_mm for i in self.stock if i.product == product and i.form is not StockForm.OFFCUT]
        loose = [s.width_mm for s in self.supply if s.product == product]
        loose += [i.width_mm for i in self.stock if i.product == product]
        return max(rolls or loose or [0])


@dataclass(frozen=True, slots=True)
class SearchLimits:
    """How long the planner may look.

    Parameters
    ----------
    seconds
        Clock guard for the whole request; positive, default 30. Obeyed within a second.
    work
        Deterministic work limit for each product, in the planner's own units; None, the default, sets none.
    seed
        Seed of every random choice; default 0.
    """

    seconds: float = 30.0
    work: int | None = None
    seed: int = 0


@dataclass(frozen=True, slots=True)
class Progress:
    """What the planner knows at one moment of one product.

    Parameters
    ----------
    product
        Product code.
    phase
        What it is doing, in a word or two.
    best_pence, bound_pence
        Net cost of the best plan so far and the best lower bound so far; None before there is one.
    seconds
        Since the request began.
    """

    product: str
    phase: str
    best_pence: int | None
    bound_pence: int | None
    seconds: float
