"""Candidate layouts: none better was dropped, each keeps the rules, and what the trade expects of simple lawns."""

from __future__ import annotations

import random
import time
from dataclasses import replace
from itertools import pairwise
from math import ceil, floor

import numpy as np
import pytest
import shapely
from every_way_to_lay import Way, every_way, fit_inside
from lawns import FOURS_AND_TWOS, SMALL_LAWNS, UP, job_with, rectangle, ring

from stockplan.bench.lawns import curve, curved_lawn_with_beds, random_lawn
from stockplan.cutting.strips import job_layouts, letter_of
from stockplan.cutting.strips_cut import Grass
from stockplan.cutting.strips_fit import fits_inside
from stockplan.cutting.strips_outline import Outline
from stockplan.domain.check_layout import check_layout
from stockplan.domain.lawn import EdgeNote, Lawn, LawnPlace, Point
from stockplan.domain.layout import LayoutSettings, SeamKind
from stockplan.domain.pile import PileKind, PileWish

SETTINGS = LayoutSettings()
NO_ALLOWANCE = LayoutSettings(end_mm=0, free_side_mm=0, selvedge_mm=0)


def way_of(layout) -> Way:
    pieces = tuple(sorted(((s.width_mm, s.length_mm) for s in layout.placed()), reverse=True))
    narrowest = min(SETTINGS.warn_narrow_mm, *(one.covers_mm for one in layout.placed()))
    return Way(layout.area_cut_mm2, layout.seam_mm, narrowest, pieces)


