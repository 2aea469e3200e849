"""Whether something covers a small job, and what it costs the firm: the question and its answers.

What an answer costs is what the planner would charge: worth of what is touched (or its price), less the worth of what
is left of it, plus the cuts; beside that any seam, and what it costs to free a thing that is promised.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from stockplan.domain.cover_promise import Load, Promise, PromisedJob
from stockplan.domain.cover_source import Source
from stockplan.domain.layout import LayoutSettings
from stockplan.domain.pieces import Pieces
from stockplan.domain.pieces_cut import SmallCut
from stockplan.domain.request import CostSettings
from stockplan.domain.stock import SupplyOption


class Ready(StrEnum):
    """How ready a cover is, the readiest first."""

    FREE = "free"  # lies in the yard, promised to nobody
    REST = "rest"  # an accepted plan will leave it over
    PROMISED = "promised"  # reserved for a plan or held for a quote
    BUY = "buy"


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


@dataclass(frozen=True, slots=True)
class Offer:
    """What there is to cover it with.

    Parameters
    ----------
    free, rests
        What lies free, and what accepted plans will leave over.
    held
        What is held for quotes.
    loads, jobs
        Every thing that accepted plans are still to cut, however small; and the jobs they are to be cut for, by code.
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
    held: Sequence[tuple[Source, Promise]] = ()
    loads: Sequence[Load] = ()
    jobs: Mapping[str, PromisedJob] = field(default_factory=dict)
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
class Move:
    """What some jobs get instead of what they lose.

    Parameters
    ----------
    take
        How the thing is then cut, with everything else that is to be cut from it. For a thing of which a plan's cuts
        are kept, the source is what they leave of it.
    jobs
        Codes of the jobs that get pieces of it, in order.
    """

    take: Take
    jobs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Freeing:
    """What it takes to free something promised.

    Parameters
    ----------
    promise
        What it is promised to.
    moves
        What jobs get instead of what they lose, from other things or from what is freed, which then stands under
        `together` too; empty when none loses anything, or when it is held for a quote, of which no more is known.
    cost_pence
        What these jobs then cost more than planned, or less when negative; None when nothing was found for them, or
        for a quote.
    stays
        Jobs that keep what they were to get from it.
    together
        How things are then cut of which jobs keep something, or get something new, beside the question. The source is
        what the plan's cuts leave, where these are kept.
    proven
        Whether no way costs less, of all that `stockplan.domain.cover_freeing` states. Otherwise it is a way that
        exists, and a cheaper one may.
    """

    promise: Promise
    moves: tuple[Move, ...] = ()
    cost_pence: int | None = None
    stays: tuple[str, ...] = ()
    together: tuple[Take, ...] = ()
    proven: bool = True


@dataclass(frozen=True, slots=True)
class Laying:
    """One way to lay a lawn.

    Parameters
    ----------
    label
        A letter that tells the ways of one coverage apart; empty where there is but one.
    pieces
        Its strips, as cut.
    seams, seam_mm, seam_pence
        How many seams it has, how long they are together, what they cost.
    bearing
        Which way the pile leans, degrees clockwise from the lawn's own y axis.
    words
        The same as people say it.
    narrow_mm
        How much its narrowest strip covers across, where that is so little that the firm wants it pointed out; else 0.
    """

    label: str
    pieces: Pieces
    seams: int
    seam_mm: int
    seam_pence: int
    bearing: float
    words: str
    narrow_mm: int = 0


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
        Length and cost of a seam that neither the question nor `laying` has; 0 for none.
    freeing
        What it takes to free it; None for what is not promised.
    in_time
        Whether everything is there before the lay date.
    laying
        For which way to lay a lawn; None where sizes were asked for.
    narrow_mm
        How much the narrower side of that seam covers across, where the firm wants it pointed out; else 0.
    """

    ready: Ready
    takes: tuple[Take, ...]
    seam_mm: int = 0
    seam_pence: int = 0
    freeing: Freeing | None = None
    in_time: bool = True
    laying: Laying | None = None
    narrow_mm: int = 0

    @property
    def seams_pence(self) -> int:
        """Cost of every seam."""
        return self.seam_pence + (self.laying.seam_pence if self.laying else 0)

    @property
    def grass_pence(self) -> int:
        """Cost of the grass and its cuts alone."""
        return sum(take.cost_pence for take in self.takes)

    @property
    def cost_pence(self) -> int:
        """What it costs the firm in all, as far as known."""
        freeing = self.freeing.cost_pence if self.freeing else None
        return self.grass_pence + self.seams_pence + (freeing or 0)

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
    ready
        Whether it lies free, is promised, or is the longest that is sold.
    """

    source: Source
    across_mm: int
    along_mm: int
    turned: bool = False
    ready: Ready = Ready.FREE


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
        Free ones in one piece, with a seam, then rests, promised ones, purchases; in each, those with a seam only
        where none is without.
    misses
        Told only where nothing free covers the question without a seam: what lies free, the nearest first; then what is
        promised, and what is sold, where nothing of the sort covers it either.
    proposed
        What the last plan would cut of what is told as free, where it is not accepted yet.
    layings
        The ways to lay a lawn that answers name; the first is the question's. None where sizes were asked for.
    """

    question: Question
    answers: tuple[Answer, ...]
    misses: tuple[Miss, ...] = ()
    proposed: tuple[Proposed, ...] = ()
    layings: tuple[Laying, ...] = ()

    def of(self, ready: Ready) -> tuple[Answer, ...]:
        """Answers of one readiness."""
        return tuple(answer for answer in self.answers if answer.ready is ready)
