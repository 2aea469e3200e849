"""Plans whose leftovers are best just at an edge of the rule of worth: proven, and as cheap as a sum by hand says."""

from __future__ import annotations

import pytest
from small_problems import cut_lengths, item, job, problem, rolls, sound_plan

from stockplan.cutting.building import build_instance
from stockplan.cutting.instance import PieceType
from stockplan.cutting.pricers import Pricers
from stockplan.domain.plan import PlanStatus, ProductPlan
from stockplan.domain.request import CostSettings, PlanRequest

FREE_CUTS = CostSettings(0, 0)


def proven(request: PlanRequest) -> ProductPlan:
    (planned,) = sound_plan(request).products
    assert planned.status is PlanStatus.OPTIMAL
    assert planned.lower_bound_pence == planned.net_cost_pence
    return planned


def test_a_drop_takes_all_of_an_offcut_though_some_piece_is_too_narrow_to_leave_anything_at_its_end() -> None:
    # Of the offcut, worth 41.48, a drop of its whole length leaves 0.5 × 5.8 m beside the piece, 17.52, and 0.5 × 2.3 m
    # behind it, 5.30. A drop as long as the piece leaves 8.99 there, and a tail of 1 × 2.3 m, 12.56.
    stock = [item("T1", "1000x5800", pence=2000), item("T2", "450x2500", pence=0)]
    jobs = [job("J1", "500x3500"), job("J2", "450x2500")]
    planned = proven(problem(jobs, stock, [rolls("4000x10000", 30_000)], FREE_CUTS))
    assert planned.net_cost_pence == 4148 - 1752 - 530


def test_of_an_offcut_more_than_twice_as_wide_as_full_width_three_leftovers_may_count_as_full() -> None:
    # Full width is 1.96 m. Of the offcut, worth 280.72, a lane of 2.51 m leaves 1.96 × 1.4 m beside the piece, 28.53,
    # and 2.51 × 3.8 m behind it, 114.42; beside the lane 1.99 × 5.2 m are left, 124.14.
    request = problem(
        [job("J1", "550x1400")], [item("T1", "4500x5200", pence=1333)], [rolls("2000x10000", 20_000)], FREE_CUTS
    )
    assert proven(request).net_cost_pence == 28_072 - 2853 - 11_442 - 12_414


@pytest.mark.parametrize("bought", [False, True])
def test_a_lane_is_just_as_wide_as_full_width_though_no_other_size_calls_for_that(bought: bool) -> None:
    """All widths but full width, 1.96 m, are whole steps of 50 mm."""
    stock = [] if bought else [item("T1", "4000x3700")]
    offers = [rolls("2000x10000", 20_000), *([cut_lengths("4000x3700", 4000)] if bought else [])]
    instance = build_instance(problem([job("J1", "1950x1900")], stock, offers, FREE_CUTS), "G30")
    source = max((s for s in instance.sources if s.width_mm == 4000), key=lambda s: s.length_mm)
    piece = PieceType(source.batch, 1950, 1900, frozenset({0, 1} if bought else ()))
    # Beside a lane of 1.96 m, which leaves 1.96 × 1.8 m behind the piece, 2.04 × 3.7 m are left, all of full width.
    kept = instance.worth(source, 1960, 1800, tail=False) + instance.worth(source, 2040, 3700, tail=False)
    assert kept == 2857 + 6793
    worth = [p.value for pricer in Pricers(instance).each for p in pricer.price({piece: 1.0}) if p.source == source]
    assert worth == [pytest.approx(1.0 + kept)]
