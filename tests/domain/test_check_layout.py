"""The checker of layouts: it agrees with shapely, passes sound layouts, and notices a layout wrong by a centimetre."""

from __future__ import annotations

import cmath
import random
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
import shapely

from stockplan.cutting.strips import job_layouts
from stockplan.cutting.strips_cut import Grass
from stockplan.domain.check_layout import check_layout
from stockplan.domain.check_layout_geometry import (
    area_within,
    distance,
    lawn_on_both_sides,
    longest_outside,
    turned_outline,
)
from stockplan.domain.jobs import BatchRule, Job
from stockplan.domain.lawn import EdgeNote, Lawn, Point
from stockplan.domain.layout import LayoutSettings, SeamKind
from stockplan.domain.pile import PileKind, PileWish

SETTINGS = LayoutSettings()
GRASS = Grass((4000, 2000), ((4000, 9000), (2000, 25000)), 1000)


def star(pick: random.Random, corners: int = 9) -> Lawn:
    """An outline that turns back on itself, with a bed in the middle."""
    rays = sorted(pick.uniform(0, 6.283) for _ in range(corners))
    centre = complex(pick.randint(-500, 500), 3000)
    edge = []
    for angle in rays:
        out = centre + pick.randint(2500, 6000) * cmath.rect(1, angle)
        edge.append(Point(round(out.real), round(out.imag)))
    lawn = Lawn("back", tuple(edge))
    bed = tuple(Point(round(centre.real) + x, 3000 + y) for x, y in ((-90, -70), (80, -60), (70, 110)))
    whole = shapely.Polygon(edge)
    return replace(lawn, holes=(bed,)) if whole.is_valid and whole.contains(shapely.Polygon(bed)) else lawn


def test_areas_within_rectangles_against_shapely() -> None:
    tried = 0
    for seed in range(300):
        pick = random.Random(seed)
        lawn = star(pick)
        polygon = shapely.Polygon(lawn.edge, lawn.holes)
        if not polygon.is_valid:
            continue
        tried += 1
        across = sorted(pick.sample(range(-6000, 6000), 2))
        along = sorted(pick.sample(range(-3000, 9000), 2))
        right = shapely.intersection(polygon, shapely.box(across[0], along[0], across[1], along[1])).area
        found = area_within(turned_outline(lawn, 0.0), (across[0], across[1]), (along[0], along[1]))
        assert found == pytest.approx(right, abs=1e-3)
    assert tried > 100


def test_lines_and_distances_against_shapely() -> None:
    pick = random.Random(5)
    for _ in range(200):
        ends = [(pick.uniform(-5, 5), pick.uniform(-5, 5)) for _ in range(4)]
        right = shapely.distance(shapely.LineString(ends[:2]), shapely.LineString(ends[2:]))
        assert distance((ends[0], ends[1]), (ends[2], ends[3])) == pytest.approx(right)
    lawn = Lawn(
        "back", tuple(Point(x, y) for x, y in ((0, 0), (6000, 0), (6000, 3000), (2000, 3000), (2000, 5000), (0, 5000)))
    )
    outline = turned_outline(lawn, 0.0)
    assert [(round(a), round(b)) for a, b in lawn_on_both_sides(outline, 0, 2000)] == [(0, 3000)]
    assert [(round(a), round(b)) for a, b in lawn_on_both_sides(outline, 1, 3000)] == [(0, 2000)]
    assert lawn_on_both_sides(outline, 0, 6000) == []


ALMOST_ALONG = {
    "a comb askew": (
        "12345 -6789, 7992 -1559, 7446 -2013, 7600 -2198, 3328 -5754, 4481 -7252, 8808 -3650, 9330 -4277, 5199 -7716, "
        "6009 -8754, 10172 -5288, 10744 -5976, 6591 -9433, 6973 -9941, 11151 -6464, 11463 -6840, 8061 -9671, "
        "8293 -10162",
        Grass((5000, 4000), ((4000, 30000), (5000, 12000)), 900),
    ),
    "two wings askew": (
        "0 0, -1972 13540, -5847 12975, -5647 11600, -19678 9556, -19135 4127, -4862 6206, -4359 2751, -16225 1023, "
        "-15853 -2308",
        Grass((3970, 2000), ((1230, 3000), (2000, 25000), (3970, 24800), (3100, 6000)), 800),
    ),
}


