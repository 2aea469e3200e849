"""Bringing the tables derived from the ledger to what the yard is after some movements."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict
from typing import Any

from stockplan.domain.ledger import Account, Gone, Yard
from stockplan.domain.stock import StockItem
from stockplan.store.rows import Rows, inserting
from stockplan.store.yard_rows import ACCOUNT_COLUMNS, PIECE_COLUMNS

ByTag = dict[str, dict[str, Any]]


def write_derived(rows: Rows, before: Yard, after: Yard, tags: Iterable[str]) -> None:
    """Write what has changed about some tags, and the account.

    Parameters
    ----------
    before
        What the tables hold of these tags.
    after
        What they should hold; `latest` gives the last movement of each tag that had one.
    tags
        Every tag that may have changed.
    """
    known = sorted(tags)
    cut_no_more = [{"tag": tag} for tag, gone in before.gone.items() if gone.pieces and tag not in after.gone]
    if cut_no_more:
        rows.run_each("DELETE FROM piece_cut WHERE source = :tag", cut_no_more)
    _bring(rows, "gone_item", _gone_rows(before, known), _gone_rows(after, known), after)
    _bring(rows, "stock_item", _stock_rows(before, known), _stock_rows(after, known), after)
    pieces = [row for tag in known if tag not in before.gone for row in _piece_rows(tag, after.gone.get(tag))]
    if pieces:
        rows.run_each(inserting("piece_cut", ("source", "position", *PIECE_COLUMNS)), pieces)
    _write_account(rows, after.account)


def _bring(rows: Rows, table: str, before: ByTag, after: ByTag, yard: Yard) -> None:
    removed = [{"tag": tag} for tag in before if tag not in after]
    if removed:
        rows.run_each(f"DELETE FROM {table} WHERE tag = :tag", removed)
    numbered = {tag: {**row, "latest": yard.latest[tag].number} for tag, row in after.items() if tag in yard.latest}
    added = [row for tag, row in numbered.items() if tag not in before]
    if added:
        rows.run_each(inserting(table, added[0]), added)
    changed = [row for tag, row in numbered.items() if tag in before]
    passive = [row for tag, row in after.items() if tag not in numbered and before.get(tag) != row]
    for some in (changed, passive):  # what came off an item is no movement of its own
        if some:
            new = ", ".join(f"{name} = :{name}" for name in some[0] if name != "tag")
            rows.run_each(f"UPDATE {table} SET {new} WHERE tag = :tag", some)


def _write_account(rows: Rows, account: Account) -> None:
    rows.run("DELETE FROM yard_account")
    rows.run(inserting("yard_account", ("number", *ACCOUNT_COLUMNS)), {"number": 1, **asdict(account)})


def _stock_rows(yard: Yard, tags: Iterable[str]) -> ByTag:
    rows = {}
    for tag in tags:
        if tag in yard.items:
            hold = yard.holds.get(tag)
            rows[tag] = {
                **_item_row(yard.items[tag]),
                "plan": yard.reservations.get(tag),
                "quote": hold.quote if hold else None,
                "held_until": hold.until if hold else None,
                "condition": yard.conditions.get(tag),
                "last_seen": yard.last_seen.get(tag),
                "since": yard.since.get(tag),
                "parent": yard.parents.get(tag),
            }
    return rows


def _gone_rows(yard: Yard, tags: Iterable[str]) -> ByTag:
    rows = {}
    for tag in tags:
        if (gone := yard.gone.get(tag)) is not None:
            rows[tag] = {
                **_item_row(gone.item),
                "how": gone.how.value,
                "plan": gone.plan,
                "returned_mm2": gone.returned_mm2,
                "binned_mm2": gone.binned_mm2,
                "parent": yard.parents.get(tag),
            }
    return rows


def _piece_rows(tag: str, gone: Gone | None) -> list[dict[str, Any]]:
    pieces = gone.pieces if gone is not None else ()
    return [{"source": tag, "position": number, **asdict(piece)} for number, piece in enumerate(pieces)]


def _item_row(item: StockItem) -> dict[str, Any]:
    return {
        "tag": item.tag,
        "product": item.product,
        "batch": item.batch,
        "form": item.form.value,
        "width_mm": item.width_mm,
        "length_mm": item.length_mm,
        "bay": item.bay,
        "cost_pence_per_m2": item.cost_pence_per_m2,
    }
