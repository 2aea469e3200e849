"""Choosing layouts together with the stock never costs more than laying every job the way that takes least grass."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from stockplan.bench.layouts import Compared, compare, costs_no_more, show


@cache
def week_of_lawns() -> Compared:
    return compare(2, work=12)


def test_choosing_costs_no_more_and_the_plans_are_sound() -> None:
    compared = week_of_lawns()
    assert compared.faults == ()
    assert costs_no_more(compared)
    assert compared.lawns == 8
    assert compared.changed > 0
    told: list[str] = []
    assert show([compared], told.append)
    assert "8 lawns in 1 weeks" in told[-2]


def test_choosing_that_costs_more_is_told_of() -> None:
    compared = week_of_lawns()
    worse = replace(compared, chosen_pence=compared.first_pence + 1, short=(0, 0, 0))
    assert not costs_no_more(worse)
    assert not costs_no_more(replace(compared, short=(0, 1, 0)))
    assert costs_no_more(replace(worse, short=(1, 0, 1)))
    assert not show([worse], lambda _: None)
    assert not show([replace(compared, faults=("something",))], lambda _: None)
