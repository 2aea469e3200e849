"""Tapes adjusted by least squares, shapes from tapes, and misread tapes, against exact and independent answers."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from stockplan.domain.survey import SurveySettings
from stockplan.surveying.tape_shapes import chosen, longest_ways_round, loose_corners, shapes, suspects
from stockplan.surveying.tapes import CRITICAL, Floats, Tape, adjust

EXACT = SurveySettings()
EQUAL = SurveySettings(tape_error_mm=10, tape_error_mm_per_m=0)  # every tape with the same weight


def between(corners: Floats, one: int, other: int) -> float:
    return float(np.hypot(*(corners[one] - corners[other])))


def every_tape(corners: Floats, noise: np.random.Generator | None = None, sigma: float = 0.0) -> list[Tape]:
    pairs = itertools.combinations(range(len(corners)), 2)
    errors = itertools.repeat(0.0) if noise is None else iter(lambda: float(noise.normal(0, sigma)), None)
    return [Tape(a, b, between(corners, a, b) + error) for (a, b), error in zip(pairs, errors, strict=False)]


def area(corners: Floats) -> float:
    x, y = corners[:, 0], corners[:, 1]
    return abs(float(np.dot(x, np.roll(y, -1)) - np.dot(np.roll(x, -1), y))) / 2


@pytest.mark.parametrize(
    ("sides", "expected"),
    [
        ((13_000, 14_000, 15_000), 84e6),  # Heron's own triangle, Metrica I.8
        ((3000, 4000, 5000), 6e6),
        ((38_580, 20_000, 30_000), 296.279e6),  # field report 'Area calculation', first triangle of a plot
    ],
)
def test_area_of_a_triangle_by_its_sides(sides: tuple[int, int, int], expected: float) -> None:
    a, b, c = sides
    (shape,) = shapes(3, [Tape(0, 1, a), Tape(1, 2, b), Tape(2, 0, c)], EXACT, clockwise=False)
    s = (a + b + c) / 2
    assert area(shape.adjusted.corners) == pytest.approx(math.sqrt(s * (s - a) * (s - b) * (s - c)), rel=1e-9)
    assert area(shape.adjusted.corners) == pytest.approx(expected, rel=2e-6)


def test_area_of_a_quadrilateral_by_sides_and_a_diagonal() -> None:
    """Brahmagupta's formula where it is cyclic: sides 7, 15, 20, 24 have area 234 and diagonal 20 (from memory)."""
    a, b, c, d = 7.0, 15.0, 20.0, 24.0
    s = (a + b + c + d) / 2
    exact = math.sqrt((s - a) * (s - b) * (s - c) * (s - d))
    diagonal = math.sqrt((a * c + b * d) * (a * d + b * c) / (a * b + c * d))  # Ptolemy's theorem
    tapes = [Tape(i, (i + 1) % 4, side * 1000) for i, side in enumerate((a, b, c, d))]
    found = chosen(shapes(4, [*tapes, Tape(0, 2, diagonal * 1000)], EXACT, clockwise=True), None)
    assert exact == pytest.approx(234)
    assert [round(area(shape.adjusted.corners)) for shape in found] == [234_000_000]
    assert found[0].inward == ()


def test_one_tape_too_many_against_the_linear_answer() -> None:
    """A rectangle of 4 by 3 with six tapes; one tape's error is shared as by numpy's own least squares."""
    true = np.array([(0.0, 0.0), (4000.0, 0.0), (4000.0, 3000.0), (0.0, 3000.0)])
    tapes = every_tape(true)
    tapes[1] = Tape(0, 2, 5006.0)
    found = adjust(true, tapes, EQUAL)
    assert found is not None
    rows = np.zeros((6, 8))
    for row, tape in zip(rows, tapes, strict=True):
        unit = (true[tape.other] - true[tape.one]) / between(true, tape.one, tape.other)
        row[2 * tape.other : 2 * tape.other + 2], row[2 * tape.one : 2 * tape.one + 2] = unit, -unit
    free = [2, 4, 5, 6, 7]
    wrong = np.array([0.0, 6.0, 0.0, 0.0, 0.0, 0.0])
    step, *_ = np.linalg.lstsq(rows[:, free], wrong, rcond=None)
    residuals = rows[:, free] @ step - wrong
    assert found.residuals == pytest.approx(residuals, abs=0.02)
    hat = rows[:, free] @ np.linalg.pinv(rows[:, free])
    assert found.redundancy == pytest.approx(1 - np.diag(hat), abs=1e-3)
    assert found.redundancy.sum() == pytest.approx(1.0)
    assert np.abs(found.standardized) == pytest.approx(abs(residuals[1]) / (10 * math.sqrt(1 - hat[1, 1])), abs=0.01)


def test_a_longer_tape_counts_for_less() -> None:
    assert EXACT.tape_sigma_mm(0) == 10
    assert EXACT.tape_sigma_mm(20_000) == pytest.approx(math.hypot(10, 40))
    true = np.array([(0.0, 0.0), (30_000.0, 0.0)])
    found = adjust(true, [Tape(0, 1, 30_000.0), Tape(0, 1, 30_030.0)], EQUAL)
    assert found is not None
    assert found.corners[1] == pytest.approx([30_015.0, 0.0])  # the mean of two readings
    assert found.redundancy == pytest.approx([0.5, 0.5])


