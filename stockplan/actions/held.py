"""Saying for whom a thing is held that a plan would have cut."""

from __future__ import annotations

import shlex
from datetime import date
from typing import TYPE_CHECKING

from stockplan.domain.plan import Plan

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from stockplan.store.rows import Rows


def held_notes(source: Session | Rows, plan: Plan, day: date) -> tuple[str, ...]:
    """Say for each held thing that a plan would have cut: for which quote, and until when.

    Parameters
    ----------
    source
        Where to read.
    plan
        Names the things by product in `held_wanted`.
    day
        The day of planning; a hold that ended before it is not told.
    """
    from stockplan.report.words import day as day_words  # noqa: PLC0415
    from stockplan.store.yard_rows import read_yard  # noqa: PLC0415

    wanted = [(product.product, tag) for product in plan.products for tag in product.held_wanted]
    if not wanted:
        return ()
    yard = read_yard(source, {tag for _, tag in wanted})
    notes = []
    for product, tag in wanted:
        hold = yard.hold_on(tag, day)
        if hold is not None:
            notes.append(
                f"{product}: would have taken held {tag} (quote {hold.quote}, until {day_words(hold.until)}); "
                f"to let a plan have it: stockplan free {shlex.quote(tag)}"
            )
    return tuple(notes)
