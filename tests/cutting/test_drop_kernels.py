"""Compiled worth of leftovers against the rule itself, and what drops cost against patterns."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from stockplan.cutting.drop_kernels import (
    AREA,
    CROSSCUT,
    FULL_WIDTH,
    HAS_WORTH,
    ON_CORE,
    PENCE,
    RULE,
    WIDTH,
    least_loss,
    tail_worth,
    worth,
)
from stockplan.domain.worth import FULL_WIDTH_PERCENT, Leftover, UnitCost, leftover_worth

WIDEST_MM = 4000

pence_and_area = st.tuples(st.integers(0, 400_000), st.integers(1, 200_000_000)) | st.tuples(
    st.integers(0, 10_000), st.just(1_000_000)
)


def ground(cost: tuple[int, int], *, width: int = WIDEST_MM, on_core: bool = True, crosscut: int = 0) -> np.ndarray:
    one = np.zeros(9, dtype=np.int64)
    one[WIDTH], one[FULL_WIDTH], one[ON_CORE] = width, -(-WIDEST_MM * FULL_WIDTH_PERCENT // 100), on_core
    one[HAS_WORTH], one[PENCE], one[AREA], one[CROSSCUT] = 1, *cost, crosscut
    return one


@settings(deadline=None)
@given(pence_and_area, st.integers(1, 5000), st.integers(1, 40_000), st.booleans(), st.booleans())
def test_worth_is_that_of_the_rule_to_the_penny(
    cost: tuple[int, int], width: int, length: int, tail: bool, on_core: bool
) -> None:
    expected = leftover_worth(Leftover(width, length, tail and on_core, WIDEST_MM), UnitCost(*cost))
    assert worth(ground(cost, on_core=on_core), width, length, tail) == expected


@settings(deadline=None)
@given(st.integers(100, 3000), st.integers(1000, 60_000), st.data())
def test_a_tail_loses_no_less_than_is_said(pence: int, length: int, data: st.DataObject) -> None:
    """Wherever the longer tail is worth keeping: at every length, the sizes of the rule among them."""
    one = ground((pence, 1_000_000), crosscut=data.draw(st.integers(0, 500)))
    shorter = data.draw(st.integers(0, 30_000) | st.sampled_from([0, *RULE]))
    assert tail_worth(one, shorter + length) - tail_worth(one, shorter) >= least_loss(one, length)
