"""What stands against an offcut that is about to be logged, all of it at once."""

from __future__ import annotations

import shlex
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from stockplan.domain.as_typed import argument
from stockplan.domain.ledger import SOUND, Gone, MovementKind, Yard
from stockplan.domain.offcut import Doubts, Size, doubts
from stockplan.domain.stock import StockForm, StockItem
from stockplan.domain.tags import tidied
from stockplan.domain.units import metres, size, square_metres
from stockplan.errors import StockplanError, StoreError

if TYPE_CHECKING:
    from stockplan.store.rows import Rows


@dataclass(frozen=True, slots=True)
class Told:
    """What a person said of an offcut.

    Parameters
    ----------
    sizes
        Across and along the pile, mm; several when an odd shape holds several rectangles.
    bay, condition
        Where it lies, and a word such as `sound` or `wet`.
    parent
        Tag of what it was cut from; empty when not known, and then `product` must be given.
    product, batch
        Batch empty when not known.
    tag
        A tag it has already, for a single size; empty for a new one.
    rest_mm
        How much is left of a parent whose cut is not on record, along the pile; None when its cut is.
    as_typed, keep_anyway
        That across and along are not exchanged, and that it is to be logged though it is small.
    batch_meant
        That it is of this product, though its batch is on record for others only.
    """

    sizes: tuple[Size, ...]
    bay: str
    condition: str = SOUND
    parent: str = ""
    product: str = ""
    batch: str = ""
    tag: str = ""
    rest_mm: int | None = None
    as_typed: bool = False
    keep_anyway: bool = False
    batch_meant: bool = False


@dataclass(frozen=True, slots=True)
class Look:
    """What the store knows of an offcut that is about to be logged.

    Parameters
    ----------
    told
        With the parent's tag as it is on record.
    source
        What it was cut from; None when not known.
    source_condition
        The word for the condition of a source in the yard; empty where it is sound.
    lies_uncut
        Whether the source still lies in the yard by the record.
    doubts
        One a size.
    faults
        What cannot be whatever its size.
    cost_pence_per_m2
        What its grass is taken to have cost.
    widest_mm
        Width of the product's widest roll; 0 when none is known.
    others
        The products that its batch is on record for, where it is not for this one.
    """

    told: Told
    source: StockItem | None
    source_condition: str
    lies_uncut: bool
    doubts: tuple[Doubts, ...]
    faults: tuple[str, ...]
    cost_pence_per_m2: int
    widest_mm: int
    others: tuple[str, ...] = ()

    @property
    def swapped(self) -> str:
        """Why across and along look exchanged; empty when they do not."""
        return next((one.swapped for one in self.doubts if one.swapped), "")

    @property
    def other_product(self) -> str:
        """Why the product looks mistaken; empty when it does not."""
        from stockplan.actions.spelling import other_product_words  # noqa: PLC0415

        return other_product_words(self.told.product, self.told.batch, self.others) if self.others else ""

    @property
    def bin(self) -> str:
        """Why it should be binned; empty when it should not."""
        return next((one.bin for one in self.doubts if one.bin), "")

    def refusals(self) -> list[str]:
        """Say everything that stands against logging it as told, each with what to do about it."""
        told = self.told
        found = list(self.faults)
        if self.other_product and not told.batch_meant:
            found.append(
                f"{self.other_product}: is product or batch mistaken? give --product {shlex.quote(self.others[0])}, "
                "or add --as-typed"
            )
        for one in self.doubts:
            if one.impossible:
                hint = f"{one.swapped}: are across and along exchanged?" if one.swapped else one.impossible
                found.append(hint)
            elif one.swapped and not told.as_typed:
                found.append(
                    f"{one.swapped}: are across and along exchanged? give it the other way round, or add --as-typed"
                )
            if one.bin and not told.keep_anyway:
                found.append(f"{one.bin}; put it in the skip, or add --keep-anyway")
        return found


def look(where: str | None, told: Told) -> Look:
    """See what stands against an offcut, without storing anything.

    Raises
    ------
    StoreError
        When the parent was never in the yard, or the store cannot be read.
    """
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.rows import rows_of  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        return look_up(rows_of(source), told)


