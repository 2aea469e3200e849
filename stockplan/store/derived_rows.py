"""Bringing the tables derived from the ledger to what the yard is after some movements."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict
from typing import Any

from sqlalchemy import bindparam, delete, insert, update
from sqlalchemy.orm import Session

from stockplan.domain.ledger import Gone, Yard
from stockplan.domain.stock import StockItem
from stockplan.store.tables import Base, GoneItemRow, PieceCutRow, StockItemRow, YardAccountRow

Rows = dict[str, dict[str, Any]]


def write_derived(session: Session, before: Yard, after: Yard, tags: Iterable[str]) -> None:
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
    was_gone, is_gone = (_gone_rows(yard, known) for yard in (before, after))
    cut_before = {tag for tag, gone in before.gone.items() if gone.pieces}
    for tag in cut_before - after.gone.keys():
        session.execute(delete(PieceCutRow).where(PieceCutRow.source == tag))
    _bring(session, GoneItemRow, was_gone, is_gone, after)
    _bring(session, StockItemRow, _stock_rows(before, known), _stock_rows(after, known), after)
    pieces = [row for tag in known if tag not in before.gone for row in _piece_rows(tag, after.gone.get(tag))]
    if pieces:
        session.connection().execute(insert(PieceCutRow), pieces)
    session.execute(delete(YardAccountRow))
    session.execute(insert(YardAccountRow).values(number=1, **asdict(after.account)))


def _bring(session: Session, table: type[Base], before: Rows, after: Rows, yard: Yard) -> None:
    connection = session.connection()
    here = table.tag == bindparam("the_tag")  # type: ignore[attr-defined]
    removed = [{"the_tag": tag} for tag in before if tag not in after]
    if removed:
        connection.execute(delete(table).where(here), removed)
    numbered = {tag: {**row, "latest": yard.latest[tag].number} for tag, row in after.items() if tag in yard.latest}
    added = [row for tag, row in numbered.items() if tag not in before]
    if added:
        connection.execute(insert(table), added)
    changed = [{**row, "the_tag": tag} for tag, row in numbered.items() if tag in before]
    if changed:
        new: dict[str, Any] = {name: bindparam(name) for name in changed[0] if name not in ("tag", "the_tag")}
        connection.execute(update(table).where(here).values(new), changed)
    passive = [{**row, "the_tag": tag} for tag, row in after.items() if tag not in numbered and before.get(tag) != row]
    if passive:  # something came off it; that is no movement of its own
        new = {name: bindparam(name) for name in passive[0] if name not in ("tag", "the_tag")}
        connection.execute(update(table).where(here).values(new), passive)


def _stock_rows(yard: Yard, tags: Iterable[str]) -> Rows:
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


def _gone_rows(yard: Yard, tags: Iterable[str]) -> Rows:
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
    return [
        {"source": tag, "position": number, **asdict(piece)} for number, piece in enumerate(gone.pieces if gone else ())
    ]


def _item_row(item: StockItem) -> dict[str, str | int]:
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