@pytest.mark.parametrize("name", ALMOST_ALONG)
def test_an_edge_almost_along_a_seam_makes_no_sound_layout_unsound(name: str) -> None:
    corners, grass = ALMOST_ALONG[name]
    lawn = Lawn("back", tuple(Point(*map(int, corner.split())) for corner in corners.split(", ")))
    job = Job("J1", "", "G30", date(2026, 12, 1), "", BatchRule.ONE, (), (lawn,), PileWish(PileKind.OPEN))
    layouts = job_layouts(job, grass, SETTINGS)
    assert layouts
    assert [str(v) for one in layouts for v in check_layout(job, one, SETTINGS, grass.sizes)] == []


def test_how_much_of_some_stretches_lies_outside_others() -> None:
    assert longest_outside([(0, 10)], [(0, 3), (5, 10)]) == 2
    assert longest_outside([(0, 10), (20, 30)], [(8, 12), (1, 9), (21, 27)]) == 3
    assert longest_outside([(0, 10)], [(-5, 4), (4, 15)]) == 0
    assert longest_outside([(0, 10)], []) == 10


def sound_cases():
    """Layouts of an L with a door, one of them with head seams."""
    corners = ((0, 0), (7000, 0), (7000, 4000), (3000, 4000), (3000, 12000), (0, 12000))
    notes = (EdgeNote(4, "door", no_seam=True),)
    lawn = Lawn("back", tuple(Point(x, y) for x, y in corners), notes=notes)
    wish = PileWish(PileKind.BEARING, bearing=0.0)
    job = Job("J1", "", "G30", date(2026, 12, 1), "", BatchRule.ONE, (), (lawn,), wish)
    return job, job_layouts(job, GRASS, SETTINGS)


def test_sound_layouts_pass_and_some_have_head_seams() -> None:
    job, layouts = sound_cases()
    assert layouts
    assert any(seam.kind is SeamKind.HEAD for one in layouts for seam in one.seams())
    for one in layouts:
        assert check_layout(job, one, SETTINGS, GRASS.sizes) == ()
        lawn = shapely.Polygon(job.lawns[0].edge)
        covered = shapely.union_all([shapely.Polygon(one.lawns[0].corners(strip)) for strip in one.placed()])
        assert shapely.difference(lawn, covered).area == pytest.approx(0, abs=1)


def changed(layout, **changes):
    return replace(layout, lawns=(replace(layout.lawns[0], **changes), *layout.lawns[1:]))


@pytest.mark.parametrize(
    "name", ["across_from_mm", "across_to_mm", "along_from_mm", "along_to_mm", "width_mm", "length_mm"]
)
@pytest.mark.parametrize("by", [-10, 10])
def test_a_strip_wrong_by_a_centimetre_is_noticed(name: str, by: int) -> None:
    job, layouts = sound_cases()
    for layout in layouts:
        strips = layout.lawns[0].strips
        for at, strip in enumerate(strips):
            wrong = replace(strip, **{name: getattr(strip, name) + by})
            broken = changed(layout, strips=(*strips[:at], wrong, *strips[at + 1 :]))
            assert check_layout(job, broken, SETTINGS), (layout.label, strip.name)


@pytest.mark.parametrize("by", [-10, 10])
@pytest.mark.parametrize(
    ("place", "size"), [("across_from_mm", "width_mm"), ("across_to_mm", "width_mm"), ("along_to_mm", "length_mm")]
)
def test_a_strip_laid_and_cut_wrong_alike_is_noticed(place: str, size: str, by: int) -> None:
    job, layouts = sound_cases()
    for layout in layouts:
        strips = layout.lawns[0].strips
        for at, strip in enumerate(strips):
            more = -by if place.endswith("from_mm") else by
            wrong = replace(strip, **{place: getattr(strip, place) + by, size: getattr(strip, size) + more})
            broken = changed(layout, strips=(*strips[:at], wrong, *strips[at + 1 :]))
            assert check_layout(job, broken, SETTINGS), (layout.label, strip.name)


