"""A thing comes into the yard that no order announced, and is measured."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from stockplan.actions.meant import known, no_product
from stockplan.actions.yard_work import Done, look_at, write_about
from stockplan.domain.as_typed import argument
from stockplan.domain.ledger import Entry, Yard, corrected, counted, received
from stockplan.domain.stock import StockItem
from stockplan.errors import StockplanError, StoreError

if TYPE_CHECKING:
    from stockplan.store.rows import Rows


def receive(where: str | None, item: StockItem, why: str = "", delivery: str = "", *, as_typed: bool = False) -> Done:
    """Take something into the yard that no order announced.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    item
        As it was measured; every field is checked, and all that is wrong is told at once.
    why
        A remark; default none.
    delivery
        Number of a delivery note; default none.
    as_typed
        That across and along are not exchanged, however it looks.

    Raises
    ------
    StockplanError
        When a field cannot be, the product is unknown, the tag was used before, the delivery is an order that is still
        to come, tag, batch or bay are spelt otherwise than in the yard, or across and along look exchanged.
    StoreError
        When the store cannot be read or written.
    """
    from stockplan.actions.every_fault import check_all, every_fault  # noqa: PLC0415 - only here
    from stockplan.actions.spelling import check_spelling  # noqa: PLC0415 - only here
    from stockplan.actions.typed import check_item  # noqa: PLC0415 - only here

    def check_rest(rows: Rows) -> None:
        check_all(
            lambda: _check_product(rows, item.product),
            lambda: _check_delivery(rows, delivery),
            lambda: check_spelling(rows, item.product, item.batch, item.tag, item.bay),
            lambda: _check_sides(rows, item, as_typed=as_typed),
        )

    def check_store(rows: Rows, yard: Yard) -> None:
        check_all(lambda: check_rest(rows), lambda: check_unused(yard, item.tag))

    with every_fault(lambda: look_at(where, item.tag, check_store)):
        check_item(item, delivery)

    def entries(rows: Rows, yard: Yard) -> list[Entry]:
        with every_fault(lambda: check_unused(yard, item.tag)):
            check_rest(rows)
        return [received(item, why, delivery=delivery)]

    return write_about(where, item.tag, entries)


def measure(
    where: str | None,
    tag: str,
    size_mm: tuple[int, int] | None,
    cost_pence_per_m2: int | None = None,
    why: str = "",
    *,
    as_typed: bool = False,
) -> Done:
    """Put an item's size, or what it cost, right; a size found as recorded counts as having been seen.

    Parameters
    ----------
    where, tag
        The store, and which item.
    size_mm
        Across and along the pile, mm; None leaves it.
    cost_pence_per_m2
        Default leave it.
    why
        A remark; default none.
    as_typed
        That across and along are not exchanged, however it looks.

    Raises
    ------
    StockplanError
        When the size cannot be, or across and along look exchanged.
    StoreError
        When the tag is not in the yard, or the store cannot be read or written.
    """
    from stockplan.actions.every_fault import every_fault  # noqa: PLC0415 - only here
    from stockplan.actions.typed import check_measured  # noqa: PLC0415 - only here

    def found(rows: Rows, yard: Yard) -> StockItem:
        before = known(rows, yard, tag)
        if size_mm is not None and not as_typed and (why_odd := _exchanged(rows, before, size_mm)):
            raise StockplanError(
                f"{why_odd}: are across and along exchanged? give it the other way round, or add --as-typed"
            )
        return before

    with every_fault(lambda: look_at(where, tag, found)):
        check_measured(size_mm, cost_pence_per_m2)

    def entries(rows: Rows, yard: Yard) -> list[Entry]:
        before = found(rows, yard)
        width_mm, length_mm = size_mm or (before.width_mm, before.length_mm)
        cost = before.cost_pence_per_m2 if cost_pence_per_m2 is None else cost_pence_per_m2
        after = replace(before, width_mm=width_mm, length_mm=length_mm, cost_pence_per_m2=cost)
        return [corrected(before, after, why or "measured") if after != before else counted(tag, why or "as recorded")]

    return write_about(where, tag, entries)


def exchanged_sides(where: str | None, tag: str, size_mm: tuple[int, int], cost_pence_per_m2: int | None = None) -> str:
    """Say why across and along look exchanged in what was measured; empty when they do not.

    Parameters
    ----------
    where, tag
        As for `measure`.
    size_mm
        As measured, across and along, mm.
    cost_pence_per_m2
        Told with the size; default none, and it stays as it is.

    Raises
    ------
    StockplanError
        When the tag is not in the yard and something else of it cannot be; names all of it.
    StoreError
        When the tag is not in the yard, or the store cannot be read.
    """
    from stockplan.actions.every_fault import every_fault  # noqa: PLC0415 - only here
    from stockplan.actions.typed import check_measured  # noqa: PLC0415 - only here

    with every_fault(lambda: check_measured(size_mm, cost_pence_per_m2)):
        return look_at(where, tag, lambda rows, yard: _exchanged(rows, known(rows, yard, tag), size_mm))


def _exchanged(rows: Rows, before: StockItem, size_mm: tuple[int, int]) -> str:
    from stockplan.domain.offcut import exchanged  # noqa: PLC0415 - only here
    from stockplan.store.plan_rows import read_full_widths  # noqa: PLC0415

    widest = read_full_widths(rows, [before.product]).get(before.product, 0)
    return exchanged(size_mm, (before.width_mm, before.length_mm), widest)


def looks_turned(where: str | None, product: str, size_mm: tuple[int, int]) -> str:
    """Say why across and along look exchanged in a new thing; empty when they do not.

    Parameters
    ----------
    where, product
        The store, and what grass it is.
    size_mm
        As measured, across and along, mm.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    return look_at(where, "", lambda rows, _: _turned(rows, product, size_mm))


def _turned(rows: Rows, product: str, size_mm: tuple[int, int]) -> str:
    from stockplan.domain.offcut import too_wide  # noqa: PLC0415 - only here
    from stockplan.store.plan_rows import read_full_widths  # noqa: PLC0415

    return too_wide(size_mm, read_full_widths(rows, [product]).get(product, 0))


def _check_sides(rows: Rows, item: StockItem, *, as_typed: bool) -> None:
    odd = "" if as_typed else _turned(rows, item.product, (item.width_mm, item.length_mm))
    if odd:
        raise StockplanError(f"{odd}: are across and along exchanged? give it the other way round, or add --as-typed")


def check_unused(yard: Yard, tag: str) -> None:
    """Check that nothing ever bore a tag.

    Raises
    ------
    StoreError
        When something did.
    """
    if tag in yard.items or tag in yard.gone:
        see = f"see: stockplan history {argument(tag)}"
        raise StoreError(f"{tag} was received before; give the new thing a tag of its own; {see}")


def _check_delivery(rows: Rows, delivery: str) -> None:
    """Refuse what came for an order: taken in beside it, the order would be waited for all the same."""
    from stockplan.store.plan_rows import read_lines  # noqa: PLC0415 - only where a delivery is named

    if delivery and any(line.key == delivery and line.coming for line in read_lines(rows)):
        raise StockplanError(
            f"delivery: an order that is still to come, found {delivery}; take in what came for it with: "
            f"stockplan receive-order {delivery}"
        )


def _check_product(rows: Rows, code: str) -> None:
    codes = {found for (found,) in rows.run("SELECT code FROM product")}
    if code not in codes:
        raise StockplanError(no_product(code, codes))
