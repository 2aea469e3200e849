"""Worth as the relaxations reckon it, held against the rule: never below it, and a penny above it at most."""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

import numpy as np
import pytest
from small_problems import GRASS, item, job, problem

from stockplan.cutting.building import build_instance
from stockplan.cutting.instance import Instance, Source
from stockplan.cutting.recursions import worth_row
from stockplan.cutting.worths import loose_worth, tail_worth
from stockplan.domain.request import CostSettings
from stockplan.domain.worth import Leftover, leftover_worth

WIDEST_MM = 4000
AT_EDGES = (499, 500, 999, 1000, 1001, 2999, 3000, 3001, 3919, 3920, 4000, 5999, 6000, 6001)


def sizes(random: Random, most: int) -> list[int]:
    return sorted({*(edge for edge in AT_EDGES if edge <= most), *(random.randint(1, most) for _ in range(40))})


def of_source(form: str, pence: int, costs: CostSettings) -> tuple[Instance, Source]:
    instance = build_instance(
        problem([job("J1", "1000x1000")], [item("S1", f"{WIDEST_MM}x25000", pence=pence, form=form)], (), costs), GRASS
    )
    return instance, instance.sources[0]


def by_rule(source: Source, widths: Sequence[int], lengths: Sequence[int], *, on_core: bool) -> np.ndarray:
    return np.array(
        [
            [leftover_worth(Leftover(width, length, on_core, WIDEST_MM), source.unit_cost) for length in lengths]
            for width in widths
        ]
    )


@pytest.mark.parametrize("seed", range(5))
def test_tables_are_never_below_the_rule_and_a_penny_above_it_at_most(seed: int) -> None:
    random = Random(seed)
    instance, roll = of_source("part_roll", random.randint(1, 3000), CostSettings())
    widths, lengths = sizes(random, WIDEST_MM), sizes(random, 25_000)
    loose, tail = by_rule(roll, widths, lengths, on_core=False), by_rule(roll, [WIDEST_MM], lengths, on_core=True)
    tables = [
        (loose_worth(instance, roll, np.array(widths), np.array(lengths)), loose),
        (tail_worth(instance, roll, np.array(lengths))[None, :], tail),
    ]
    rate, row = roll.unit_cost.pence / roll.unit_cost.area_mm2, np.zeros(len(lengths))
    for place, width in enumerate(widths):
        worth_row(float(width), width * 100 >= WIDEST_MM * 98, rate, np.array(lengths, dtype=float), row)
        tables.append((row[None, :].copy(), loose[place : place + 1]))
    for told, right in tables:
        assert (told >= right).all()
        assert (told <= right + 1).all()
    assert loose.any()
    assert tail.any()


def test_the_tail_of_a_loose_thing_is_loose_and_nothing_has_worth_where_leftovers_have_none() -> None:
    lengths = np.array(sizes(Random(0), 25_000))
    instance, loose = of_source("offcut", 1060, CostSettings())
    assert (tail_worth(instance, loose, lengths) == loose_worth(instance, loose, np.array([WIDEST_MM]), lengths)).all()
    instance, roll = of_source("part_roll", 1060, CostSettings(leftovers_have_worth=False))
    assert not tail_worth(instance, roll, lengths).any()
