"""How time and memory grow with the size of a week, drawn from saved runs: two panels, both scales logarithmic.

A mark is one week; lines join the medians of each size. A week whose plan never came within 2 % of its bound has no
mark for that; the gap that was left stands under its size.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor, log10
from statistics import median
from xml.etree import ElementTree

from stockplan.bench.memory import BYTES_PER_MIB
from stockplan.bench.plans import WeeksRun
from stockplan.bench.timing import Outcome
from stockplan.bench.weeks import SIZES
from stockplan.report.drawing_parts import (
    BODY,
    LINE,
    PAPER,
    SMALL,
    TITLE,
    Label,
    Rect,
    blank_drawing,
    number,
    svg_text,
    text_width,
)
from stockplan.report.drawing_parts import Line as Stroke

WIDTH, HEIGHT, MARGIN = 250.0, 138.0, 8.0
PANEL_WIDTH, PANEL_HEIGHT, PANEL_TOP = 86.0, 70.0, 34.0
PANEL_LEFTS = (22.0, 150.0)
GRID = "#d4d4d4"
MARK = 2.2  # mm across
FEW_POWERS = 3
COLOURS = ("#0077bb", "#cc3311", "#000000")  # of Paul Tol's 'vibrant' scheme, and black (from memory)


@dataclass(frozen=True, slots=True)
class Series:
    """What is drawn of each week: its name, its value or None, and the shape of its marks."""

    name: str
    value: Callable[[Outcome], float | None]
    shape: str
    colour: str


TIMES = (
    Series("first sound plan", lambda one: one.first_plan, "circle", COLOURS[0]),
    Series("within 2 % of the bound", lambda one: one.rather_near, "square", COLOURS[1]),
    Series("search ended", lambda one: one.seconds, "triangle", COLOURS[2]),
)
MEMORY = (
    Series("at most", lambda one: one.peak_bytes and one.peak_bytes / BYTES_PER_MIB, "circle", COLOURS[0]),
)  # fmt: skip


class Scale:
    """A logarithmic scale of whole decades that holds some values.

    Parameters
    ----------
    values
        Positive; at least one.
    start, end
        Where the first and the last decade lie on the page, mm.
    """

    def __init__(self, values: Iterable[float], start: float, end: float) -> None:
        found = [log10(value) for value in values]
        self.first = floor(min(found))
        self.last = max(ceil(max(found)), self.first + 1)
        self._start, self._end = start, end

    def at(self, value: float) -> float:
        """Where a value lies, mm."""
        share = (log10(value) - self.first) / (self.last - self.first)
        return self._start + share * (self._end - self._start)

    def steps(self) -> list[float]:
        """The values it names: powers of ten, and twice and five times them where there are few."""
        powers = range(self.first, self.last + 1)
        named = (1, 2, 5) if len(powers) <= FEW_POWERS else (1,)
        return [times * 10.0**power for power in powers for times in named if power < self.last or times == 1]


def draw_scaling(runs: Sequence[WeeksRun]) -> str:
    """Draw time and memory against pieces.

    Parameters
    ----------
    runs
        Saved runs, usually one for each size; a week that is in several is drawn once for each.

    Raises
    ------
    ValueError
        When there is no week in them.
    """
    sizes = {
        size: [found for run in runs for (name, _), found in run.outcomes.items() if name == size] for size in SIZES
    }
    sizes = {size: found for size, found in sizes.items() if found}
    if not sizes:
        raise ValueError("there is no week to draw")
    svg = blank_drawing(WIDTH, HEIGHT, "Time and memory against the pieces of a week")
    Rect(0, 0, WIDTH, HEIGHT, fill=PAPER, stroke="none").emit(svg)
    Label(MARGIN, 9, "Planning weeks of growing size: time and memory", TITLE, bold=True).emit(svg)
    _panel(svg, PANEL_LEFTS[0], "seconds from the start of the program", sizes, TIMES)
    _panel(svg, PANEL_LEFTS[1], "memory in MiB, all its processes", sizes, MEMORY)
    for row, words in enumerate(_conditions(runs)):
        Label(MARGIN, PANEL_TOP + PANEL_HEIGHT + 21 + row * LINE * SMALL, words).emit(svg)
    return svg_text(svg)


def _panel(
    svg: ElementTree.Element, left: float, title: str, sizes: dict[str, list[Outcome]], series: Sequence[Series]
) -> None:
    """One panel: frame, scales, and the marks of each series."""
    bottom = PANEL_TOP + PANEL_HEIGHT
    pieces = Scale((one.pieces for found in sizes.values() for one in found), left, left + PANEL_WIDTH)
    known = [v for one in series for found in sizes.values() for week in found if (v := one.value(week))]
    Label(left, PANEL_TOP - 13, title, BODY, bold=True).emit(svg)
    if not known:
        Label(left, PANEL_TOP + PANEL_HEIGHT / 2, "not measured on this system", BODY).emit(svg)
        return
    amounts = Scale(known, bottom, PANEL_TOP)
    for step in amounts.steps():
        Stroke(left, amounts.at(step), left + PANEL_WIDTH, amounts.at(step), colour=GRID).emit(svg)
        Label(left - 1.5, amounts.at(step), f"{step:,g}", anchor="end").emit(svg)
    for step in pieces.steps():
        Stroke(pieces.at(step), PANEL_TOP, pieces.at(step), bottom, colour=GRID).emit(svg)
        Label(pieces.at(step), bottom + 3, f"{step:,g}", anchor="middle").emit(svg)
    Label(left + PANEL_WIDTH / 2, bottom + 7.5, "pieces in the week", anchor="middle").emit(svg)
    _name_sizes(svg, pieces, sizes)
    for one in series:
        _line(svg, pieces, amounts, sizes, one)
    if len(series) > 1:
        _key(svg, left + PANEL_WIDTH + 3, series)


def _name_sizes(svg: ElementTree.Element, pieces: Scale, sizes: dict[str, list[Outcome]]) -> None:
    """Each size's name and the gap left, above its weeks."""
    for size, found in sizes.items():
        at = pieces.at(median(one.pieces for one in found))
        Stroke(at, PANEL_TOP, at, PANEL_TOP - 1.2).emit(svg)
        Label(at, PANEL_TOP - 7.6, size, anchor="middle", bold=True).emit(svg)
        gap = f"{100 * median(one.gap for one in found):.1f} %"
        Label(at, PANEL_TOP - 3.4, gap, anchor="middle").emit(svg)