def test_what_else_is_noticed() -> None:
    job, layouts = sound_cases()
    with_heads = next(one for one in layouts if any(s.kind is SeamKind.HEAD for s in one.seams()))
    laid = with_heads.lawns[0]
    broken = {
        "strip missing": (job, changed(with_heads, strips=laid.strips[1:]), SETTINGS),
        "seam twice": (job, changed(with_heads, seams=(laid.seams[0], *laid.seams)), SETTINGS),
        "seam missing": (job, changed(with_heads, seams=laid.seams[1:]), SETTINGS),
        "seam moved": (
            job,
            changed(
                with_heads,
                seams=(replace(laid.seams[0], along_from_mm=laid.seams[0].along_from_mm + 10), *laid.seams[1:]),
            ),
            SETTINGS,
        ),
        "border moved": (
            job,
            changed(with_heads, borders=(laid.borders[0], laid.borders[1] + 10, *laid.borders[2:])),
            SETTINGS,
        ),
        "another direction": (job, changed(with_heads, bearing=180.0), SETTINGS),
        "another area": (job, changed(with_heads, area_mm2=laid.area_mm2 + 1), SETTINGS),
        "seam cost": (job, replace(with_heads, seam_cost_pence=with_heads.seam_cost_pence + 1), SETTINGS),
        "letters": (job, changed(with_heads, strips=tuple(replace(s, label="A") for s in laid.strips)), SETTINGS),
        "numbers": (job, changed(with_heads, strips=tuple(replace(s, number=7) for s in laid.strips)), SETTINGS),
        "no lawn": (job, replace(with_heads, lawns=()), SETTINGS),
        "roll": (job, changed(with_heads, strips=tuple(replace(s, roll_width_mm=500) for s in laid.strips)), SETTINGS),
        "more beyond an end": (job, with_heads, replace(SETTINGS, end_mm=110)),
        "more beyond a side": (job, with_heads, replace(SETTINGS, free_side_mm=60)),
        "more selvedge": (job, with_heads, replace(SETTINGS, selvedge_mm=40)),
        "more at head seams": (job, with_heads, replace(SETTINGS, head_trim_mm=60)),
        "wider strips": (job, with_heads, replace(SETTINGS, least_narrow_mm=5000, warn_narrow_mm=5000)),
        "head seams further from ends": (job, with_heads, replace(SETTINGS, head_from_end_mm=6000)),
        "seams further from the door": (job, with_heads, replace(SETTINGS, no_seam_distance_mm=4000)),
        "dearer seams": (job, with_heads, replace(SETTINGS, seam_pence_per_m=700)),
    }
    for name, (asked, layout, settings) in broken.items():
        assert check_layout(asked, layout, settings), name
    assert check_layout(job, with_heads, SETTINGS, [(4000, 25000), (2000, 25000)]), (
        "joined though longer grass is there"
    )
    assert check_layout(job, with_heads, SETTINGS, [(1000, 25000)]), "fits nothing"


def test_turning_lawns_seen_together_apart_is_noticed() -> None:
    job, _ = sound_cases()
    other = replace(job.lawns[0], label="side", notes=())
    both = replace(job, lawns=(replace(job.lawns[0], notes=()), other), pile=PileWish(PileKind.OPEN))
    layout = job_layouts(both, GRASS, SETTINGS)[0]
    assert check_layout(both, layout, SETTINGS, GRASS.sizes) == ()
    turned = replace(
        layout, lawns=(layout.lawns[0], replace(layout.lawns[1], bearing=(layout.lawns[1].bearing + 180) % 360))
    )
    assert any("seen together" in str(v) for v in check_layout(both, turned, SETTINGS))


def test_it_shares_no_code_with_what_lays_out() -> None:
    folder = Path(__file__).parents[2] / "stockplan" / "domain"
    for path in folder.glob("check_layout*.py"):
        text = path.read_text(encoding="utf-8")
        assert "cutting" not in text
        assert "shapely" not in text
