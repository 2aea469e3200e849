"""How many pieces are few enough to be tried in every way, and what is said of more."""

from __future__ import annotations

from datetime import timedelta

import pytest
from cover_questions import TODAY

from stockplan.domain.cover_purchase import check_question, is_small
from stockplan.domain.pieces import in_order
from stockplan.errors import RequestError

MOST = "at most 12 of one size, 4 and 5 of two sizes, 2 each of three, or five unlike ones; ask for a part of them"


@pytest.mark.parametrize(
    ("counts", "small"),
    [
        ((12,), True),
        ((13,), False),
        ((4, 5), True),
        ((5, 5), False),
        ((2, 2, 2), True),
        ((3, 2, 2), False),
        ((1, 1, 1, 1, 1), True),
        ((1, 1, 1, 1, 1, 1), False),
        ((2, 2, 2, 2), False),
    ],
)
def test_few_pieces_are_those_that_are_told_to_be(counts: tuple[int, ...], small: bool) -> None:
    sizes = [(1000 + 10 * number, 2000) for number, count in enumerate(counts) for _ in range(count)]
    pieces = in_order(tuple(sizes))
    assert is_small(pieces) is small
    if small:
        check_question(pieces)
        return
    unlike = f", being of {len(counts)} sizes" if len(counts) > 1 else ""
    with pytest.raises(
        RequestError, match=f"^{len(pieces)} pieces are more than can be tried in every way{unlike}; {MOST}"
    ):
        check_question(pieces)


def test_a_job_may_be_laid_on_the_day_of_asking_and_not_before() -> None:
    check_question(((1000, 2000),), TODAY, TODAY)
    with pytest.raises(RequestError, match="before the day of asking"):
        check_question(((1000, 2000),), TODAY, TODAY - timedelta(days=1))
