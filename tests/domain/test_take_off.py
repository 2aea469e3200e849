"""The take-off against worked examples and sums done by hand; property tests for what is rounded and packed."""

from __future__ import annotations

from dataclasses import replace

import pytest
import sample_lawns
from hypothesis import given
from hypothesis import strategies as st

from stockplan.domain.jobs import Strip
from stockplan.domain.materials import Material, TakeOffSettings, pack_sizes
from stockplan.domain.surfaces import (
    Ground,
    Slope,
    Surface,
    along_slope,
    side_by_side_seams_mm,
    slope_length_mm,
    surfaces_of,
)
from stockplan.domain.take_off import (
    NOT_WORKED_OUT,
    SEAMS_ASSUMED,
    STRIPS_ALONE,
    laid_membrane,
    membrane_strips,
    rolls_of,
    take_off,
    together,
)

USUAL = TakeOffSettings()
TEN_BY_SIX = Ground("back", 60_000_000, 32_000, 0, 6_000, 10_000)
STRIPS = (Strip("A", 4000, 10_000), Strip("B", 2000, 10_000))


def ten_by_six(settings: TakeOffSettings = USUAL):
    return take_off("J1", [Surface(TEN_BY_SIX, STRIPS, 10_000)], settings)


def test_a_lawn_of_10_by_6_metres() -> None:
    """10 × 6 m from rolls of 4 and 2 m, as layers work it (common practice): 60 m², 10 m of seam, 107 fixings."""
    made = ten_by_six()
    assert (made.grass_mm2, made.lawn_mm2, made.waste_mm2) == (60_000_000, 60_000_000, 0)
    assert (made.seam_mm, made.edge_mm) == (10_000, 32_000)
    fixings = made.need(Material.FIXINGS)
    assert fixings is not None
    assert fixings.most == 107  # 32 / 0.30 = 106.7
    plain = ten_by_six(replace(USUAL, tape_extra_percent=0)).need(Material.TAPE)
    assert plain is not None
    assert plain.most == 10_000


def test_the_rest_of_that_lawn_by_hand() -> None:
    """Each sum done by hand from the settings: 10 m of seam, 32 m of edge, 60 m²."""
    amounts = {need.material: (need.least, need.most, need.packs_least, need.packs_most) for need in ten_by_six().needs}
    assert amounts == {
        Material.TAPE: (10_500, 10_500, 1, 1),  # 10 × 1.05 m; rolls of 20 m
        Material.ADHESIVE: (3_500, 5_000, 1, 1),  # 0.35 and 0.5 kg a metre; tubs of 5 kg
        Material.EDGING: (33_600, 33_600, 12, 12),  # 32 × 1.05 m; 11.2 lengths of 3 m
        Material.FIXINGS: (107, 107, 2, 2),  # packs of 100
        Material.SAND: (360_000, 480_000, 15, 20),  # 6 and 8 kg/m²; 14.4 and 19.2 bags of 25 kg
        Material.STONE: (4_080_000, 4_080_000, 5, 5),  # 60 × 0.04 × 1,700 kg; 4.8 bags of 850 kg
        # 6 m wide: ceil(5.85 / 1.85) = 4 strips of 10.2 m, 40.8 m; 10 m wide: ceil(9.85 / 1.85) = 6 of 6.2 m, 37.2 m.
        Material.MEMBRANE: (37_200, 37_200, 1, 1),
    }


GEOTEXTILE = replace(
    USUAL, membrane_width_mm=4_500, membrane_roll_mm=100_000, membrane_lap_mm=1_200, membrane_end_mm=500
)


@pytest.mark.parametrize(("breadth", "run", "strips", "metres"), [(20_000, 40_000, 6, 243), (40_000, 20_000, 12, 246)])
def test_a_geotextile_suppliers_worked_example(breadth: int, run: int, strips: int, metres: int) -> None:
    """A supplier's article of 2014: 40 × 20 m, rolls of 4.5 × 100 m, overlap 1.2 m, 0.5 m more a strip; 3 rolls."""
    laid = laid_membrane(breadth, run, GEOTEXTILE)
    assert len(laid) == strips
    assert sum(laid) == metres * 1000
    assert rolls_of(laid, 100_000) == 3


def test_membrane_is_laid_the_way_that_takes_less() -> None:
    """The same example: 243 m beat 246 m, whichever way the lawn is turned."""
    for width, length in ((20_000, 40_000), (40_000, 20_000)):
        ground = Ground("back", width * length, 120_000, 0, width, length)
        assert sum(membrane_strips(ground, GEOTEXTILE)) == 243_000


def test_a_strip_of_membrane_longer_than_a_roll_is_lapped() -> None:
    """120 m out of rolls of 50 m lapped by 0.15 m: 50 + 50 + 20.3 + the end of 0.2 m."""
    assert laid_membrane(1_500, 120_000, USUAL) == (50_000, 50_000, 20_500)


@given(st.integers(1, 60_000), st.integers(1, 300_000))
def test_laid_membrane_covers_and_no_strip_could_be_spared(breadth: int, run: int) -> None:
    laid = laid_membrane(breadth, run, USUAL)
    lap, width = USUAL.membrane_lap_mm, USUAL.membrane_width_mm
    rows = sum(length < USUAL.membrane_roll_mm for length in laid) or len(laid)
    assert rows * (width - lap) + lap >= breadth
    assert rows == 1 or (rows - 1) * (width - lap) + lap < breadth
    joins = len(laid) - rows
    assert max(laid) <= USUAL.membrane_roll_mm
    assert len(laid) % rows == 0
    assert sum(laid) - joins * lap == rows * (run + USUAL.membrane_end_mm)


