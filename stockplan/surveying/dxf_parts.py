"""What a drawing's model space holds, in blocks too: outlines, and notes of what is hidden or not read."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import shapely
from shapely.geometry import LineString

from stockplan.domain.units import MM_PER_M
from stockplan.surveying import dxf_curves
from stockplan.surveying.curves import Place
from stockplan.surveying.faults import FaultList, quoted
from stockplan.surveying.outlines import on_earth

OUTLINES = ("LWPOLYLINE", "POLYLINE", "CIRCLE", *dxf_curves.KINDS)
LINES = ("LINE", "ARC")
FILLED = ("HATCH", "MPOLYGON", "SOLID", "TRACE", "3DFACE", "MESH", "MLINE", "REGION", "BODY", "3DSOLID", "SURFACE")
OTHERS = ("WIPEOUT", "ACAD_PROXY_ENTITY")
MOST_NAMED = 5
MOST_DEEP = 20  # blocks within blocks
MOST_PARTS = 100_000  # in blocks, each as often as it stands there
MOST_GAPS = 10_000_000  # of an arc's radius, or drawing it would take for ever
XREF = 4 | 8  # flags of a block that stands for another file


@dataclass(frozen=True, slots=True)
class Part:
    """One outline as the drawing's library gives it.

    Parameters
    ----------
    entity
        With sizes and places of the model space.
    where
        What messages call it.
    layer
        The layer that it shows on.
    """

    entity: Any
    where: str
    layer: str


@dataclass(frozen=True, slots=True)
class _Block:
    """The block within which something is drawn."""

    name: str
    handle: str
    layer: str
    hidden: bool
    depth: int


class Parts:
    """Everything in a model space, sorted.

    Parameters
    ----------
    document
        As the drawing's library gives it.
    lost
        What that could not read.
    scale
        Millimetres in a unit of the drawing.
    gap
        How far pieces may lie off a curve, mm.
    faults
        Where to note blocks that cannot be read.
    """

    def __init__(self, document: Any, lost: Iterable[str], scale: float, gap: float, faults: FaultList) -> None:
        self.outlines: list[Part] = []
        self._scale, self._gap, self._faults = scale, gap, faults
        self._document = document
        self._hidden: Counter[str] = Counter()
        self._not_read: list[str] = list(lost)
        self._lines: list[LineString] = []
        self._room = MOST_PARTS
        self._walk(document.modelspace(), None)

    def notes(self) -> tuple[str, ...]:
        """Say what was left out, or not read though it may enclose ground."""
        told = []
        for layer, count in sorted(self._hidden.items()):
            outlines = f"{count} outline{'' if count == 1 else 's'} on layer {layer}"
            told.append(f"Left out, as switched off, frozen or invisible: {outlines}.")
        if self._not_read:
            more = len(self._not_read) - MOST_NAMED
            others = f" and {more} more" if more > 0 else ""
            told.append(f"Not read, though it may enclose ground: {', '.join(self._not_read[:MOST_NAMED])}{others}.")
        if loops := self._loops():
            named = ", ".join(f"({x / MM_PER_M:.2f}, {y / MM_PER_M:.2f})" for x, y in loops[:MOST_NAMED])
            more = len(loops) - MOST_NAMED
            others = f" and {more:,} more places" if more > 0 else ""
            told.append(
                f"Not read: lines and arcs that enclose ground, at {named}{others}; what is no grass there, or is a "
                "lawn, must be drawn closed."
            )
        return tuple(told)

    def _loops(self) -> list[Place]:
        """A place within each stretch of ground that lines and arcs enclose together."""
        if not self._lines:
            return []
        parts = shapely.get_parts(shapely.unary_union(self._lines)).tolist()
        within = (loop.representative_point() for loop in shapely.polygonize(parts).geoms)
        return sorted((place.x, place.y) for place in within)

    def _walk(self, entities: Iterable[Any], block: _Block | None) -> None:
        for entity in entities:
            if block is not None and not self._has_room():
                return
            kind = entity.dxftype()
            layer = entity.dxf.get("layer", "0")
            if block is not None and layer == "0":
                layer = block.layer
            within = f" in block {block.name}, INSERT {block.handle}," if block else f" {entity.dxf.handle}"
            where = f"{kind}{within} on layer {layer}"
            hidden = self._is_hidden(entity, layer) or (block is not None and block.hidden)
            if kind == "INSERT":
                self._insert(entity, layer, where, block)
            elif kind in OUTLINES and not _is_mesh(entity):
                if hidden:
                    self._hidden[layer] += 1
                elif kind != "ELLIPSE" or not self._is_arc(entity):
                    self.outlines.append(Part(entity, where, layer))
                else:
                    self._add_line(entity, where)
            elif kind in LINES and not hidden:
                self._add_line(entity, where)
            elif kind in (*FILLED, *OTHERS, "POLYLINE") and not hidden:
                self._not_read.append(where)

    def _has_room(self) -> bool:
        """Count one more thing in a block; note once when they are too many."""
        self._room -= 1
        if self._room == 0:
            right = f"at most {MOST_PARTS:,}; the lawns in a drawing of their own"
            self._faults.add("blocks of too many things", f"more than {MOST_PARTS:,}", right)
        return self._room > 0

    def _insert(self, entity: Any, layer: str, where: str, outer: _Block | None) -> None:
        depth = outer.depth + 1 if outer else 1
        handle = outer.handle if outer else entity.dxf.handle
        named = entity.block()
        if named is None or named.block.dxf.get("flags", 0) & XREF:
            self._not_read.append(f"{where}, whose block {entity.dxf.name} is not in the file")
            return
        if depth > MOST_DEEP or entity.mcount > self._room:
            found = "a block within itself, or too often repeated"
            self._faults.add(f"{where}: a block without end", found, "a block drawn once, of a few outlines")
            self._room = -1
            return
        state = self._document.layers.get(layer) if layer in self._document.layers else None
        gone = bool(entity.dxf.get("invisible", 0)) or (state is not None and state.is_frozen())
        block = _Block(entity.dxf.name, handle, layer, gone or (outer is not None and outer.hidden), depth)

        def skipped(part: Any, _: str) -> None:
            self._not_read.append(f"{part.dxftype()} in block {block.name}, INSERT {handle}, on layer {layer}")

        try:
            for one in entity.multi_insert() if entity.mcount > 1 else [entity]:
                self._walk(list(one.virtual_entities(skipped_entity_callback=skipped)), block)
        except (ValueError, ArithmeticError) as error:
            right = "a block scaled alike in both directions, or its outlines drawn by themselves"
            self._faults.add(f"{where}: a block that cannot be read", quoted(str(error)), right)

    def _is_hidden(self, entity: Any, layer: str) -> bool:
        state = self._document.layers.get(layer) if layer in self._document.layers else None
        return bool(entity.dxf.get("invisible", 0)) or (state is not None and (state.is_off() or state.is_frozen()))

    def _is_arc(self, entity: Any) -> bool:
        try:
            return not dxf_curves.closes(dxf_curves.drawn(entity, self._gap, self._scale))
        except dxf_curves.CurveFault:
            return False  # told as what is wrong with an outline

    def _add_line(self, entity: Any, where: str) -> None:
        along = _along(entity, self._gap / self._scale)
        if not along:
            self._not_read.append(where)
        places = [_rounded(place.x * self._scale, place.y * self._scale) for place in along]
        if len(set(places)) > 1 and all(on_earth(*place) for place in places):
            self._lines.append(LineString(places))


def _along(entity: Any, gap: float) -> list[Any]:
    """Places along a line or curve; none where it cannot be followed."""
    if entity.dxftype() == "LINE":
        return [entity.dxf.start, entity.dxf.end]
    if entity.dxftype() == "ARC" and not 0 < entity.dxf.radius <= MOST_GAPS * gap:
        return []
    try:
        return list(entity.flattening(gap))
    except (ValueError, ArithmeticError, RecursionError):
        return []


def _rounded(x: float, y: float) -> Place:
    """Ends that are drawn a hair apart meet."""
    return (float(round(x)), float(round(y))) if on_earth(x, y) else (x, y)


def _is_mesh(entity: Any) -> bool:
    return entity.dxftype() == "POLYLINE" and bool(entity.is_polygon_mesh or entity.is_poly_face_mesh)
