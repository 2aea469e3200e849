"""Saying for whom a thing is held that a plan would have cut, and what a plan cuts that is not sound."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from typing import TYPE_CHECKING

from stockplan.domain.as_typed import argument
from stockplan.domain.plan import Plan

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from stockplan.store.rows import Rows


def held_notes(source: Session | Rows, plan: Plan, day: date) -> tuple[str, ...]:
    """Say for each held thing that a plan would have cut: for which quote, and until when; and what it cuts unsound.

    Parameters
    ----------
    source
        Where to read.
    plan
        Names the things by product in `held_wanted`.
    day
        The day of planning; a hold that ended before it is not told.
    """
    wanted = [(product.product, tag) for product in plan.products for tag in product.held_wanted]
    return (*wanted_notes(source, wanted, day), *unsound_notes(source, (cuts.source for cuts in plan.cuts())))


def wanted_notes(source: Session | Rows, wanted: Sequence[tuple[str, str]], day: date) -> tuple[str, ...]:
    """Say of held things that a plan would have cut for which quote each is held, and until when.

    Parameters
    ----------
    source
        Where to read.
    wanted
        Product and tag of each.
    day
        The day of planning; a hold that ended before it is not told.
    """
    from stockplan.report.words import dated  # noqa: PLC0415
    from stockplan.store.yard_rows import read_yard  # noqa: PLC0415

    if not wanted:
        return ()
    yard = read_yard(source, {tag for _, tag in wanted})
    holds = [(product, tag, yard.hold_on(tag, day)) for product, tag in wanted]
    return tuple(
        f"{product}: would have taken held {tag} (quote {hold.quote}, until {dated(hold.until)}); "
        f"to let a plan have it: stockplan free {argument(tag)}"
        for product, tag, hold in holds
        if hold is not None
    )


def unsound_notes(source: Session | Rows, tags: Iterable[str]) -> tuple[str, ...]:
    """Say in one sentence which things that a plan cuts are on record as wet, damaged or the like, if any.

    Parameters
    ----------
    source
        Where to read.
    tags
        What the plan cuts; keys of orders do no harm.
    """
    conditions = unsound(source, tags)
    told = ", ".join(f"{tag} ({word})" for tag, word in conditions.items())
    return (f"look at these before they are cut, by the record they are not sound: {told}",) if told else ()


def unsound(source: Session | Rows, tags: Iterable[str]) -> dict[str, str]:
    """Give the word for the condition of each thing that is on record as wet, damaged or the like, in order of tag.

    Parameters
    ----------
    source
        Where to read.
    tags
        Of things; what else is among them does no harm.
    """
    from stockplan.store.yard_rows import read_yard  # noqa: PLC0415

    wanted = sorted(set(tags))
    conditions = read_yard(source, wanted).conditions if wanted else {}
    return {tag: conditions[tag] for tag in wanted if tag in conditions}


def unsound_sources(source: Session | Rows, number: int, plan: Plan) -> dict[str, str]:
    """Do as `unsound` for what a stored plan cuts, by the plan's name of each: what came in for its orders, too.

    Parameters
    ----------
    source
        Where to read.
    number
        The plan's.
    plan
        The plan.
    """
    from stockplan.store.plan_rows import read_lines, read_receipts  # noqa: PLC0415

    keys = {line.key: line.plan_key for line in read_lines(source) if line.plan == number}
    came = {keys[key]: tag for tag, key in read_receipts(source).items() if key in keys}
    tags = {cuts.source: came.get(cuts.source, cuts.source) for cuts in plan.cuts()}
    words = unsound(source, tags.values())
    return {name: words[tag] for name, tag in tags.items() if tag in words}
