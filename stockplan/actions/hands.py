"""What stands between a plan and whatever plans its products: workers given parts, and what they tell."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from stockplan.domain.request import Progress

if TYPE_CHECKING:
    from stockplan.cutting.parts import Part
    from stockplan.domain.plan import ProductPlan


@dataclass(frozen=True, slots=True)
class Answer:
    """The plan of one product."""

    plan: ProductPlan


@dataclass(frozen=True, slots=True)
class Renewed:
    """A product whose worker is gone and which another has begun by itself; what happened follows its code."""

    product: str
    why: str


@dataclass(frozen=True, slots=True)
class Lost:
    """A product whose worker is gone.

    Parameters
    ----------
    product
        Product code.
    why
        What happened, in words that follow the product's code.
    again
        Whether there is a worker in its place that may be given the product again.
    """

    product: str
    why: str
    again: bool


Heard = Progress | Answer | Renewed | Lost


class Hands(Protocol):
    """Workers that plan parts; as a context, ready inside and gone afterwards.

    Parameters
    ----------
    count
        How many parts are planned at the same time.
    """

    count: int

    def give(self, worker: int, part: Part, deadline: float) -> None:
        """Give a worker a part to plan.

        Parameters
        ----------
        worker
            Its number, from 0 and below `count`.
        part
            One product of the request.
        deadline
            When the plan must be there, a reading of this machine's `time.monotonic`.
        """

    def hear(self, seconds: float) -> Sequence[Heard]:
        """What workers have told since they were last heard.

        Parameters
        ----------
        seconds
            How long to wait at most where they have told nothing.
        """

    def stop(self) -> None:
        """Ask all workers to end with the best plans they have."""


def now_and_then(tell: Callable[[Progress], None], seconds: float) -> Callable[[Progress], None]:
    """Tell of every better plan and every new phase, and of a better bound alone only now and then.

    Parameters
    ----------
    tell
        What is told.
    seconds
        At least so long after what was told last.
    """
    last: tuple[str, int | None] | None = None
    told = 0.0

    def hear(progress: Progress) -> None:
        nonlocal last, told
        now = time.monotonic()
        if (progress.phase, progress.best_pence) != last or now - told >= seconds:
            last, told = (progress.phase, progress.best_pence), now
            tell(progress)

    return hear