def find_parent(where: str | None, typed: str) -> tuple[str, str]:
    """Give the tag, as it is on record, of what an offcut was cut from, or else why nothing can have been.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    typed
        A tag as typed.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.rows import rows_of  # noqa: PLC0415
    from stockplan.store.yard_rows import read_yard  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        rows = rows_of(source)
        yard = read_yard(rows, {typed, tidied(typed)})
        try:
            item = _source(rows, yard, typed)
        except StoreError as error:
            return "", str(error)
    told = Told((), "", parent=item.tag, rest_mm=0)
    faults = _uncut(yard, told, item) if item.tag in yard.items else _too_much(yard.gone[item.tag], told)
    return item.tag, "\n".join(faults)


def product_fault(where: str | None, code: str) -> str:
    """Say that the store knows no such product; empty where it does.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    code
        As typed.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    from stockplan.store.plan_rows import read_weights  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        return _unknown(code, read_weights(source))


def _unknown(code: str, products: Collection[str]) -> str:
    from stockplan.actions.meant import no_product  # noqa: PLC0415

    return "" if code in products else no_product(code, products)


def look_up(rows: Rows, told: Told) -> Look:
    """See what stands against an offcut, inside a transaction.

    Raises
    ------
    StoreError
        When the parent was never in the yard.
    """
    from stockplan.actions.spelling import batch_of_others, spelling_faults  # noqa: PLC0415
    from stockplan.store.plan_rows import read_full_widths, read_weights  # noqa: PLC0415
    from stockplan.store.yard_rows import read_yard  # noqa: PLC0415

    yard = read_yard(rows, {told.parent, tidied(told.parent), told.tag} - {""})
    source = None
    faults: list[str] = []
    if told.parent:
        source = _source(rows, yard, told.parent)
        told = replace(told, parent=source.tag, product=source.product, batch=source.batch)
        faults += _uncut(yard, told, source)
    elif fault := _unknown(told.product, read_weights(rows)):
        faults.append(fault)
    if told.tag in yard.items or told.tag in yard.gone:
        faults.append(f"the tag {told.tag} was used before; give the offcut one of its own, or none for a new one")
    faults += spelling_faults(rows, told.product, "" if told.parent else told.batch, told.tag, told.bay)
    widest = read_full_widths(rows, [told.product]).get(told.product, 0)
    planned = _planned(rows, yard, source)
    judged = tuple(doubts(found, source, planned, widest) for found in told.sizes)
    faults += _typed_faults(told, [found for found, one in zip(told.sizes, judged, strict=True) if not one.impossible])
    if source is not None and source.tag in yard.gone:
        faults += _too_much(yard.gone[source.tag], told)
    cost = source.cost_pence_per_m2 if source is not None else _cost(rows, told)
    word = yard.conditions.get(told.parent, "")
    others = () if told.parent else batch_of_others(rows, told.product, told.batch)
    return Look(told, source, word, told.parent in yard.items, judged, tuple(faults), cost, widest, others)


def _source(rows: Rows, yard: Yard, typed: str) -> StockItem:
    """Look up what an offcut was cut from, in the yard or gone from it."""
    from stockplan.actions.meant import meant  # noqa: PLC0415

    for tag in (typed, tidied(typed)):
        if tag in yard.items:
            return yard.items[tag]
        if tag in yard.gone:
            return yard.gone[tag].item
    raise StoreError(f"{typed} was never in the yard{meant(rows, typed)}; without a parent, give --product and --batch")