def _line(
    svg: ElementTree.Element, pieces: Scale, amounts: Scale, sizes: dict[str, list[Outcome]], series: Series
) -> None:
    """The marks of one series, and the line through their medians."""
    middles: list[tuple[float, float]] = []
    for found in sizes.values():
        known = [(one.pieces, value) for one in found if (value := series.value(one))]
        for count, value in known:
            _mark(svg, pieces.at(count), amounts.at(value), series)
        if known:
            x, y = pieces.at(median(c for c, _ in known)), amounts.at(median(v for _, v in known))
            middles.append((x, y))
    for (x1, y1), (x2, y2) in pairwise(middles):
        Stroke(x1, y1, x2, y2, width=0.5, colour=series.colour).emit(svg)


def _mark(svg: ElementTree.Element, x: float, y: float, series: Series) -> None:
    half = MARK / 2
    if series.shape == "circle":
        place = {"cx": number(x), "cy": number(y), "r": number(half)}
    elif series.shape == "square":
        place = {"x": number(x - half), "y": number(y - half), "width": number(MARK), "height": number(MARK)}
    else:
        corners = ((x, y - half), (x + half, y + half), (x - half, y + half))
        place = {"points": " ".join(f"{number(a)},{number(b)}" for a, b in corners)}
    element = {"circle": "circle", "square": "rect"}.get(series.shape, "polygon")
    ElementTree.SubElement(svg, element, {**place, "fill": series.colour})


def _key(svg: ElementTree.Element, left: float, series: Sequence[Series]) -> None:
    """Which marks are what, beside the panel, the uppermost line first."""
    for row, one in enumerate(reversed(series)):
        y = PANEL_TOP + 10 + row * 12
        _mark(svg, left + MARK / 2, y, one)
        words = one.name.split(" of ")
        for line, text in enumerate([words[0], *(f"of {rest}" for rest in words[1:])]):
            Label(left + MARK + 1.5, y + line * LINE * SMALL, text).emit(svg)


def _conditions(runs: Sequence[WeeksRun]) -> list[str]:
    """What was run, in lines that fit the page."""
    parts = []
    for run in runs:
        weeks = {size: sum(name == size for name, _ in run.outcomes) for size in SIZES}
        names = ", ".join(f"{count} {size}" for size, count in weeks.items() if count)
        parts.append(f"{names} with {run.limits.words()}")
    lines = [""]
    for part in [*(f"{part};" for part in parts), *(f"{run.machine}." for run in runs[:1])]:
        longer = f"{lines[-1]} {part}".strip()
        if text_width(longer, SMALL) > WIDTH - 2 * MARGIN:
            lines.append(part)
        else:
            lines[-1] = longer
    return ["A mark is a week; lines join medians; under each size stands the gap its plans were left with.", *lines]
