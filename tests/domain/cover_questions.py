"""Questions of what covers a small job, and their answers, for the estimator's tests."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from estimator_yards import LAYOUT, WIDEST

from stockplan.domain.cover import Answer, Coverage, Offer, Question, Ready
from stockplan.domain.cover_answers import cover
from stockplan.domain.cover_source import Source
from stockplan.domain.pieces import in_order
from stockplan.domain.stock import SupplyForm, SupplyOption

TODAY = date(2026, 11, 26)
CUT_LENGTHS = SupplyOption("G30", "Ashcombe", SupplyForm.CUT_LENGTH, 4000, 6000, 5000, 2)
ROLLS = SupplyOption("G30", "Fernlea Mills", SupplyForm.ROLL, 4000, 10_000, 40_000, 4)


def asked(*pieces: tuple[int, int], lay_on: date | None = None, most: int = 3) -> Question:
    return Question(in_order(pieces), ("G30",), TODAY, lay_on, most)


def answered(question: Question, *free: Source, supply: Sequence[SupplyOption] = (), **more: object) -> Coverage:
    offer = Offer(free, supply, {"G30": WIDEST}, layout=LAYOUT)
    return cover(question, replace(offer, **more))  # type: ignore[arg-type]


def first(found: Coverage, ready: Ready) -> Answer:
    return found.of(ready)[0]
