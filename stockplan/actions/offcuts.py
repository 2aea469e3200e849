"""Logging an offcut that came back, under a tag of its own and traced to what it was cut from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from stockplan.actions.offcut_facts import Look, Told, look, look_up
from stockplan.actions.user import user
from stockplan.domain.lawn import Ring
from stockplan.domain.ledger import (
    SOUND,
    Entry,
    MovementKind,
    binned,
    condition,
    condition_word,
    cut,
    received,
    returned,
    reversal,
)
from stockplan.domain.stock import StockForm, StockItem
from stockplan.domain.tags import LETTERS, new_tags
from stockplan.domain.units import MM2_PER_M2, size
from stockplan.domain.worth import Leftover, UnitCost, leftover_worth
from stockplan.errors import StockplanError

if TYPE_CHECKING:
    from stockplan.store.rows import Rows


@dataclass(frozen=True, slots=True)
class Logged:
    """What was logged.

    Parameters
    ----------
    items
        The offcuts, under their tags.
    rest
        What is left of the parent, under its new tag; None when that is not known anew.
    """

    items: tuple[StockItem, ...]
    rest: StockItem | None


def log(where: str | None, told: Told) -> Logged:
    """Log an offcut, all of it or nothing.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    told
        What was said of it.

    Raises
    ------
    StockplanError
        When anything stands against it; names everything.
    StoreError
        When the parent was never in the yard, or the store cannot be read or written.
    """
    from stockplan.store.ledger_rows import record  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.yard_rows import read_stock  # noqa: PLC0415

    with open_yard(where) as store, store.unit_of_work() as work:
        found = look_up(work.rows, told)
        if refusals := found.refusals():
            raise StockplanError("\n".join(refusals))
        entries, tags, rest = _entries(work.rows, found)
        record(work, entries, user())
        stored = {item.tag: item for item in read_stock(work.rows, [*tags, *([rest] if rest else [])])}
        work.commit()
    return Logged(tuple(stored[tag] for tag in tags), stored[rest] if rest else None)


def rectangles(where: str | None, told: Told, shape: Ring, most: int) -> tuple[tuple[int, int, int, int], ...]:
    """Find the rectangles in an odd-shaped offcut that are worth most by the firm's rule.

    Parameters
    ----------
    where, told
        The store, and what else was said; its sizes do not matter.
    shape
        Its corners in the order walked round it, mm, with the pile along y.
    most
        How many rectangles at most.

    Returns
    -------
    tuple
        Of each: how far across and along its near left corner lies, its width and its length, mm.

    Raises
    ------
    UnitError
        When the corners are not those of a shape.
    StockplanError
        When it holds nothing worth keeping.
    """
    from stockplan.surveying.usable import apart, area, usable_sizes  # noqa: PLC0415

    found = look(where, replace(told, sizes=()))
    cost = UnitCost(max(1, found.cost_pence_per_m2), MM2_PER_M2)

    def worth(width_mm: int, length_mm: int) -> int:
        return leftover_worth(Leftover(width_mm, length_mm, on_core=False, widest_mm=found.widest_mm), cost)

    taken = apart(area if told.keep_anyway else worth, shape, most=most)
    if not taken:
        largest = usable_sizes(shape).best()
        holds = f"; the largest is {size(largest.width_mm, largest.length_mm)} m" if largest else ""
        raise StockplanError(f"the shape holds no rectangle worth keeping{holds}: put it in the skip")
    return tuple((round(one.across_mm), round(one.along_mm), one.width_mm, one.length_mm) for one in taken)


def _entries(rows: Rows, found: Look) -> tuple[list[Entry], list[str], str]:
    """Write what happened as movements; also the tags given, and that of the rest of the parent."""
    told, source, rest = found.told, found.source, ""
    tags = [told.tag] if told.tag else _new(rows, StockForm.OFFCUT, len(told.sizes))
    entries: list[Entry] = []
    if source is None:
        for tag, (width, length) in zip(tags, told.sizes, strict=True):
            item = StockItem(
                tag, told.product, told.batch, StockForm.OFFCUT, width, length, told.bay, found.cost_pence_per_m2
            )
            entries.append(received(item, "offcut logged"))
    else:
        if found.lies_uncut:
            entries.append(cut(source.tag, (), "cut without a plan"))
        if told.rest_mm:
            form = StockForm.OFFCUT if source.form is StockForm.OFFCUT else StockForm.PART_ROLL
            rest = _new(rows, form, 1, tags)[0]
            size_mm = (source.width_mm, told.rest_mm)
            entries.append(returned(rest, source.tag, form, size_mm, source.bay, "left after a cut without a plan"))
            if found.source_condition:  # nobody has said that the rest is sound now
                word = found.source_condition
                entries.append(condition(rest, word, f"{source.tag} was {word}"))
        undone, rest_binned = ([], []) if found.lies_uncut else _unbin(rows, found)
        entries += undone
        for tag, size_mm in zip(tags, told.sizes, strict=True):
            entries.append(returned(tag, source.tag, StockForm.OFFCUT, size_mm, told.bay, "offcut logged"))
        entries += rest_binned
    if condition_word(told.condition) != SOUND:
        entries += [condition(tag, told.condition, "offcut logged") for tag in tags]
    return entries, tags, rest


def _new(rows: Rows, form: StockForm, count: int, besides: Sequence[str] = ()) -> list[str]:
    from stockplan.store.plan_rows import tags_ever  # noqa: PLC0415

    return list(new_tags({*tags_ever(rows, LETTERS[form]), *besides}, count, form))


def _unbin(rows: Rows, found: Look) -> tuple[list[Entry], list[Entry]]:
    """Undo as much binning as the offcut needs, and bin the rest again: what was thought thrown away was not."""
    from stockplan.store.ledger_rows import read_history  # noqa: PLC0415
    from stockplan.store.yard_rows import read_yard  # noqa: PLC0415

    tag = found.told.parent
    needed = sum(width * length for width, length in found.told.sizes)
    needed -= read_yard(rows, [tag]).gone[tag].unaccounted_mm2
    movements = read_history(rows, tag)
    reversed_since = {movement.reverses for movement in movements}
    undone: list[Entry] = []
    for movement in reversed(movements):
        if needed <= 0:
            break
        if movement.kind is MovementKind.BINNED and movement.number not in reversed_since:
            undone.append(reversal(movement, "not binned after all"))
            needed -= int(str(movement.values["area_mm2"]))
    return undone, [binned(tag, -needed, "the rest of what was binned")] if undone and needed < 0 else []
