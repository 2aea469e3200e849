"""What a thing is said to have cost, held against what its grass costs elsewhere."""

from __future__ import annotations

import pytest

from stockplan.domain.odd_costs import odd_cost
from stockplan.domain.stock import SupplyForm, SupplyOption

ROLL = SupplyOption("K30", "Tessel Yarns", SupplyForm.ROLL, 4000, 25_000, 100_000, 6)  # 10.00 a square metre
METRE = SupplyOption("K30", "Tessel Yarns", SupplyForm.CUT_LENGTH, 4000, 12_000, 4800, 3)  # 12.00


@pytest.mark.parametrize(
    ("cost", "said"),
    [
        (3600, ""),  # three times the dearest
        (3601, "36.01 per m² is about 3 times what the dearest K30 on offer or in the yard costs, 12.00"),
        (4800, "48.00 per m² is about 4 times what the dearest K30 on offer or in the yard costs, 12.00"),
        (334, ""),
        (333, "3.33 per m² is less than a third of what the cheapest K30 on offer or in the yard costs, 10.00"),
        (0, ""),  # given, or never paid for
    ],
)
def test_a_cost_is_odd_beyond_three_times_the_dearest_or_under_a_third_of_the_cheapest(cost: int, said: str) -> None:
    assert odd_cost("K30", cost, [ROLL, METRE], [0, 1100]) == said


def test_just_a_third_of_the_cheapest_is_not_odd() -> None:
    assert odd_cost("K30", 300, [], [900]) == ""
    assert odd_cost("K30", 299, [], [900])


def test_where_nothing_is_known_of_a_grass_no_cost_is_odd() -> None:
    assert odd_cost("K30", 1, [], []) == ""
    assert odd_cost("K30", 10**6, [], [0]) == ""
