"""The sheet of one roll as plain text: what it is and weighs, the cuts in order, pieces, leftovers, cautions."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from textwrap import wrap

from stockplan.domain.came_off import numbered
from stockplan.domain.jobs import Job
from stockplan.domain.lifting import weight_kg
from stockplan.domain.standing import Standing
from stockplan.domain.units import size
from stockplan.report.columns import in_columns
from stockplan.report.handling import CAUTIONS, lift_needs, lifting_note
from stockplan.report.steps import LEFT, Step, cutting_steps, leftover_words
from stockplan.report.words import PieceLabels, counted, day, form_words, printable

COLUMNS = 80  # a sheet of A4 upright in letters of 10 points, and a terminal as most people open it
LEAST_DO = 24  # columns for what to do, however long the names beside it are


@dataclass(frozen=True, slots=True)
class SheetFacts:
    """What a sheet says beside the cuts.

    Parameters
    ----------
    jobs
        The jobs cut from the source, the first to be laid first.
    weight_g_m2
        Of the product.
    warnings
        What to look at before cutting; sentences.
    """

    jobs: tuple[Job, ...]
    weight_g_m2: int
    warnings: tuple[str, ...] = ()


def cut_sheet(one: Standing, facts: SheetFacts) -> str:
    """Print the sheet of one source.

    Parameters
    ----------
    one
        The source as it is to be cut.
    facts
        See `SheetFacts`.
    """
    item = one.item
    labels = PieceLabels(facts.jobs)
    steps = cutting_steps(one.cuts, one.leftovers, labels)
    rows = list(_step_rows(steps))
    pieces = []
    for piece in one.cuts.pieces():
        weight = weight_kg(piece.width_mm, piece.length_mm, facts.weight_g_m2)
        pieces.append(
            (labels.of(piece), size(piece.width_mm, piece.length_mm), f"about {weight} kg", lift_needs(weight))
        )
    left = any("from the left" in step.do for step in steps)
    lines = [
        f"{item.tag}: {form_words(item.form)} {size(item.width_mm, item.length_mm)} m of {item.product}",
        f"  batch {item.batch_key}, {f'bay {item.bay}' if item.bay else 'bay not recorded'}",
        f"  {'; '.join(part for part in _weight(item.width_mm, item.length_mm, facts) if part)}",
        f"  for {', '.join(f'{job.code} ({day(job.lay_on)})' for job in facts.jobs)}, by plan {one.plan}",
        *(f"  CAREFUL: {warning}" for warning in facts.warnings),
        *([f"  {LEFT}"] if left else []),
    ]
    text = ["\n".join(_wrapped(map(printable, lines))), in_columns(("step", "do", "gives"), rows, right=("step",))]
    if pieces:
        text.append(in_columns(("piece", "across × along, m", "weight", ""), pieces))
    text.append(leftover_list(one, facts.weight_g_m2))
    cautions = _wrapped(f"- {caution}" for caution in CAUTIONS)
    text.append("\n".join(["Before anyone cuts or lifts", *cautions]))
    return "\n\n".join(part for part in text if part)


def _step_rows(steps: Sequence[Step]) -> Iterator[tuple[str, str, str]]:
    """Number, words and yield of each step, the words in as many lines as keep the sheet within its columns."""
    beside = max((len(given) for step in steps for given in step.gives), default=0) + len("step") + 2 * len("  ")
    for number, step in enumerate(steps, 1):
        do = wrap(step.do, max(LEAST_DO, COLUMNS - beside), break_long_words=False, break_on_hyphens=False)
        for line, (words, given) in enumerate(zip_longest(do, step.gives, fillvalue="")):
            yield "" if line else str(number), words, given


def _wrapped(lines: Iterable[str]) -> Iterator[str]:
    """Lines within the sheet's columns; what runs on stands two columns further in."""
    for line in lines:
        indent = " " * (len(line) - len(line.lstrip())) + "  "
        yield from wrap(line, COLUMNS, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)


def _weight(width_mm: int, length_mm: int, facts: SheetFacts) -> tuple[str, str]:
    weight = weight_kg(width_mm, length_mm, facts.weight_g_m2)
    return f"about {weight} kg", lifting_note(weight)


def leftover_list(one: Standing, weight_g_m2: int) -> str:
    """List what is left over with the numbers by which it is confirmed, corrected or binned; empty when nothing is.

    Parameters
    ----------
    one
        The source as it is to be cut.
    weight_g_m2
        Of the product.
    """
    rows = []
    for number, left in numbered(one):
        weight = weight_kg(left.width_mm, left.length_mm, weight_g_m2)
        rows.append((str(number), leftover_words(left), f"about {weight} kg", lift_needs(weight)))
    return in_columns(("no.", "left over", "weight", ""), rows, right=("no.",)) if rows else ""


def missing_words(code: str, missing: Mapping[str, int]) -> str:
    """Say what a job lacks: `J104 now lacks 1 piece of A and 2 pieces of B`."""
    lacks = " and ".join(f"{counted(count, 'piece')} of {strip}" for strip, count in missing.items())
    return printable(f"{code} now lacks {lacks}")
