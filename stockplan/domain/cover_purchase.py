"""What to buy for a few pieces, and how many pieces are few."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from stockplan.domain.cover import Question, Take
from stockplan.domain.cover_search import Desk
from stockplan.domain.cover_source import purchase
from stockplan.domain.pieces import Pieces, boxes, subsets, with_first
from stockplan.domain.stock import SupplyOption
from stockplan.errors import RequestError

MOST_PIECES = 12
MOST_WAYS = 32  # ways to take some of the pieces: of five unlike ones, and of few more where some are alike


def is_small(pieces: Pieces) -> bool:
    """Whether pieces are few enough to try every way of sharing them out."""
    return len(pieces) <= MOST_PIECES and len(subsets(pieces)) <= MOST_WAYS


def check_question(pieces: Pieces, today: date | None = None, lay_on: date | None = None) -> None:
    """Refuse what is not a small job still to be laid.

    Parameters
    ----------
    pieces
        Sizes as cut.
    today, lay_on
        The days of asking and of laying; default neither is looked at.

    Raises
    ------
    RequestError
        When there are more pieces than can be tried in every way, or the day has passed; both are told.
    """
    faults = []
    if today and lay_on and lay_on < today:
        faults.append(f"the job is laid on {lay_on}, before the day of asking, {today}; ask for that day or later")
    if not is_small(pieces):
        faults.append(
            f"{len(pieces)} pieces are more than can be tried in every way{_unlike(pieces)}; at most {MOST_PIECES} of "
            "one size, 4 and 5 of two sizes, 2 each of three, or five unlike ones; ask for a part of them, or use: "
            "stockplan quote"
        )
    if faults:
        raise RequestError("\n".join(faults))


def _unlike(pieces: Pieces) -> str:
    """Say of how many sizes pieces are, where it is more than one."""
    sizes = len(set(pieces))
    return f", being of {sizes} sizes" if sizes > 1 else ""


def cheapest_purchase(desk: Desk, option: SupplyOption, question: Question) -> Take | None:
    """Give the length of an offer that costs least for the pieces; None when no length gives them.

    Lengths are tried from the shortest on. What is not cut out is worth at most its share of the price that the best
    leftover of the offer is; once the price less that reaches the best in hand, no longer length can cost less.

    Parameters
    ----------
    desk
        Of the product.
    option
        The offer.
    question
        The pieces, few enough by `is_small`, and the day of asking.
    """
    pieces = question.pieces
    shortest = min((length for width, length in boxes(pieces) if width <= option.width_mm), default=None)
    if shortest is None:
        return None
    lengths = [length for length in option.lengths() if length >= shortest]
    if not lengths:
        return None
    longest = purchase(option, lengths[-1], question.today)
    best_rest = desk.cutter(longest).worth(longest.width_mm, longest.length_mm, on_core=True) + 1
    most = best_rest / max(1, longest.touch_pence)
    area = sum(width * length for width, length in pieces)
    best: Take | None = None
    for length in lengths:
        source = purchase(option, length, question.today)
        if best is not None:
            over = 1 - area / (source.width_mm * length)
            if source.touch_pence * (1 - most * over) - 2 >= best.cost_pence:
                break
            if desk.least(source, pieces) >= best.cost_pence:
                continue
        take = desk.take(source, pieces)
        if take is not None and (best is None or take.cost_pence < best.cost_pence):
            best = take
    return best


def cheapest_purchases(desk: Desk, options: Sequence[SupplyOption], question: Question) -> tuple[Take, ...] | None:
    """Share the pieces out among as many purchases as cost least together; None when some piece comes from none.

    Parameters
    ----------
    desk
        Of the product.
    options
        What may be bought, any number of times.
    question
        The pieces, few enough by `is_small`, and the day of asking.
    """
    known: dict[Pieces, tuple[int, tuple[Take, ...]] | None] = {(): (0, ())}

    def best(pieces: Pieces) -> tuple[int, tuple[Take, ...]] | None:
        if pieces not in known:
            found: list[tuple[int, tuple[Take, ...]]] = []
            for block, rest in with_first(pieces):
                asked = replace(question, pieces=block)
                takes = [take for option in options if (take := cheapest_purchase(desk, option, asked))]
                others = best(rest) if takes else None
                if others:
                    take = min(takes, key=lambda one: one.cost_pence)
                    found.append((take.cost_pence + others[0], (take, *others[1])))
            known[pieces] = min(found, key=lambda one: (one[0], len(one[1])), default=None)
        return known[pieces]

    cheapest = best(question.pieces)
    return cheapest[1] if cheapest else None
