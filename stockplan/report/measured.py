"""Lawns as they were measured in: each with its sides and what its measurements say, and lists of lawns."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal

from stockplan.domain.jobs import Job
from stockplan.domain.lawn import Lawn, lawn_words, perimeter
from stockplan.domain.measured import Measured, Misclosure, OffsetAreas, TapeResult
from stockplan.domain.pile_direction import PileDirection, job_wish, pile_doubts, pile_groups
from stockplan.domain.units import MM2_PER_M2, metres
from stockplan.report.columns import in_columns
from stockplan.report.json_text import json_document
from stockplan.report.words import counted, printable

MOST_SIDES = 24  # listed one by one; outlines with more have curves


def measured_text(measured: Measured) -> str:
    """Tell one lawn in lines: area, perimeter, sides, and how far its measurements agree."""
    lawn = measured.lawn
    name = f"L{lawn_words(lawn.label)[1:]}"
    lines = [f"{name}: {_area(lawn.area_mm2)}, perimeter {metres(lawn.perimeter_mm)} m, {_corners(lawn)}."]
    if lawn.holes:
        left_out = sum(round(abs(hole_area)) for hole_area in map(_ring_area, lawn.holes))
        around = metres(lawn.holes_perimeter_mm)
        lines.append(f"{counted(len(lawn.holes), 'hole')} left out, {_area(left_out)}, {around} m round.")
    lines += _sides(lawn)
    if measured.misclosure is not None:
        lines += _walk(measured.misclosure)
    if measured.tapes:
        lines += ["", _tapes(measured.tapes), ""]
    if measured.areas is not None:
        lines.append(_offsets(measured.areas))
    lines += measured.said
    return "\n".join(printable(line) if "\n" not in line else line for line in lines)


def pile_text(job: Job) -> str:
    """Tell which way the pile will lean over a job's lawns, and why."""
    lines = []
    for group in pile_groups(job.lawns, job_wish(job)):
        names = ", ".join(lawn.label for lawn in group.lawns)
        lines.append(printable(f"Pile over {names}: {_direction(group.direction)}."))
    lines += [printable(f"Look again: {doubt}.") for doubt in pile_doubts(job.lawns, job_wish(job))]
    return "\n".join(lines)


def lawn_list(jobs: Sequence[Job]) -> str:
    """List the lawns of jobs, in the order of the jobs."""
    headings = ("job", "lawn", "place", "m²", "perimeter", "corners", "holes", "named sides", "pile")
    rows = [
        (
            job.code,
            lawn.label,
            lawn.place.value,
            f"{lawn.area_mm2 / MM2_PER_M2:.2f}",
            metres(lawn.perimeter_mm),
            str(len(lawn.edge)),
            str(len(lawn.holes)),
            ", ".join(dict.fromkeys(note.name for note in lawn.notes if note.name)),
            _direction(direction),
        )
        for job, lawn, direction in _lawns(jobs)
    ]
    area = _area(sum(lawn.area_mm2 for _, lawn, _ in _lawns(jobs)))
    summary = f"{counted(len(rows), 'lawn')}, {area}"
    if not rows:
        return summary
    return f"{in_columns(headings, rows, right=('m²', 'perimeter', 'corners', 'holes'))}\n\n{summary}"


def lawns_json(jobs: Sequence[Job]) -> str:
    """Print lawns as JSON: whole millimetres, areas in square millimetres."""
    lawns = [
        {
            "job": job.code,
            "lawn": lawn.label,
            "place": lawn.place.value,
            "north": _degrees(lawn.y_bearing),
            "area_mm2": lawn.area_mm2,
            "perimeter_mm": lawn.perimeter_mm,
            "edge": [list(point) for point in lawn.edge],
            "holes": [[list(point) for point in hole] for hole in lawn.holes],
            "sides": [{"side": note.number + 1, "name": note.name, "no_seam": note.no_seam} for note in lawn.notes],
            "unseen_from": list(lawn.cannot_be_seen_with),
            "pile": {"bearing": _degrees(direction.bearing), "either_way": direction.either_way, "why": direction.why},
        }
        for job, lawn, direction in _lawns(jobs)
    ]
    return json_document({"format": "stockplan-lawns", "version": 1, "lawns": lawns})


def _degrees(bearing: float | None) -> Decimal | None:
    return None if bearing is None else Decimal(f"{bearing:.3f}").normalize()


def _lawns(jobs: Sequence[Job]) -> Iterator[tuple[Job, Lawn, PileDirection]]:
    for job in jobs:
        groups = pile_groups(job.lawns, job_wish(job))
        directions = {lawn.label: group.direction for group in groups for lawn in group.lawns}
        for lawn in job.lawns:
            yield job, lawn, directions[lawn.label]


def _ring_area(ring: Sequence[tuple[int, int]]) -> float:
    following = [*ring[1:], ring[0]]
    return sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in zip(ring, following, strict=True)) / 2


def _area(square_millimetres: int) -> str:
    return f"{square_millimetres / MM2_PER_M2:.2f} m²"


def _corners(lawn: Lawn) -> str:
    return counted(len(lawn.edge), "corner")


def _direction(direction: PileDirection) -> str:
    if direction.bearing is None:
        return "open; the planner picks the axis"
    way = "either way on" if direction.either_way else "bearing"
    bearing = f"{direction.bearing:.1f}".removesuffix(".0")
    return f"{direction.why}; {way} {bearing}°"


def _sides(lawn: Lawn) -> Iterator[str]:
    notes = {note.number: note for note in lawn.notes}
    numbers = range(len(lawn.edge)) if len(lawn.edge) <= MOST_SIDES else sorted(notes)
    words = []
    for number in numbers:
        length = metres(perimeter(lawn.side(number)) // 2)
        note = notes.get(number)
        said = "" if note is None else ", ".join(filter(None, [note.name, "no seam" if note.no_seam else ""]))
        words.append(f"{number + 1}  {length} m{'  ' + said if said else ''}")
    if words:
        yield "Sides:"
        yield from (f"  {word}" for word in words)


def _walk(missed: Misclosure) -> Iterator[str]:
    if missed.linear_mm < 1 and not round(missed.turns_degrees or 0.0, 1):
        yield "The walk closes."
        return
    yield f"The walk missed its start by {missed}; spread over the legs as their lengths."
    turns = "" if missed.turns_degrees is None else f" and {missed.allowed_degrees:.1f} degrees"
    yield f"Up to {metres(round(missed.allowed_mm))} m{turns} is spread without measuring again."


def _tapes(tapes: Sequence[TapeResult]) -> str:
    headings = ("tape", "read, m", "adjusted by, mm", "in standard errors")
    rows = [
        (
            tape.name,
            metres(tape.read_mm),
            f"{tape.residual_mm:+.0f}",
            "not checked" if tape.standardized is None else f"{abs(tape.standardized):.1f}",
        )
        for tape in tapes
    ]
    return in_columns(headings, rows, right=headings[1:])


def _offsets(areas: OffsetAreas) -> str:
    trapezoidal = f"{areas.trapezoidal_mm2 / MM2_PER_M2:.2f} m² by the trapezoidal rule"
    if areas.simpson_mm2 is None or areas.apart is None:
        return f"Offsets: {trapezoidal}; Simpson's rule needs three offsets or more at equal distances."
    simpson = f"{areas.simpson_mm2 / MM2_PER_M2:.2f} m² by Simpson's"
    closer = (
        " Measure offsets closer together: the curve lies off the straight pieces." if abs(areas.apart) > 0.02 else ""
    )
    return f"Offsets: {trapezoidal}, {simpson}, {areas.apart * 100:+.1f} %.{closer}"