def test_corners_that_nothing_holds() -> None:
    square = every_tape(np.array([(0.0, 0.0), (4000.0, 0.0), (4000.0, 3000.0), (0.0, 3000.0)]))
    assert loose_corners(4, square) == []
    assert loose_corners(4, square[:3]) == [2, 3] or len(loose_corners(4, square[:3])) == 2
    sides = [tape for tape in square if (tape.one, tape.other) not in {(0, 2), (1, 3)}]
    assert len(loose_corners(4, sides)) == 2
    assert adjust(np.array([(0.0, 0.0), (4000.0, 0.0), (4000.0, 3000.0), (0.0, 3000.0)]), sides, EXACT) is None


def test_a_diagonal_longer_than_two_sides_and_a_side_longer_than_the_rest() -> None:
    tapes = [Tape(0, 1, 3000), Tape(1, 2, 4000), Tape(2, 0, 7100)]
    assert longest_ways_round(3, tapes, EXACT) == [(tapes[2], 7000.0)]
    assert longest_ways_round(3, [*tapes[:2], Tape(2, 0, 7030)], EXACT) == []  # within three standard errors


def test_the_mirror_image_is_told_by_the_way_it_was_walked() -> None:
    true = np.array([(0.0, 0.0), (6000.0, 0.0), (5000.0, 4000.0), (-500.0, 3000.0)])
    (left,) = chosen(shapes(4, every_tape(true), EXACT, clockwise=False), None)
    (right,) = chosen(shapes(4, every_tape(true), EXACT, clockwise=True), None)
    assert left.adjusted.corners == pytest.approx(true, abs=1e-3)
    assert right.adjusted.corners == pytest.approx(true * [1, -1], abs=1e-3)


def test_one_diagonal_leaves_two_shapes_and_a_second_tells() -> None:
    arrow = np.array([(0.0, 0.0), (6000.0, 0.0), (2500.0, 1500.0), (0.0, 6000.0)])  # turns inward at its third corner
    tapes = every_tape(arrow)
    four_and_one = [tape for tape in tapes if (tape.one, tape.other) != (0, 2)]
    found = shapes(4, four_and_one, EXACT, clockwise=False)
    assert sorted(shape.inward for shape in found) == [(), (2,)]
    assert [shape.inward for shape in chosen(found, None)] == [()]
    (said,) = chosen(found, (2,))
    assert said.adjusted.corners == pytest.approx(arrow, abs=1e-3)
    (told,) = chosen(shapes(4, tapes, EXACT, clockwise=False), None)
    assert told.inward == (2,)


def random_plot(rng: np.random.Generator, corners: int) -> Floats:
    angles = np.cumsum(rng.uniform(0.6, 1.4, corners))
    angles *= 2 * np.pi / (angles[-1] + rng.uniform(0.6, 1.4))
    radii = rng.uniform(3000, 9000, corners)
    plot: Floats = np.c_[radii * np.cos(angles), radii * np.sin(angles)]
    return plot


def test_random_plots_come_back_from_their_tapes() -> None:
    rng = np.random.default_rng(3)
    for corners in (3, 4, 5, 6) * 5:
        plot = random_plot(rng, corners)
        (shape,) = chosen(shapes(corners, every_tape(plot), EXACT, clockwise=False), None)
        moved = plot - plot[0]
        angle = math.atan2(moved[1, 1], moved[1, 0])
        turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
        assert shape.adjusted.corners == pytest.approx(moved @ turn, abs=1e-3)
        assert shape.adjusted.fits


def test_a_misread_tape_is_pointed_at_and_sound_ones_are_not() -> None:
    """Five corners or more with every tape: three redundant ones at least, so that one bad tape stands alone."""
    rng = np.random.default_rng(11)
    sound = pointed = 0
    for corners in (5, 5, 5, 6) * 3:
        plot = random_plot(rng, corners)
        tapes = every_tape(plot, rng, 5.0)
        (good,) = chosen(shapes(corners, tapes, EXACT, clockwise=False), None)
        sound += good.adjusted.fits
        bad = int(rng.integers(len(tapes)))
        error = float(rng.choice([-1.0, 1.0]) * rng.uniform(300, 1000))
        misread = Tape(tapes[bad].one, tapes[bad].other, max(tapes[bad].length_mm + error, 100.0))
        mixed = [*tapes[:bad], misread, *tapes[bad + 1 :]]
        found = shapes(corners, mixed, EXACT, clockwise=False)
        best = found[0].adjusted
        assert not best.fits
        assert np.max(np.abs(best.standardized)) > CRITICAL
        suspected = suspects(corners, mixed, EXACT, best, clockwise=False)
        assert misread in [one.tape for one in suspected]
        if [one.tape for one in suspected] == [misread]:
            pointed += 1
            assert suspected[0].would_be_mm == pytest.approx(tapes[bad].length_mm, abs=60)
    assert sound == 12
    assert pointed >= 9


def test_where_only_one_tape_is_to_spare_all_are_suspected_alike() -> None:
    plot = np.array([(0.0, 0.0), (6000.0, 0.0), (6500.0, 4000.0), (-500.0, 4500.0)])
    tapes = every_tape(plot)
    tapes[0] = Tape(0, 1, 6400.0)
    best = shapes(4, tapes, EXACT, clockwise=False)[0].adjusted
    found = suspects(4, tapes, EXACT, best, clockwise=False)
    assert {(one.tape.one, one.tape.other) for one in found} == set(itertools.combinations(range(4), 2))
