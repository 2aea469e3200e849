"""Areas from offsets, against worked examples and exact integrals."""

from __future__ import annotations

import numpy as np
import pytest

from stockplan.surveying.offsets import offset_areas, simpson, trapezoidal


def spaced(step: float, heights: list[float]) -> list[tuple[float, float]]:
    return [(number * step, height) for number, height in enumerate(heights)]


@pytest.mark.parametrize(
    ("step", "heights", "by_trapezia", "by_simpson"),
    [
        # course notes 'Calculation of areas from offsets to a base line', example 1
        (10, [3.15, 4.3, 8.2, 5.6, 6.85, 7.6, 4.2, 5.6, 4.3], 460.75, 461.167),
        # lecture notes 'Area by offsets from a straight line', problems 1 and 2
        (3.5, [0.8, 3.6, 4.7, 5.3, 3.9, 2.7, 4.6, 5.5, 4.9, 7.6, 8.8, 5.4, 6.0], 211.4, 211.17),
        # an offset-area calculator's worked example
        (10, [0, 5, 8, 6, 0], 190, 200),
    ],
)
def test_worked_examples(step: float, heights: list[float], by_trapezia: float, by_simpson: float) -> None:
    areas = offset_areas(spaced(step, heights))
    assert areas.trapezoidal_mm2 == pytest.approx(by_trapezia, abs=0.005)
    assert areas.simpson_mm2 == pytest.approx(by_simpson, abs=0.005)


def test_simpsons_rule_is_exact_for_a_cubic_and_trapezia_are_numpys() -> None:
    x = np.linspace(0, 6, 7)
    curve = list(zip(x.tolist(), (x**3 - 4 * x**2 + 5 * x + 9).tolist(), strict=True))
    assert simpson(curve) == pytest.approx(6**4 / 4 - 4 * 6**3 / 3 + 5 * 6**2 / 2 + 9 * 6)
    assert trapezoidal(curve) == pytest.approx(np.trapezoid([y for _, y in curve], x))


def test_an_even_number_of_offsets_ends_in_a_trapezium() -> None:
    heights = [2.0, 3.0, 3.5, 3.2]
    assert simpson(spaced(5, heights)) == pytest.approx(5 / 3 * (2 + 12 + 3.5) + 5 * (3.5 + 3.2) / 2)


def test_unequal_spacing_has_no_answer_by_simpsons_rule() -> None:
    areas = offset_areas([(0, 1000), (1000, 2000), (2500, 1500)])
    assert (areas.trapezoidal_mm2, areas.simpson_mm2, areas.apart) == (1_500_000 + 2_625_000, None, None)
    assert simpson([(0, 1), (1, 2)]) is None
