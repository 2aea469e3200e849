"""A relaxation nearly solved: by ascent, then within fences; where the grid is a fine one, from rounded sizes first.

Sizes that are multiples of 10 mm make tables some twenty times as large as those of 50 mm. With every piece rounded to
the nearest 50 mm, and sources up so that what fitted still fits, the relaxation is soon solved. Its prices, taken per
square metre, bound nothing there, but are near those asked for: on 150 jobs pooled (`pooled.py`) they are had after
10 s of processor, within 0.7 % of the relaxation's bound, and fences round them meet it after 18 rounds. From an ascent
at 10 mm 120 s were not enough.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import replace

from stockplan.cutting.ascent import Ascent
from stockplan.cutting.boxed import Boxed
from stockplan.cutting.budget import Budget
from stockplan.cutting.instance import Instance, PieceType
from stockplan.cutting.pricers import Pricers

STEP_MM = 50
MOST_POINTS = 1000  # of the length grid, beyond which rounded sizes come first
ROUNDED_SHARE = 0.5  # of the clock and work, at most, for them
MOST_ROUNDS = 60  # of ascent
CLOSE, LESS_CLOSE = 1e-4, 3e-4  # value and bound, relative; where prices are a beginning, or the problem large
LARGE = 700  # piece types, from which the last ten-thousandths take as long as all before
ASCENT_SHARE, ROUNDED_FENCES = 0.2, 0.03  # how far from the prices of either the first fences stand


def nearly_solved(
    instance: Instance, budget: Budget, tell: Callable[[float], None], *, rounding: bool = True
) -> tuple[float, dict[PieceType, float]]:
    """A bound near the value of the linear relaxation, and its prices, pence; nothing when the budget is over first.

    Parameters
    ----------
    instance
        The problem.
    budget
        Work and clock.
    tell
        Told the bound now and then.
    rounding
        Whether prices may come from rounded sizes first; default yes.
    """
    pricers = Pricers(instance)
    if pricers.too_coarse or budget.over():
        return 0.0, {}
    long = rounding and pricers.points > MOST_POINTS
    prices, patterns, share, bound = _by_rounding(instance, budget) if long else {}, None, ROUNDED_FENCES, 0.0
    if not prices:
        ascent = Ascent(instance, pricers, budget)
        ascent.run(MOST_ROUNDS, tell)
        bound, prices, patterns, share = ascent.bound, ascent.prices, ascent.patterns, ASCENT_SHARE
    if budget.over():
        return bound, prices if bound else {}
    boxed = Boxed(instance, pricers, prices, budget, patterns=patterns, share=share)
    boxed.run(tell, CLOSE if rounding and len(instance.piece_types()) < LARGE else LESS_CLOSE)
    return (boxed.bound, dict(boxed.prices)) if boxed.bound > bound else (bound, prices)


def _by_rounding(instance: Instance, budget: Budget) -> dict[PieceType, float]:
    """Prices of the rounded problem, for pieces of the true sizes; none when the budget is over first."""
    step = budget.part(ROUNDED_SHARE)
    _, found = nearly_solved(rounded(instance), step, lambda _: None, rounding=False)
    budget.absorb(step)
    prices = {}
    for piece in instance.piece_types():
        near = _nearest(piece)
        if near in found:
            prices[piece] = found[near] * (piece.width_mm * piece.length_mm) / (near.width_mm * near.length_mm)
    return prices


def rounded(instance: Instance) -> Instance:
    """The problem with every piece rounded to the nearest step, and every source up to the next.

    Parameters
    ----------
    instance
        The problem; nothing that is found for the other is true of it.
    """
    groups = []
    for group in instance.groups:
        demands = {choice: _of_nearest(demand) for choice, demand in group.demands.items()}
        groups.append(replace(group, demands=demands))
    sources = tuple(replace(s, width_mm=_up(s.width_mm), length_mm=_up(s.length_mm)) for s in instance.sources)
    made_as = {_nearest(t): tuple(dict.fromkeys(map(_nearest, ways))) for t, ways in instance.made_as.items()}
    fixed = _of_nearest(instance.fixed)
    return replace(instance, groups=tuple(groups), sources=sources, fixed=fixed, made_as=made_as)


def _nearest(piece: PieceType) -> PieceType:
    width, length = (max(1, (size + STEP_MM // 2) // STEP_MM) * STEP_MM for size in (piece.width_mm, piece.length_mm))
    return replace(piece, width_mm=width, length_mm=length)


def _up(size_mm: int) -> int:
    return -(-size_mm // STEP_MM) * STEP_MM


def _of_nearest(pieces: Mapping[PieceType, int]) -> dict[PieceType, int]:
    """How many of each rounded piece, where there are so many of each piece."""
    found = Counter[PieceType]()
    for piece, count in pieces.items():
        found[_nearest(piece)] += count
    return dict(found)