def _uncut(yard: Yard, told: Told, source: StockItem) -> list[str]:
    tag = source.tag
    if tag not in yard.items:
        wrong = told.rest_mm is not None
        return [f"{tag} has left the yard, so nothing is left on it; leave --rest out"] if wrong else []
    if tag in yard.reservations:
        return [
            f"{tag} is to be cut for plan {yard.reservations[tag]}; record that first, and this with it: "
            f"stockplan cut --done --keep ACROSSxALONG {argument(tag)}"
        ]
    if told.rest_mm is None:
        return [
            f"{tag} lies in the yard uncut by the record, {size(source.width_mm, source.length_mm)} m; say with --rest "
            "how much of it is left along the pile, 0 for nothing"
        ]
    longest = max((length for _, length in told.sizes), default=0)
    if told.rest_mm + longest > source.length_mm:
        together = f"{metres(told.rest_mm)} m left and {metres(longest)} m off it"
        return [f"{together} is more than {tag} had, {metres(source.length_mm)} m; measure it again first if it had"]
    return []


def _typed_faults(told: Told, sizes: Sequence[Size]) -> list[str]:
    """Say what is wrong with what was typed; only sizes that could be are looked at here."""
    from stockplan.actions.typed import check_item, check_text  # noqa: PLC0415

    faults: dict[str, None] = {}
    for width_mm, length_mm in sizes or ((1000, 1000),):
        item = StockItem(
            told.tag or "C-1", told.product or "none", told.batch, StockForm.OFFCUT, width_mm, length_mm, told.bay, 0
        )
        try:
            check_item(item)
        except StockplanError as error:
            faults |= dict.fromkeys(str(error).split("\n"))
    try:
        check_text("condition", told.condition)
    except StockplanError as error:
        faults |= dict.fromkeys(str(error).split("\n"))
    if told.tag and len(told.sizes) > 1:
        faults[f"{len(told.sizes)} rectangles need a tag each; leave --tag out"] = None
    return list(faults)


def _planned(rows: Rows, yard: Yard, source: StockItem | None) -> list[Size]:
    """Give what the plan by which a source was cut leaves over of it."""
    number = yard.gone[source.tag].plan if source is not None and source.tag in yard.gone else None
    if source is None or number is None:
        return []
    from stockplan.report.plan_reader import read_plan  # noqa: PLC0415 - slow to import, and often not needed
    from stockplan.store.plan_rows import read_lines, read_plan_texts, read_receipts  # noqa: PLC0415

    order = read_receipts(rows).get(source.tag)
    names = {source.tag, *(line.plan_key for line in read_lines(rows) if line.key == order)}
    plans = [read_plan(text) for text in read_plan_texts(rows, [number]).values()]
    return [(left.width_mm, left.length_mm) for plan in plans for left in plan.leftovers() if left.source in names]


def _too_much(gone: Gone, told: Told) -> list[str]:
    tag = gone.item.tag
    if gone.how is not MovementKind.CUT:
        return [f"{tag} was written off, so nothing can come off it; give --product and --batch instead"]
    wanted = sum(width * length for width, length in told.sizes)
    left = gone.unaccounted_mm2 + gone.binned_mm2
    if wanted <= left:
        return []
    return [
        f"{square_metres(wanted)} m² cannot come off {tag}: beside its pieces and what came back before, only "
        f"{square_metres(left)} m² of it is left; when it came back from a site, give --product "
        f"{shlex.quote(gone.item.product)} --batch {shlex.quote(gone.item.batch)} instead"
    ]


def _cost(rows: Rows, told: Told) -> int:
    """What grass of this batch cost, else of this product in the yard, else what it is bought for at the cheapest."""
    from stockplan.domain.quote import offer_per_m2  # noqa: PLC0415
    from stockplan.store.offer_rows import read_offers  # noqa: PLC0415

    asked = {"product": told.product, "batch": told.batch}
    one_batch = "product = :product AND batch = :batch AND batch <> ''"
    for query in (
        f"SELECT max(cost_pence_per_m2) FROM stock_item WHERE {one_batch}",
        f"SELECT max(cost_pence_per_m2) FROM gone_item WHERE {one_batch}",
        "SELECT min(cost_pence_per_m2) FROM stock_item WHERE product = :product",
    ):
        values = asked if ":batch" in query else {"product": told.product}
        for (found,) in rows.run(query, values):
            if found is not None:
                return int(found)
    return min(map(offer_per_m2, read_offers(rows, [told.product])), default=0)