@given(st.lists(st.integers(1, 50_000), max_size=12))
def test_rolls_hold_their_strips(strips: list[int]) -> None:
    """No fewer rolls than their length needs, and never two that could be one."""
    rolls = rolls_of(strips, 50_000)
    assert rolls >= -(-sum(strips) // 50_000)
    assert 2 * sum(strips) > 50_000 * (rolls - 1)


def test_a_slope() -> None:
    """Textbook slope: run 30, rise 10, 100 wide: 31.62 m along it, 3,162 m²."""
    along = slope_length_mm(30_000, 10_000)
    assert round(along / 1000, 2) == 31.62
    assert round(along * 100_000 / 1_000_000) == 3162
    assert slope_length_mm(3_000, 4_000) == 5_000
    level = Surface(Ground("bank", 3_000_000_000, 260_000, 0, 100_000, 30_000), STRIPS, 0)
    steep = along_slope(level, Slope(10_000, 30_000))
    assert steep.ground is not None
    assert round(steep.ground.area_mm2 / 1e6) == 3162
    assert (steep.strips, steep.seam_mm) == (None, None), "cut level they would be too short"
    assert along_slope(level, Slope(0, 30_000)).ground == level.ground
    assert along_slope(Surface(None, STRIPS, None), Slope(10_000, 30_000)) == Surface(None, STRIPS, None)


def test_strips_alone_say_what_cannot_be_known() -> None:
    made = take_off("J2", [Surface(None, STRIPS, 10_000, seams_assumed=True)], USUAL)
    assert (made.grass_mm2, made.lawn_mm2, made.edge_mm, made.waste_mm2) == (60_000_000, None, None, None)
    assert [need.material for need in made.needs] == [Material.TAPE, Material.ADHESIVE, Material.SAND, Material.STONE]
    assert made.seam_mm == 10_000
    assert made.notes == (STRIPS_ALONE, SEAMS_ASSUMED)


def test_a_lawn_not_planned_yet_has_its_ground_but_no_grass() -> None:
    made = take_off("J3", [Surface(TEN_BY_SIX, None, None)], USUAL)
    assert (made.grass_mm2, made.lawn_mm2, made.seam_mm, made.edge_mm) == (None, 60_000_000, None, 32_000)
    assert made.need(Material.TAPE) is None
    assert made.need(Material.ADHESIVE) is None
    assert made.need(Material.FIXINGS) == ten_by_six().need(Material.FIXINGS)
    assert made.notes == (NOT_WORKED_OUT,)


def test_the_edge_of_a_hole_is_edged_too() -> None:
    holed = Ground("back", 59_000_000, 32_000, 4_000, 6_000, 10_000)
    made = take_off("J4", [Surface(holed, STRIPS, 10_000)], USUAL)
    assert made.edge_mm == 36_000
    assert made.waste_mm2 == 1_000_000


def test_seams_of_strips_alone_are_as_long_as_the_shorter_neighbour() -> None:
    strips = [Strip("A", 4000, 6200, 3), Strip("B", 1500, 5000)]
    assert side_by_side_seams_mm(strips) == 6200 + 6200 + 5000
    assert side_by_side_seams_mm([Strip("A", 4000, 6200)]) == 0


surfaces = st.builds(
    lambda width, length, seam: Surface(
        Ground("x", width * length, 2 * (width + length), 0, width, length), (Strip("A", width, length),), seam
    ),
    st.integers(300, 20_000),
    st.integers(300, 40_000),
    st.integers(0, 60_000),
)


@given(st.lists(surfaces, min_size=1, max_size=5))
def test_jobs_together_need_what_they_need_apart_and_never_more_packs(jobs: list[Surface]) -> None:
    apart = [take_off(f"J{number}", [surface], USUAL) for number, surface in enumerate(jobs)]
    sizes = pack_sizes(USUAL)
    for need in together(apart, USUAL):
        singles = [single for one in apart if (single := one.need(need.material))]
        assert need.least == sum(single.least for single in singles)
        assert need.most == sum(single.most for single in singles)
        if need.material is not Material.MEMBRANE:
            assert need.packs_most <= sum(single.packs_most for single in singles)
        assert need.packs_most * sizes[need.material] >= need.most
        assert need.packs_least <= need.packs_most


def test_surfaces_of_jobs_with_and_without_layouts() -> None:
    job, layout = sample_lawns.sample(sample_lawns.L_SHAPED, 180.0)
    (laid,), (bare,) = surfaces_of(job, layout), surfaces_of(job, None)
    assert laid.ground is not None
    assert (laid.ground.area_mm2, laid.ground.edge_mm) == (job.lawns[0].area_mm2, 36_400)
    assert (laid.ground.width_mm, laid.ground.length_mm) == (9_400, 8_800)
    assert laid.strips is not None
    assert sum(strip.area_mm2 for strip in laid.strips) == layout.area_cut_mm2
    assert laid.seam_mm == layout.seam_mm
    assert (bare.strips, bare.seam_mm) == (None, None)
    (loose,) = surfaces_of(replace(job, lawns=(), strips=STRIPS), None)
    assert loose == Surface(None, STRIPS, 10_000, seams_assumed=True)


def test_strips_listed_beside_measured_lawns_count_once() -> None:
    job, _ = sample_lawns.sample(sample_lawns.PLAIN)
    lawns = (*job.lawns, replace(job.lawns[0], label="front"))
    made = take_off("J5", surfaces_of(replace(job, lawns=lawns, strips=STRIPS), None), USUAL)
    assert (made.grass_mm2, made.lawn_mm2, made.seam_mm, made.edge_mm) == (60_000_000, 120_000_000, 10_000, 64_000)
    assert made.notes == (SEAMS_ASSUMED,)
