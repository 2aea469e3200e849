"""Ellipses and splines of a drawing as straight pieces that never leave grass out."""

from __future__ import annotations

from collections.abc import Sequence
from math import dist, hypot, remainder, tau
from typing import Any

from shapely.geometry import Polygon

from stockplan.surveying.curves import ROUNDING_MM, Place
from stockplan.surveying.outlines import FURTHEST_MM, on_earth

KINDS = ("ELLIPSE", "SPLINE")
LEAST_PIECES = 16  # of an ellipse, and between two knots of a spline: a bend both ways is not taken for straight
FINE, COARSE = 0.1, 0.25  # shares of the gap: for the pieces first drawn, and for leaving out corners among them
MEET_MM = 0.5  # ends nearer than this are one
FLAT = 0.05  # a rise of so much of the size is a plan seen askew, or a slope


class CurveFault(ValueError):
    """Raised where a curve cannot be drawn; says why."""


def drawn(entity: Any, gap: float, scale: float) -> list[Place]:
    """Draw an ellipse or a spline, or an arc of one, by places on it.

    Parameters
    ----------
    entity
        As the drawing's library gives it.
    gap
        How far pieces may lie off it in the end, mm; positive.
    scale
        Millimetres in a unit of the drawing.

    Raises
    ------
    CurveFault
        When it is no curve, or lies askew.
    """
    shape = [(x * scale, y * scale, z * scale) for x, y, z in _frame(entity)]
    if not shape or not all(on_earth(x, y) and dist((x, y, z), shape[0]) <= FURTHEST_MM for x, y, z in shape):
        raise CurveFault("a place that is no number, or too far away for one")
    try:
        found = [
            (place.x * scale, place.y * scale, place.z * scale)
            for place in _whole(entity).flattening(FINE * gap / scale, LEAST_PIECES)
        ]
    except (ValueError, ArithmeticError, RecursionError, IndexError, TypeError) as error:
        raise CurveFault("a curve that cannot be drawn") from error
    if not found or not all(on_earth(x, y) for x, y, _ in found):
        raise CurveFault("a curve without end")
    low, high = (tuple(side(axis) for axis in zip(*found, strict=True)) for side in (min, max))
    if high[2] - low[2] > FLAT * hypot(high[0] - low[0], high[1] - low[1]):
        raise CurveFault("a tilted plane")
    return [(x, y) for x, y, _ in found]


def closes(places: Sequence[Place]) -> bool:
    """Whether a drawn curve comes back to where it began."""
    return len(places) > 2 and dist(places[0], places[-1]) <= MEET_MM


def held(places: Sequence[Place], gap: float, *, outside: bool) -> list[Place]:
    """Draw a closed curve by few corners on the safe side of it, also after rounding to whole millimetres.

    Parameters
    ----------
    places
        As `drawn` gives them.
    gap
        How far pieces may lie off it, mm, rounding aside; positive.
    outside
        True for a lawn, False for a hole in one.
    """
    true = Polygon(places)
    if not true.is_valid:
        return list(places)  # crosses itself, which is told of it
    away = (FINE + COARSE) * gap + ROUNDING_MM
    safe = true.simplify(COARSE * gap).buffer(away if outside else -away, join_style="mitre")
    if not isinstance(safe, Polygon) or safe.is_empty:
        return list(places)
    return [(x, y) for x, y, *_ in safe.exterior.coords[:-1]]


def _whole(entity: Any) -> Any:
    """The curve as it is drawn: an ellipse may begin anywhere on its way round, and say so by any number of turns."""
    tool = entity.construction_tool()
    if entity.dxftype() == "ELLIPSE" and abs(remainder(tool.end_param - tool.start_param, tau)) < 1e-9:
        tool.start_param, tool.end_param = 0.0, tau
    return tool


def _frame(entity: Any) -> list[tuple[float, float, float]]:
    """Places that a curve lies among."""
    if entity.dxftype() == "ELLIPSE":
        centre, reach = entity.dxf.center, entity.dxf.major_axis
        return [centre.xyz, (centre + reach).xyz, (centre - reach).xyz]
    return [(float(x), float(y), float(z)) for x, y, z in (*entity.control_points, *entity.fit_points)]
