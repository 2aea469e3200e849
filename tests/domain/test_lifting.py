"""Weights and lifting figures against what is published."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from stockplan.domain.lifting import (
    FREQUENCY,
    ONE_PERSON_KG,
    TEAM_MEMBER_KG,
    Grasp,
    HandHeight,
    fewest_people,
    frequency_multiplier,
    guideline_kg,
    recommended_weight_limit_kg,
    team_kg,
    weight_kg,
)

POUND_KG = 0.45359237
FOOT_MM = 304.8
INCH_CM = 2.5  # as the equation's two sets of constants have it: 10 inches for 25 cm


def test_weight_of_a_labelled_roll() -> None:
    """A maker's roll, face weight 77 oz/yd², 15 × 100 ft: label 845 lb (from memory)."""
    grams_per_m2 = 77 * POUND_KG / 16 * 1000 / (3 * FOOT_MM / 1000) ** 2
    ours = weight_kg(round(15 * FOOT_MM), round(100 * FOOT_MM), round(grams_per_m2))
    assert ours == pytest.approx(845 * POUND_KG, rel=0.01)


def test_weight_of_a_full_roll_lies_where_the_trade_puts_it() -> None:
    """4 × 25 m at 2 to 3 kg/m²: 200 to 300 kg of grass, common practice."""
    assert (weight_kg(4000, 25_000, 2000), weight_kg(4000, 25_000, 3000)) == (210, 315)


def test_weight_is_rounded_up() -> None:
    assert weight_kg(1000, 1000, 2000) == math.ceil(2.1)
    assert weight_kg(1, 1, 1) == 1


def test_the_filter_is_that_of_the_leaflet() -> None:
    """HSE INDG143, men (women), close / at arm's length, from the shoulder down to the lower leg."""
    found = [
        tuple(
            guideline_kg(height, extended=extended, women=women)
            for women in (False, True)
            for extended in (False, True)
        )
        for height in HandHeight
    ]
    assert found == [(10, 5, 7, 3), (20, 10, 13, 7), (25, 15, 16, 10), (20, 10, 13, 7), (10, 5, 7, 3)]


def test_team_figures_are_the_published_shares() -> None:
    """HSE L23: two manage two thirds of the sum of their own figures, three one half."""
    assert round(float(team_kg([25, 25])), 1) == 33.3
    assert team_kg([25, 25, 25]) == Fraction(75, 2)
    assert round(float(team_kg([16, 16])), 1) == 21.3
    assert team_kg([16]) == 16
    for count in (0, 4):
        with pytest.raises(ValueError, match="teams of one to three"):
            team_kg([25] * count)


def test_fewest_people_follow_from_the_figures() -> None:
    assert (ONE_PERSON_KG, TEAM_MEMBER_KG) == (16, 25)
    found = {kg: fewest_people(kg) for kg in (1, 16, 17, 33, 34, 37, 38, 300)}
    assert found == {1: 1, 16: 1, 17: 2, 33: 2, 34: 3, 37: 3, 38: None, 300: None}


def test_lifting_equation_on_a_worked_example() -> None:
    """94-110, example 4, pp. 44–46: 51 lb × 1.0 × .94 × .87 × 1.0 × .88 × .95 = 34.9 lb; 23 kg stands for 51 lb."""
    limit = recommended_weight_limit_kg(
        reach_cm=25, from_cm=55, travel_cm=90, frequency=frequency_multiplier(3, 1, 55), grasp=Grasp.FAIR
    )
    assert limit / 23 * 51 == pytest.approx(34.9, abs=0.05)


@pytest.mark.parametrize(("from_inches", "pounds"), [(15, 16.3), (64, 14.5)])
def test_lifting_equation_at_both_ends_of_a_lift(from_inches: int, pounds: float) -> None:
    """94-110, example 1, from memory: H 23, V 15 to 64, D 49 inches; its multipliers are rounded to two places."""
    limit = recommended_weight_limit_kg(
        reach_cm=23 * INCH_CM, from_cm=from_inches * INCH_CM, travel_cm=49 * INCH_CM, grasp=Grasp.FAIR
    )
    assert limit / 23 * 51 == pytest.approx(pounds, rel=0.03)


def test_the_best_lift_there_is_has_the_load_constant() -> None:
    assert recommended_weight_limit_kg(reach_cm=20, from_cm=75, travel_cm=10, grasp=Grasp.GOOD) == 23


@pytest.mark.parametrize(
    ("measure", "bound"), [("reach_cm", 63), ("from_cm", 175), ("travel_cm", 175), ("turn_degrees", 135)]
)
def test_at_its_bounds_the_equation_gives_something_and_beyond_them_nothing(measure: str, bound: float) -> None:
    lift: dict[str, float] = {"reach_cm": 25, "from_cm": 0, "travel_cm": 10}
    assert recommended_weight_limit_kg(**(lift | {measure: bound})) > 0
    assert recommended_weight_limit_kg(**(lift | {measure: bound + 1})) == 0


def test_frequency_table() -> None:
    assert frequency_multiplier(0, 8, 80) == 0.85
    assert frequency_multiplier(0.6, 1, 20) == 0.94  # between two rows: the next one
    assert frequency_multiplier(9, 8, 74) == 0
    assert frequency_multiplier(9, 8, 75) == 0.15
    assert frequency_multiplier(16, 1, 80) == 0
    for hours in range(3):
        for hands in (0, 1):
            values = [multipliers[hours][hands] for _, multipliers in FREQUENCY]
            assert values == sorted(values, reverse=True)
