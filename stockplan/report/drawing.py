"""A product's plan as one drawing: A4 landscape pages below each other, every source to scale.

The units of the drawing are millimetres on paper; print it at full size.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from stockplan.domain.jobs import Job
from stockplan.domain.plan import ProductPlan
from stockplan.domain.request import PlanRequest
from stockplan.report.drawing_parts import (
    BODY,
    JOB_COLOURS,
    KEEP_FILL,
    LINE,
    PAPER,
    SMALL,
    TITLE,
    Label,
    Part,
    Rect,
    blank_drawing,
    shortened,
    svg_text,
    text_width,
    wrapped,
)
from stockplan.report.drawing_source import FULL, Block, source_block, usual_width
from stockplan.report.words import PieceLabels, day, printable, source_facts

PAGE_WIDTH, PAGE_HEIGHT, EDGE = 297.0, 210.0, 10.0
ROW = SMALL * LINE
TOP = EDGE + TITLE * LINE + ROW + 3
GAP_ACROSS, GAP_DOWN = 6.0, 6.0
JOB_ROWS = 8  # lines of the list of jobs that stay together
NOTES = (
    "Sizes are across × along the pile, in metres; figures above a source: metres from its cut end, the thick edge; "
    "left is the upper edge.",
    "In brackets: people at least, or plant, to lift it. None there does not mean by hand. Guidance, not clearance.",
    "Knives, heavy rolls: follow your risk assessment and local codes. Print at full size.",
)
BOTTOM = PAGE_HEIGHT - EDGE - len(NOTES) * ROW - 2


def draw_product(
    request: PlanRequest,
    product_plan: ProductPlan,
    number: int | None = None,
    conditions: Mapping[str, str] | None = None,
) -> str:
    """Draw every source a product's plan cuts, with drops, lanes, pieces and leftovers to scale, as SVG text.

    Parameters
    ----------
    request
        What the plan answers.
    product_plan
        The plan of one product.
    number
        That of the plan in the store, for telling its sheets from those of another; None where it has none.
    conditions
        By tag the word for the condition of what is not sound; default all is.
    """
    product = next(one for one in request.products if one.code == product_plan.product)
    jobs = sorted((job for job in request.jobs if job.product == product.code), key=lambda job: job.code)
    colours = {job.code: JOB_COLOURS[index % len(JOB_COLOURS)] for index, job in enumerate(jobs)}
    short = {one.job for one in product_plan.short}
    blocks = [*_source_blocks(request, product_plan, colours, conditions or {}), *_job_blocks(jobs, colours, short)]
    pages = _paged(blocks)
    title = printable(f"{product.code}: {product.description}" if product.description else product.code)
    window = f"jobs laid from {request.window.first} to {request.window.last}"
    window = f"Cuts for {window}" if number is None else f"Plan {number}: cuts for {window}"
    svg = blank_drawing(PAGE_WIDTH, PAGE_HEIGHT * len(pages), f"{title}. {window}")
    for index, parts in enumerate(pages):
        frame = _frame(title, window, f"page {index + 1} of {len(pages)}")
        for part in (*frame, *parts):
            part.shifted(0, index * PAGE_HEIGHT).emit(svg)
    return svg_text(svg)


def _source_blocks(
    request: PlanRequest, plan: ProductPlan, colours: dict[str, str], conditions: Mapping[str, str]
) -> Iterator[Block]:
    if not plan.cuts:
        yield Block(FULL, BODY * LINE, (Label(0, BODY * LINE / 2, "Nothing to cut.", BODY),))
    facts = source_facts(request, plan, conditions)
    labels = PieceLabels(request.jobs)
    for cuts in plan.cuts:
        leftovers = [left for left in plan.leftovers if left.source == cuts.source]
        block = source_block(cuts, leftovers, facts[cuts.source], colours, labels)
        yield from _with_key(block, facts[cuts.source].key)


def _with_key(block: Block, name: str) -> Iterator[Block]:
    """The block with its key below it, or the key in blocks of its own where it would not fit the page."""
    longest = max((text_width(row, SMALL) for row in block.rows), default=0.0)
    whole = _key(replace(block, width=max(block.width, usual_width(longest))), block.rows)
    if whole.height <= BOTTOM - TOP:
        yield whole
        return
    yield Block(block.width, block.height, block.parts)
    columns = _key_columns(FULL, block.rows)
    step = columns * (int((BOTTOM - TOP - BODY * LINE) / ROW) // 2)
    for begin in range(0, len(block.rows), step):
        heading = Label(0, BODY * LINE / 2, shortened(f"{name}: key", BODY, FULL, bold=True), BODY, bold=True)
        empty = Block(FULL, BODY * LINE, (heading,))
        yield _key(empty, block.rows[begin : begin + step])


def _key_columns(width: float, rows: Sequence[str]) -> int:
    return max(1, int((width + 4) / (max(text_width(row, SMALL) for row in rows) + 4)))


def _key(block: Block, rows: Sequence[str]) -> Block:
    if not rows:
        return Block(block.width, block.height, block.parts)
    columns = _key_columns(block.width, rows)
    step = (block.width + 4) / columns
    parts: list[Part] = list(block.parts)
    for index, row in enumerate(rows):
        x, y = (index % columns) * step, block.height + (index // columns + 0.5) * ROW
        parts.append(Label(x, y, shortened(row, SMALL, step - 4)))
    return Block(block.width, block.height + -(-len(rows) // columns) * ROW, tuple(parts))


def _job_blocks(jobs: Sequence[Job], colours: dict[str, str], short: set[str]) -> Iterator[Block]:
    # Few jobs take the whole width each, so that no more lines than need be are taken by where they are.
    columns = 1 if len(jobs) <= JOB_ROWS else 2
    width = (FULL - GAP_ACROSS * (columns - 1)) / columns
    entries = [_Entry(colours[job.code], tuple(_job_lines(job, short, width - 8))) for job in jobs]
    while entries:
        first = _filled(entries)
        second = _filled(entries[first:]) if columns > 1 else 0
        some, entries = entries[: first + second], entries[first + second :]
        if second:  # both columns about as long, the first no shorter where that cannot be
            first = min(range(1, len(some) + 1), key=lambda end: (max(_depth(some[:end]), _depth(some[end:])), -end))
        parts: list[Part] = [Label(0, BODY * LINE / 2, "Jobs", BODY, bold=True)]
        for column, mine in enumerate((some[:first], some[first:])):
            x, y = column * (width + GAP_ACROSS), BODY * LINE + 1
            for entry in mine:
                parts.append(Rect(x, y + (ROW + 1) / 2 - 1.8, 6, 3.6, entry.colour))
                middles = [y + (ROW + 1) / 2 + ROW * number for number in range(len(entry.lines))]
                parts += [Label(x + 8, middle, line) for middle, line in zip(middles, entry.lines, strict=True)]
                y += entry.depth
        yield Block(FULL, BODY * LINE + 1 + max(_depth(some[:first]), _depth(some[first:])), tuple(parts))


@dataclass(frozen=True, slots=True)
class _Entry:
    """A job in the list of jobs."""

    colour: str
    lines: tuple[str, ...]

    @property
    def depth(self) -> float:
        return len(self.lines) * ROW + 1


def _job_lines(job: Job, short: set[str], room: float) -> list[str]:
    pile = f"pile to {job.pile_towards}" if job.pile_towards else ""
    pile = "SHORT, not covered" if job.code in short else pile
    text = ", ".join(part for part in (job.code, day(job.lay_on), pile, job.site) if part)
    return [shortened(line, SMALL, room) for line in wrapped(printable(text), SMALL, room)]


def _depth(entries: Sequence[_Entry]) -> float:
    return sum(entry.depth for entry in entries)


def _filled(entries: Sequence[_Entry]) -> int:
    """How many entries fill a column of the list; one at least."""
    most = JOB_ROWS * (ROW + 1) + 0.01
    return next((end for end in range(1, len(entries)) if _depth(entries[: end + 1]) > most), len(entries))


@dataclass(slots=True)
class _Page:
    parts: list[Part] = field(default_factory=list)
    x: float = 0.0
    y: float = TOP
    shelf: float = 0.0


def _paged(blocks: Sequence[Block]) -> list[list[Part]]:
    """Lay blocks out in reading order: beside each other while they fit, then below, then on the next page."""
    pages = [_Page()]
    for block in blocks:
        page = pages[-1]
        beside = page.x > 0 and page.x + block.width <= FULL + 0.01 and page.y + block.height <= BOTTOM
        if not beside and page.x > 0:
            page.y, page.x, page.shelf = page.y + page.shelf + GAP_DOWN, 0.0, 0.0
        if page.y + block.height > BOTTOM and page.y > TOP:
            page = _Page()
            pages.append(page)
        page.parts += [part.shifted(EDGE + page.x, page.y) for part in block.parts]
        page.x += block.width + GAP_ACROSS
        page.shelf = max(page.shelf, block.height)
    return [page.parts for page in pages]


def _frame(title: str, window: str, page: str) -> list[Part]:
    right = PAGE_WIDTH - EDGE
    room = FULL - text_width(page, BODY) - 4
    heading_y, window_y = EDGE + TITLE * LINE / 2, EDGE + TITLE * LINE + ROW / 2
    parts: list[Part] = [
        Rect(4, 4, PAGE_WIDTH - 8, PAGE_HEIGHT - 8, PAPER, "#9a9a9a", marks={"class": "page"}),
        Label(EDGE, heading_y, shortened(title, TITLE, room, bold=True), TITLE, bold=True),
        Label(right, heading_y, page, BODY, "end"),
        Label(EDGE, window_y, window, SMALL),
    ]
    rows = [BOTTOM + 2 + ROW * (number + 0.5) for number in range(len(NOTES))]
    parts += [Label(EDGE, y, note) for y, note in zip(rows, NOTES, strict=True)]
    x = EDGE + text_width(NOTES[-1], SMALL) + 8
    for fill, words in ((JOB_COLOURS[0], "piece"), (KEEP_FILL, "keep"), (PAPER, "bin")):
        parts.append(Rect(x, rows[-1] - 1.8, 6, 3.6, fill, dashed=words == "keep", hatched=words == "bin"))
        parts.append(Label(x + 8, rows[-1], words))
        x += 8 + text_width(words, SMALL) + 6
    return parts
