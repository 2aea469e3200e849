"""From the rows of the lawns sheet to lawns: corners to outlines, and what several rows say of one lawn."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from stockplan.domain.lawn import EdgeNote, Lawn, LawnPlace, Point
from stockplan.domain.survey import OutlineFault
from stockplan.store.sheet_faults import FaultLog, shown
from stockplan.store.sheet_rules import CheckedSheet

THOUSANDTHS = 1000  # of a degree
OutlineJudge = Callable[[Sequence[Point], Sequence[Sequence[Point]]], Sequence[OutlineFault]]
OF_THE_LAWN = ("place", "north", "unseen_from")
OF_A_SIDE = ("edge_name", "no_seam")


def no_judge(edge: Sequence[Point], holes: Sequence[Sequence[Point]]) -> Sequence[OutlineFault]:
    """Take every outline as sound."""
    del edge, holes
    return ()


@dataclass(slots=True)
class _Row:
    """One corner with its row number and what stands beside it."""

    row: int
    corner: int
    point: Point
    part: str
    cells: dict[str, Any]


@dataclass(slots=True)
class _Rings:
    """The rows of one lawn."""

    edge: list[_Row] = field(default_factory=list)
    holes: list[list[_Row]] = field(default_factory=list)
    by_name: dict[str, list[_Row]] = field(default_factory=dict)

    def add(self, row: _Row) -> None:
        """Take a corner: holes are told apart by name, or where their corners are counted anew."""
        name = row.cells["hole"]
        if row.part == "edge":
            self.edge.append(row)
        elif name is not None:
            if name not in self.by_name:
                self.by_name[name] = []
                self.holes.append(self.by_name[name])
            self.by_name[name].append(row)
        else:
            last = self.holes[-1] if self.holes else []
            if not last or last[0].cells["hole"] is not None or row.corner <= last[-1].corner:
                self.holes.append([])
            self.holes[-1].append(row)

    def all(self) -> list[list[_Row]]:
        """Every ring, the edge first."""
        return [self.edge, *self.holes]


def lawns_of(sheet: CheckedSheet, judge: OutlineJudge, faults: FaultLog) -> dict[str, tuple[Lawn, ...]]:
    """Put corners together to lawns, by job, in the order of the sheet; note what keeps them from being lawns.

    Parameters
    ----------
    sheet
        The lawns sheet with its cells read. Where some could not be, nothing more is said of their lawn.
    judge
        Says what is wrong with an outline.
    faults
        Where to note it.
    """
    lawns: dict[str, tuple[Lawn, ...]] = {}
    for (job, label), rings in _gathered(sheet).items():
        if rings is None:
            continue
        lawn = _lawn(label, rings, sheet, judge, faults)
        if lawn is not None:
            lawns[job] = (*lawns.get(job, ()), lawn)
    return lawns


def _gathered(sheet: CheckedSheet) -> dict[tuple[str, str], _Rings | None]:
    """Rows by job and lawn; None for a lawn with a row that could not be read."""
    found: dict[tuple[str, str], _Rings | None] = {}
    columns = list(sheet.frame.columns)
    for row, *values in sheet.frame.itertuples(name=None):
        cells = dict(zip(columns, values, strict=True))
        key = (cells["job"], cells["lawn"])
        needed = (cells["corner"], cells["x_m"], cells["y_m"], cells["part"])
        if None in key:
            continue
        if None in needed:
            found[key] = None
        rings = found.setdefault(key, _Rings())
        if rings is not None:
            point = Point(cells["x_m"], cells["y_m"])
            rings.add(_Row(row, cells["corner"], point, cells["part"], cells))
    return found


def _lawn(label: str, rings: _Rings, sheet: CheckedSheet, judge: OutlineJudge, faults: FaultLog) -> Lawn | None:
    def note(row: int, column: str, what: str, found: str, right: str) -> None:
        faults.add(sheet.raw.fault(row, column, what, found, right))
        noted.append(row)

    noted: list[int] = []
    for ring in rings.all():
        _check_corners(ring, note)
        ring.sort(key=lambda row: row.corner)
    if not rings.edge:
        note(rings.holes[0][0].row, "part", "a lawn without an edge", "only holes", "three rows or more with part edge")
    _check_parts(rings, note)
    said = _said_of_lawn(rings, note)
    if noted:
        return None
    edge, *holes = [tuple(row.point for row in ring) for ring in rings.all()]
    for fault in judge(edge, holes):
        row = rings.all()[fault.ring][fault.corner or 0]
        note(row.row, "corner", f"lawn {label}: {fault.what}", fault.found, fault.right)
    if noted:
        return None
    north = said.get("north")
    return Lawn(
        label,
        edge,
        tuple(holes),
        tuple(_edge_notes(rings)),
        said.get("place", LawnPlace.OTHER),
        None if north is None else north / THOUSANDTHS,
        None,
        said.get("unseen_from", ()),
    )


def _edge_notes(rings: _Rings) -> Iterator[EdgeNote]:
    for number, row in enumerate(rings.edge):
        if row.cells["edge_name"] or row.cells["no_seam"]:
            yield EdgeNote(number, row.cells["edge_name"] or "", bool(row.cells["no_seam"]))


Note = Callable[[int, str, str, str, str], None]


def _check_corners(ring: Sequence[_Row], note: Note) -> None:
    seen: dict[int, int] = {}
    for row in ring:
        earlier = seen.setdefault(row.corner, row.row)
        if earlier != row.row:
            found = f"{row.corner}, and in row {earlier}"
            note(row.row, "corner", "a corner's number given twice", found, "a number for each, as they were walked")
    if 0 < len(ring) < 3:
        first = min(ring, key=lambda row: row.corner)
        note(first.row, "corner", "an outline with too few corners", f"{len(ring)}", "three corners or more")


def _check_parts(rings: _Rings, note: Note) -> None:
    for row in rings.edge:
        if row.cells["hole"] is not None:
            note(row.row, "hole", "a hole's name on the edge", shown(row.cells["hole"]), "an empty cell, or part hole")
    for row in (row for hole in rings.holes for row in hole):
        for column in OF_A_SIDE:
            if row.cells[column]:
                found = shown(row.cells[column] if column == "edge_name" else "yes")
                note(row.row, column, "something said of a hole's side", found, "an empty cell, or part edge")


def _said_of_lawn(rings: _Rings, note: Note) -> dict[str, Any]:
    """What its rows say of the whole lawn; any of them may, and those that do must agree."""
    said: dict[str, Any] = {}
    rows = sorted((row for ring in rings.all() for row in ring), key=lambda row: row.row)
    for column in OF_THE_LAWN:
        for row in rows:
            value = row.cells[column]
            if value is not None and said.setdefault(column, value) != value:
                note(row.row, column, "not what another row of the lawn says", shown(_text(value)), _text(said[column]))
    return said


def _text(value: Any) -> str:
    if isinstance(value, tuple):
        return "; ".join(value)
    return f"{value / THOUSANDTHS:g}" if isinstance(value, int) else str(value)
