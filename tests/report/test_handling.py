"""Weights and lifting notes against published figures."""

import math

import pytest

from stockplan.report.handling import (
    CAUTIONS,
    ONE_PERSON_KG,
    THREE_PERSON_TENTHS_KG,
    lifting_note,
    roll_weight_kg,
)

POUND_KG = 0.45359237
FOOT_MM = 304.8


def test_weight_of_a_labelled_roll():
    """A maker's roll, face weight 77 oz/yd², 15 × 100 ft: label 845 lb (from memory)."""
    grams_per_m2 = 77 * POUND_KG / 16 * 1000 / (3 * FOOT_MM / 1000) ** 2
    ours = roll_weight_kg(round(15 * FOOT_MM), round(100 * FOOT_MM), round(grams_per_m2))
    assert ours == pytest.approx(845 * POUND_KG, rel=0.01)


def test_weight_of_a_full_roll_lies_where_the_trade_puts_it():
    """4 × 25 m at 2 to 3 kg/m²: 200 to 300 kg of grass, common practice."""
    assert (roll_weight_kg(4000, 25_000, 2000), roll_weight_kg(4000, 25_000, 3000)) == (210, 315)


def test_weight_is_rounded_up():
    assert roll_weight_kg(1000, 1000, 2000) == math.ceil(2.1)
    assert roll_weight_kg(1, 1, 1) == 1


def test_limits_are_the_published_guideline_figures():
    """HSE INDG143, elbow to knuckle, close: 25 kg men, 16 kg women; L23: a team of three half the sum."""
    assert min(25, 16) == ONE_PERSON_KG
    assert THREE_PERSON_TENTHS_KG / 10 == 3 * 25 / 2


def test_notes_only_ever_forbid():
    assert lifting_note(16) == ""
    assert lifting_note(17).startswith("not for one person")
    assert lifting_note(37).startswith("not for one person")
    assert lifting_note(38) == "too heavy for hands: use plant"
    assert all("safe" not in note and "may lift" not in note for note in map(lifting_note, range(400)))


def test_cautions_name_every_danger_and_defer():
    text = " ".join(CAUTIONS).lower()
    for word in ("knives", "plant", "lifting", "dust", "risk assessment", "data sheets", "local codes"):
        assert word in text