def no_worse(one: Way, other: Way) -> bool:
    """Seams in started tenths of a metre; the ends of each are rounded to the millimetre."""
    seams = -(-(other.seams + 6) // 100) * 100
    return one.area <= other.area and one.seams <= seams and one.narrowest >= other.narrowest


@pytest.mark.parametrize("name", SMALL_LAWNS)
def test_no_better_way_was_dropped(name: str) -> None:
    lawn = SMALL_LAWNS[name]
    kept = [way_of(layout) for layout in job_layouts(job_with(lawn), FOURS_AND_TWOS, SETTINGS, most=None)]
    ways = set(every_way(lawn, FOURS_AND_TWOS.rolls, SETTINGS))
    assert len(ways) >= 1
    for way in ways:
        assert any(no_worse(one, way) for one in kept), way
        for one in kept:
            better = no_worse(way, one) and way.area < one.area
            assert not (better and fit_inside(list(way.pieces), list(one.pieces))), (way, one)


@pytest.mark.parametrize("seed", range(8))
def test_random_lawns_are_laid_by_the_rules(seed: int) -> None:
    pick = random.Random(seed)
    lawn = random_lawn(pick)
    for wish in (UP, PileWish(PileKind.BEARING, bearing=pick.randint(1, 359) + 0.5), PileWish(PileKind.OPEN)):
        job = job_with(lawn, pile=wish)
        layouts = job_layouts(job, FOURS_AND_TWOS, SETTINGS)
        assert 1 <= len(layouts) <= 8
        assert [str(v) for one in layouts for v in check_layout(job, one, SETTINGS, FOURS_AND_TWOS.sizes)] == []
        assert layouts[0].area_cut_mm2 == min(one.area_cut_mm2 for one in layouts)
        assert [one.label for one in layouts] == [str(n) for n in range(1, len(layouts) + 1)]


AWKWARD = {
    "a field askew, with head seams": rectangle(60_000, 90_000),
    "in a national grid": Lawn(
        "back", tuple(Point(p.x_mm + 400_000_000, p.y_mm + 300_000_000) for p in rectangle(7000, 9000).edge)
    ),
    "a path": rectangle(250, 8000),
    "a spike": Lawn("back", ring((0, 0), (5000, 0), (5000, 4000), (2600, 4000), (2550, 9000), (2500, 4000), (0, 4000))),
    "a long garden that tapers": Lawn("back", ring((0, 0), (7500, 0), (3500, 28000), (0, 28000))),
    "a wedge whose tip lies on a border": Lawn(
        "back", ring((0, 0), (5000, 0), (5000, 3000), (3920, 4000), (7000, 5000), (7000, 9000), (0, 9000))
    ),
    "round a pond": Lawn("back", curve(6000, 6000, 48), (curve(3000, 3000, 24),)),
}


@pytest.mark.parametrize("name", AWKWARD)
def test_awkward_lawns_are_laid_by_the_rules(name: str) -> None:
    for bearing in (0.0, 33.3):
        job = job_with(AWKWARD[name], pile=PileWish(PileKind.BEARING, bearing=bearing))
        layouts = job_layouts(job, FOURS_AND_TWOS, SETTINGS)
        assert layouts
        assert [str(v) for one in layouts for v in check_layout(job, one, SETTINGS, FOURS_AND_TWOS.sizes)] == []


def test_a_run_that_leans_is_joined_where_no_stock_as_wide_as_the_whole_of_it_is_long_enough() -> None:
    grass = Grass((4000, 2000), ((4000, 12000), (2000, 25000)), 1000)
    job = job_with(Lawn("back", ring((0, 0), (1500, 0), (2000, 17000), (500, 17000))))
    layouts = job_layouts(job, grass, SETTINGS)
    assert any(len(list(one.placed())) == 2 for one in layouts)
    assert [str(v) for one in layouts for v in check_layout(job, one, SETTINGS, grass.sizes)] == []


def test_the_tip_of_a_blade_may_be_narrow_where_no_seam_runs_beside_it() -> None:
    grass = Grass((4000,), ((4000, 12000),), 1000)
    job = job_with(Lawn("back", ring((0, 0), (3640, 2246), (-712, 35703))))
    layouts = job_layouts(job, grass, SETTINGS)
    assert layouts
    assert [str(v) for one in layouts for v in check_layout(job, one, SETTINGS, grass.sizes)] == []


def test_no_head_seam_lies_between_two_parts_of_a_lawn_that_one_run_covers() -> None:
    corners = ((0, 0), (4729, 0), (4729, -30435), (16031, -30435), (16031, -32815), (0, -32815))
    grass = Grass((1000,), ((1000, 8000),), 500)
    job = job_with(Lawn("back", ring(*corners)), pile=PileWish(PileKind.BEARING, bearing=136.3))
    layouts = job_layouts(job, grass, SETTINGS)
    assert [str(v) for one in layouts for v in check_layout(job, one, SETTINGS, grass.sizes)] == []


# Longer than a roll of 25 m, so that a head seam lies 24.85 m from where the pile begins.
BESIDE_HEAD_SEAMS = {
    "a path up the middle, along a border": Lawn(
        "back",
        ring((0, 0), (8000, 0), (8000, 30000), (2700, 30000), (2700, 2000), (2000, 2000), (2000, 30000), (0, 30000)),
    ),
    "a bed that ends where a head seam lies": Lawn(
        "back",
        rectangle(3500, 30000).edge,
        (ring((1000, 20850), (2000, 20850), (2000, 24850), (1000, 24850)),),
    ),
    "a bed that begins there, as wide as the lane": Lawn(
        "back",
        rectangle(11000, 30000).edge,
        (ring((3000, 24850), (9000, 24850), (9000, 26000), (3000, 26000)),),
    ),
}


@pytest.mark.parametrize("name", BESIDE_HEAD_SEAMS)
def test_lawn_that_only_touches_a_strip_or_a_head_seam_is_none_of_it(name: str) -> None:
    job = job_with(BESIDE_HEAD_SEAMS[name])
    grass = Grass((4000,), ((4000, 25000),), 1000)
    layouts = job_layouts(job, grass, SETTINGS, most=None)
    assert any(seam.kind is SeamKind.HEAD for one in layouts for seam in one.seams())
    assert [str(v) for one in layouts for v in check_layout(job, one, SETTINGS, grass.sizes)] == []


def test_no_head_seam_joins_a_hair_of_lawn() -> None:
    hair = ((1001, 3000), (1001, 40000), (1000, 40000), (1000, 3000))
    job = job_with(Lawn("back", ring((0, 0), (2000, 0), (2000, 3000), *hair, (0, 3000))))
    assert not job_layouts(job, Grass((4000,), ((4000, 25000),), 1000), SETTINGS)


def test_the_quick_way_and_shapely_agree() -> None:
    tried = 0
    for seed in range(80):
        pick = random.Random(seed)
        outline = Outline(random_lawn(pick), pick.choice((0.0, 90.0, 33.3)))
        for _ in range(8):
            start, end = sorted(pick.sample(range(outline.left_mm, outline.right_mm + 1), 2))
            if outline.whole(np.array([start]), np.array([end]))[0]:
                tried += 1
                inside = shapely.intersection(outline.polygon, shapely.box(start, -1e6, end, 1e6))
                assert isinstance(inside, shapely.Polygon)
                x0, y0, x1, y1 = inside.bounds
                around = (floor(x0 + 1e-3), ceil(x1 - 1e-3), floor(y0 + 1e-3), ceil(y1 - 1e-3))
                assert outline.parts(start, end) == (around,)
    assert tried > 300


def test_ten_by_six_metres_without_allowances_is_one_four_and_one_two_metre_strip() -> None:
    """A worked example of the trade, from memory: 10 m by 6 m from 4 m and 2 m rolls is 60 m² and 10 m of tape."""
    layout = job_layouts(job_with(rectangle(6000, 10000)), FOURS_AND_TWOS, NO_ALLOWANCE)[0]
    assert sorted((s.width_mm, s.length_mm) for s in layout.placed()) == [(2000, 10000), (4000, 10000)]
    assert (layout.area_cut_mm2, layout.lawns[0].area_mm2, layout.seam_mm) == (60_000_000, 60_000_000, 10_000)


def test_geotextile_with_overlaps_takes_the_published_number_of_strips() -> None:
    """Supplier's article on geotextile, 2014, from memory: 40 m by 20 m, rolls 4.5 m wide, overlaps 1.2 m.

    Its strips lie 3.3 m apart, 6 of them along 40 m, 12 along 20 m. An overlap is a selvedge of 0.6 m on either side.
    """
    settings = LayoutSettings(end_mm=250, free_side_mm=0, selvedge_mm=600)
    grass = Grass((4500,), ((4500, 100_000),), 100)
    along, other = (
        job_layouts(job_with(rectangle(*size)), grass, settings)[0] for size in ((20000, 40000), (40000, 20000))
    )
    assert [len(list(one.placed())) for one in (along, other)] == [6, 12]
    assert {s.length_mm for s in along.placed()} == {40_500}


def test_a_wall_to_wall_run_longer_than_stock_gets_staggered_head_seams() -> None:
    grass = Grass((4000,), ((4000, 10_000),), 1000)
    job = job_with(rectangle(7000, 15000))
    layouts = job_layouts(job, grass, SETTINGS)
    assert layouts
    for layout in layouts:
        heads = [s for s in layout.seams() if s.kind is SeamKind.HEAD]
        assert len(heads) == 2
        assert abs(heads[0].along_from_mm - heads[1].along_from_mm) >= SETTINGS.head_stagger_mm
        assert all(1000 <= s.along_from_mm <= 14000 for s in heads)
        assert check_layout(job, layout, SETTINGS, grass.sizes) == ()
    assert not any(s.kind is SeamKind.HEAD for s in job_layouts(job, FOURS_AND_TWOS, SETTINGS)[0].seams())


def test_no_seam_comes_near_a_door() -> None:
    door = EdgeNote(1, "door", no_seam=True)
    lawn = Lawn("back", ring((0, 0), (2900, 0), (3900, 0), (6000, 0), (6000, 8000), (0, 8000)), notes=(door,))
    free = Lawn("back", lawn.edge)
    for layout in job_layouts(job_with(lawn), FOURS_AND_TWOS, SETTINGS):
        assert all(not 2600 < s.across_from_mm < 4200 for s in layout.seams())
    assert any(
        2600 < s.across_from_mm < 4200
        for one in job_layouts(job_with(free), FOURS_AND_TWOS, SETTINGS)
        for s in one.seams()
    )


def test_lawns_seen_together_lie_one_way_and_others_as_they_like() -> None:
    together = job_with(rectangle(3000, 9000, "a"), rectangle(9000, 3000, "b"), pile=None)
    for layout in job_layouts(together, FOURS_AND_TWOS, SETTINGS):
        assert len({lawn.bearing for lawn in layout.lawns}) == 1
    apart = replace(together, lawns=(together.lawns[0], replace(together.lawns[1], cannot_be_seen_with=("a",))))
    best = job_layouts(apart, FOURS_AND_TWOS, SETTINGS)[0]
    assert [lawn.bearing % 180 for lawn in best.lawns] == [0.0, 90.0]
    assert best.seam_mm == 0


def test_a_back_garden_lies_towards_the_house() -> None:
    lawn = replace(rectangle(5000, 4000), notes=(EdgeNote(2, "house"),), place=LawnPlace.BACK)
    layouts = job_layouts(job_with(lawn, pile=None), FOURS_AND_TWOS, SETTINGS)
    assert {one.lawns[0].bearing for one in layouts} == {0.0}
    assert not any(one.either_way for one in layouts)


def test_both_senses_of_an_axis_give_the_same_cuts() -> None:
    for name in ("an L", "a skew plot"):
        sizes = []
        for bearing in (0.0, 180.0):
            job = job_with(SMALL_LAWNS[name], pile=PileWish(PileKind.BEARING, bearing=bearing))
            best = job_layouts(job, FOURS_AND_TWOS, SETTINGS)[0]
            sizes.append(sorted((s.width_mm, s.length_mm) for s in best.placed()))
        assert sizes[0] == sizes[1]


def test_a_closing_strip_may_be_two_lanes_where_the_yard_has_narrow_grass() -> None:
    grass = Grass((4000,), ((4000, 25000), (1500, 25000)), 1000)
    halves = [
        one
        for one in job_layouts(job_with(rectangle(6400, 9000)), grass, SETTINGS, most=None)
        if len(list(one.placed())) == 3
    ]
    assert any(sum(s.width_mm <= 1500 for s in one.placed()) == 2 for one in halves)


def test_settings_of_nothing_are_kept() -> None:
    none = LayoutSettings(0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0)
    for lawn in SMALL_LAWNS.values():
        job = job_with(lawn)
        layouts = job_layouts(job, FOURS_AND_TWOS, none)
        assert layouts
        assert [str(v) for one in layouts for v in check_layout(job, one, none, FOURS_AND_TWOS.sizes)] == []


def test_nothing_is_laid_that_the_rules_forbid() -> None:
    narrow_only = Grass((500,), ((500, 9000),), 1000)
    assert (
        job_layouts(
            job_with(rectangle(3000, 5000)), narrow_only, replace(SETTINGS, least_narrow_mm=450, warn_narrow_mm=500)
        )
        == ()
    )


def test_lanes_meet_and_run_from_edge_to_edge() -> None:
    for lawn in SMALL_LAWNS.values():
        for layout in job_layouts(job_with(lawn), FOURS_AND_TWOS, SETTINGS):
            borders = layout.lawns[0].borders
            assert all(a < b for a, b in pairwise(borders))
            assert (borders[0], borders[-1]) == (min(p.x_mm for p in lawn.edge), max(p.x_mm for p in lawn.edge))


def test_fitting_inside_against_trying_every_match() -> None:
    pick = random.Random(3)
    for _ in range(500):
        some = [(pick.randint(1, 6), pick.randint(1, 6)) for _ in range(pick.randint(0, 4))]
        others = [(pick.randint(1, 6), pick.randint(1, 6)) for _ in range(pick.randint(0, 5))]
        assert fits_inside(some, others) == fit_inside(some, others)


def test_letters() -> None:
    assert [letter_of(n) for n in (0, 25, 26, 27, 51, 52, 701, 702)] == ["A", "Z", "AA", "AB", "AZ", "BA", "ZZ", "AAA"]


def test_a_lawn_of_two_hundred_corners_and_ten_beds_is_laid_out_in_a_second() -> None:
    """Generous, since other work may run beside; `python -m stockplan.bench.layouts --speed 1000` gives the figure."""
    job = job_with(curved_lawn_with_beds(200, 10))
    began = time.process_time()
    layouts = job_layouts(job, FOURS_AND_TWOS, SETTINGS)
    assert time.process_time() - began < 3
    assert layouts
    assert check_layout(job, layouts[0], SETTINGS, FOURS_AND_TWOS.sizes) == ()


@pytest.mark.parametrize("most", [2, 4, 7, 8])
def test_of_every_direction_a_way_is_kept(most: int) -> None:
    """What comes too late or is too short for strips of 20 m may do for those of 14 m."""
    pitch = replace(job_with(rectangle(20_000, 14_000)), pile=PileWish(PileKind.OPEN))
    ways = job_layouts(pitch, FOURS_AND_TWOS, SETTINGS, most)
    assert len(ways) == most
    assert {lawn.bearing for way in ways for lawn in way.lawns} == {0.0, 90.0}
