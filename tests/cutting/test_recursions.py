"""Lengths that the pricing recursions put out of use change no value; patterns are worth what is told of them."""

from __future__ import annotations

from random import Random

import numpy as np
import pytest
from small_problems import a_little_smaller

from stockplan.bench.weeks import week
from stockplan.cutting.ascent import first_price
from stockplan.cutting.building import build_instance
from stockplan.cutting.pricers import Pricers
from stockplan.cutting.recursions import NEVER, empty_lanes, fill_lanes, fill_source


@pytest.mark.parametrize(("size", "seed"), [("S", 0), ("S", 2), ("M", 1), ("M", 2)])
@pytest.mark.parametrize("to_the_millimetre", [False, True])
def test_tables_are_the_same_with_every_length_in_use(size: str, seed: int, *, to_the_millimetre: bool) -> None:
    request, random = week(size, seed), Random(seed)
    if to_the_millimetre:
        request = a_little_smaller(request, random)
    instance = build_instance(request, request.products[0].code)
    assert Pricers(instance).exact is not to_the_millimetre
    usual = {t: first_price(instance, t) for t in instance.piece_types()}
    for spread in (0.0, 0.1, 1.0):
        prices = {t: price * random.uniform(1 - spread, 1 + spread) for t, price in usual.items()}
        for pricer, others in zip(Pricers(instance).each, Pricers(instance).each, strict=True):
            others._margin = np.inf
            assert others.price(prices) == pricer.price(prices)
            mine, theirs = pricer._now(), others._now()
            for name in ("any", "filled", "widths"):
                apart = np.maximum(getattr(mine, name), NEVER / 2) - np.maximum(getattr(theirs, name), NEVER / 2)
                assert np.abs(apart).max() < 1e-6, name


def test_a_length_that_others_fill_for_more_is_left_out() -> None:
    # A lane of 1 m at 0.01 pence a mm2, lengths of 1, 2 and 3 m: two of the first gain more than one of the second.
    lengths = np.array([0.0, 1000.0, 2000.0, 3000.0])
    lane, filled = np.empty((1, 4)), np.empty((1, 4))
    empty_lanes(lane, np.array([1000.0]), np.array([False]), 0.0, lengths)
    lane[0, 0] = 2.0
    gain = np.array([[100.0, 150.0, 400.0]])
    fill_lanes(lane, filled, np.array([1, 2, 3]), gain, 4.0)
    assert filled[0].tolist() == [NEVER, 102.0, 202.0, 402.0]
    # Within the margin it stays in use: 100 and 100 less a crosscut saved once are not surely more than 199.
    close = np.array([[100.0, 199.0, 300.0]])
    lane[0] = [2.0, 0.0, 0.0, 0.0]
    fill_lanes(lane, filled, np.array([1, 2, 3]), close, 4.0)
    assert filled[0].tolist() == [NEVER, 102.0, 202.0, 302.0]


def test_drops_fill_a_source_as_every_way_to_choose_them() -> None:
    random = Random(5)
    for _ in range(200):
        room, crosscut = 12, 20.0
        drops = np.array([NEVER] * 2 + [random.choice([NEVER, random.uniform(0, 400)]) for _ in range(room - 1)])
        drops[drops > 0] -= crosscut
        tail = np.array([max(0.0, 5.0 * x - 20) for x in range(room + 1)])  # worth bends upward
        tail[0] = crosscut
        best = list(tail)
        for x in range(room + 1):
            best[x] = max([tail[x], *(best[x - d] + drops[d] for d in range(2, x + 1) if drops[d] > NEVER / 2)])
        useful = np.flatnonzero(drops > NEVER / 2)
        if useful.size:
            kept = tail.copy()
            fill_source(kept, drops, int(useful[0]), crosscut + 2.0)
            assert kept == pytest.approx(best)


@pytest.mark.parametrize(("size", "seed"), [("S", 1), ("M", 2)])
def test_patterns_are_worth_what_is_told_of_them(size: str, seed: int) -> None:
    request, random = week(size, seed), Random(seed)
    instance = build_instance(request, request.products[0].code)
    prices = {t: first_price(instance, t) * random.uniform(0.8, 1.2) for t in instance.piece_types()}
    several = 0
    for pricer in Pricers(instance).each:
        for one in pricer.price(prices):
            found = pricer.patterns(one.source, 0.9 * one.value, 8)
            assert found[0] == (pricer.pattern(one.source), one.value)
            values = [value for _, value in found]
            assert values == sorted(values, reverse=True)
            assert values[-1] > 0.9 * one.value
            made = [pattern.made() for pattern, _ in found]
            assert all(pieces not in made[:n] for n, pieces in enumerate(made))
            for pattern, value in found:
                pieces = sum(prices[t] * count for t, count in pattern.made().items())
                assert pattern.cost(instance) == pytest.approx(pattern.source.value_pence + pieces - value)
            several += len(found) > 1
    assert several >= 10
