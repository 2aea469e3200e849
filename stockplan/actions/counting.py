"""Stocktake of one bay: the sheet to count by, how what was found differs from the record, and writing it down."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date

from stockplan.actions.count_sheet import Seen, not_as_on_record
from stockplan.actions.finding import Found, StockFilter, find_stock, found_in
from stockplan.actions.user import user
from stockplan.domain.ledger import (
    SOUND,
    Entry,
    Gone,
    condition,
    condition_word,
    corrected,
    counted,
    moved,
    written_off,
)
from stockplan.domain.stock import StockItem
from stockplan.errors import SheetFaults, StockplanError


@dataclass(frozen=True, slots=True)
class Stocktake:
    """How what was found in a bay differs from the record.

    Parameters
    ----------
    bay
        Which bay was counted.
    looked
        The last movement when the two were compared.
    as_recorded
        Tags found where and as they should be.
    moved
        Things found here that are on record elsewhere.
    measured
        Things that measured other than recorded: before and after.
    conditions
        Tags found in another condition than recorded, with the word for it.
    missing
        Things on record in this bay that were not found.
    gone
        Things found that have left the yard by the record.
    unknown
        Tags found that were never in the yard, each with tags that may be meant.
    """

    bay: str
    looked: int
    as_recorded: tuple[str, ...]
    moved: tuple[StockItem, ...]
    measured: tuple[tuple[StockItem, StockItem], ...]
    conditions: tuple[tuple[str, str], ...]
    missing: tuple[Found, ...]
    gone: tuple[Gone, ...]
    unknown: tuple[tuple[str, tuple[str, ...]], ...]

    @property
    def agrees(self) -> bool:
        """Whether all is as recorded."""
        return not (self.moved or self.measured or self.conditions or self.missing or self.gone or self.unknown)

    @property
    def perhaps_of(self) -> str:
        """The bay in which all that was found is on record, several things, where that is another; else nothing."""
        bays = {item.bay for item in self.moved}
        moved = {item.tag for item in self.moved}
        found = {*self.as_recorded, *(before.tag for before, _ in self.measured), *(tag for tag, _ in self.conditions)}
        return bays.pop() if len(bays) == 1 and len(moved) > 1 and found <= moved else ""


def bay_sheet(where: str | None, bay: str, today: date) -> list[Found]:
    """Read what should lie in a bay, in order of tag.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    bay
        Its name as on record.
    today
        For telling which holds are in force.

    Raises
    ------
    StockplanError
        When nothing is on record there; names the bays that may be meant.
    StoreError
        When the store cannot be read.
    """
    from stockplan.actions.meant import bays_meant  # noqa: PLC0415

    found = find_stock(where, StockFilter(bay=bay), today)
    if not found:
        raise StockplanError(f"nothing is on record in bay {bay}{bays_meant(where, bay)}")
    return sorted(found, key=lambda one: one.item.tag)


def compare(where: str | None, bay: str, seen: Sequence[Seen], today: date) -> Stocktake:
    """Hold what was found in a bay against the record.

    Parameters
    ----------
    where, bay
        The store, and the bay that was counted whole.
    seen
        Everything that was found there, each tag once.
    today
        For telling which holds are in force.

    Raises
    ------
    SheetFaults
        When the sheet has something otherwise than the record that is only there to be read; carries every fault.
    StockplanError
        When a tag is given twice, or something would be moved to a bay whose name cannot be, or is but spelt otherwise
        than one in the yard.
    StoreError
        When the store cannot be read.
    """
    from stockplan.actions.meant import near_tags  # noqa: PLC0415
    from stockplan.actions.spelling import check_bay  # noqa: PLC0415
    from stockplan.actions.typed import check_text  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.rows import rows_of  # noqa: PLC0415
    from stockplan.store.yard_rows import ledger_end, read_yard, read_yard_where  # noqa: PLC0415

    by_tag = {one.tag: one for one in seen}
    if len(by_tag) < len(seen):
        twice = sorted({one.tag for one in seen if sum(other.tag == one.tag for other in seen) > 1})
        raise StockplanError(f"given twice: {', '.join(twice)}; each thing is found once")
    with open_yard(where) as store, store.reading() as source:
        rows = rows_of(source)
        here = read_yard_where(rows, "bay = :bay", {"bay": bay})
        yard = read_yard(rows, by_tag)
        strange = [tag for tag in by_tag if tag not in yard.items and tag not in yard.gone]
        unknown = tuple((tag, tuple(near_tags(rows, tag))) for tag in strange)
        looked = ledger_end(rows)
        present = [(yard.items[tag], one) for tag, one in by_tag.items() if tag in yard.items]
        if any(item.bay != bay for item, _ in present):
            check_text("bay", bay)
            check_bay(rows, bay)
    if faults := [fault for item, one in present for fault in not_as_on_record(one, item)]:
        raise SheetFaults(faults)
    as_measured = [(item, _measured(item, one)) for item, one in present]
    conditions = [
        (item.tag, condition_word(one.condition))
        for item, one in present
        if one.condition and condition_word(one.condition) != yard.conditions.get(item.tag, SOUND)
    ]
    other = {item.tag for item, after in as_measured if after != item} | {tag for tag, _ in conditions}
    return Stocktake(
        bay=bay,
        looked=looked,
        as_recorded=tuple(item.tag for item, _ in present if item.bay == bay and item.tag not in other),
        moved=tuple(item for item, _ in present if item.bay != bay),
        measured=tuple((item, after) for item, after in as_measured if after != item),
        conditions=tuple(conditions),
        missing=tuple(one for one in found_in(here, today) if one.item.tag not in by_tag),
        gone=tuple(yard.gone[tag] for tag in by_tag if tag in yard.gone),
        unknown=unknown,
    )


def _measured(item: StockItem, seen: Seen) -> StockItem:
    width_mm = item.width_mm if seen.width_mm is None else seen.width_mm
    length_mm = item.length_mm if seen.length_mm is None else seen.length_mm
    return replace(item, width_mm=width_mm, length_mm=length_mm)


def entries(taken: Stocktake, write_off_missing: bool = False) -> Iterator[Entry]:
    """Give the movements that bring the record to what was found.

    Parameters
    ----------
    taken
        The comparison.
    write_off_missing
        Write off what was not found; default leave it on record, to be looked for.

    Raises
    ------
    StockplanError
        When something is to be written off that was found after all, its tag misread or mistyped, as it seems.
    """
    if write_off_missing and (doubtful := _mistaken(taken)):
        pairs = "\n".join(f"{tag} was found, and {near} was not: that may be the same thing" for tag, near in doubtful)
        raise StockplanError(
            f"{pairs}\nnothing was stored; count again with the tags as on record, or without --write-off-missing"
        )
    why = f"stocktake of {taken.bay}"
    told = {item.tag for item in taken.moved} | {before.tag for before, _ in taken.measured}
    for item in taken.moved:
        yield moved(item.tag, taken.bay, why)
    for before, after in taken.measured:
        yield corrected(before, after, why)
    for tag, word in taken.conditions:
        if tag not in told:
            yield counted(tag, why)
        yield condition(tag, word, why)
    for tag in taken.as_recorded:
        yield counted(tag, why)
    if write_off_missing:
        for one in taken.missing:
            yield written_off(one.item.tag, f"{why}: not found")


def _mistaken(taken: Stocktake) -> list[tuple[str, str]]:
    """Give tags found that nothing bears, each with one not found that may be meant."""
    missing = {one.item.tag for one in taken.missing}
    return [(tag, near) for tag, meant in taken.unknown for near in meant if near in missing]


def book(where: str | None, taken: Stocktake, write_off_missing: bool = False) -> int:
    """Write a stocktake down, and return how many movements that took.

    Raises
    ------
    StockplanError
        As for `entries`.
    StoreConflict
        When one of the things has moved since the comparison; nothing is written then.
    StoreError
        When the store cannot be written.
    """
    from stockplan.actions.plan_states import end_plans  # noqa: PLC0415
    from stockplan.store.ledger_rows import record  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415

    written = list(entries(taken, write_off_missing))
    with open_yard(where) as store, store.unit_of_work() as work:
        record(work, written, user(), looked=taken.looked)
        if write_off_missing:
            end_plans(work, {one.plan for one in taken.missing if one.plan is not None})
        work.commit()
    return len(written)
