"""Checking a store against itself: the stock against the ledger, the database's own checks, the stored plans."""

from __future__ import annotations

import json

from sqlalchemy import func, select, text
from sqlalchemy.orm import Session

from stockplan.domain.ledger import Yard
from stockplan.domain.stock import StockItem
from stockplan.domain.units import square_metres
from stockplan.store.ledger_rows import read_movements, read_stock
from stockplan.store.tables import MovementRow, StoredPlanRow


def verify_store(session: Session) -> list[str]:
    """Check everything in a store that can be checked from the store alone.

    The whole ledger is replayed and must give the stock item by item; its lines must be numbered without a gap; the
    area that came in must equal what is in stock, used and written off; stored plans must be plan files.

    Returns
    -------
    list of str
        Every fault found, as sentences; empty when all is well.
    """
    yard, faults = _replay(session)
    stock = {item.tag: item for item in read_stock(session)}
    faults += _compare(yard, stock)
    faults += _balance(yard, stock)
    faults += _database_faults(session)
    faults += _plan_faults(session)
    return faults


def _replay(session: Session) -> tuple[Yard, list[str]]:
    yard, faults, last = Yard(), [], 0
    try:
        for movement in read_movements(session):
            if movement.number != last + 1:
                faults.append(f"the ledger goes from movement {last} to {movement.number}; lines are missing")
            last = movement.number
            try:
                yard.apply(movement)
            except ValueError as error:
                faults.append(f"movement {movement.number} cannot have happened: {error}")
    except ValueError as error:
        faults.append(f"the ledger cannot be read beyond movement {last}: {error}")
    count = session.scalar(select(func.count()).select_from(MovementRow))
    if count != last and not faults:
        faults.append(f"the ledger ends at movement {last} but holds {count} lines")
    return yard, faults


def _compare(yard: Yard, stock: dict[str, StockItem]) -> list[str]:
    faults = []
    for tag in sorted(yard.items.keys() | stock.keys()):
        told, held = yard.items.get(tag), stock.get(tag)
        if told == held:
            continue
        if held is None:
            faults.append(f"{tag} is missing from stock; by the ledger it is {told}")
        elif told is None:
            faults.append(f"{tag} is in stock but not by the ledger: {held}")
        else:
            faults.append(f"{tag} in stock is {held}; by the ledger it is {told}")
    return faults


def _balance(yard: Yard, stock: dict[str, StockItem]) -> list[str]:
    held = sum(item.area_mm2 for item in stock.values())
    out = held + yard.area_used_mm2 + yard.area_written_off_mm2
    if yard.area_in_mm2 == out:
        return []
    return [
        f"area does not balance: {square_metres(yard.area_in_mm2)} m² came in, but {square_metres(held)} m² in stock, "
        f"{square_metres(yard.area_used_mm2)} m² used and {square_metres(yard.area_written_off_mm2)} m² written off "
        f"make {square_metres(out)} m²"
    ]


def _database_faults(session: Session) -> list[str]:
    if session.get_bind().dialect.name != "sqlite":
        return []
    said = list(session.scalars(text("PRAGMA integrity_check")))
    faults = [] if said == ["ok"] else [f"the file is damaged: {line}" for line in said]
    for table, row, parent, _ in session.execute(text("PRAGMA foreign_key_check")):
        faults.append(f"row {row} of {table} refers to a {parent} that is not there")
    return faults


def _plan_faults(session: Session) -> list[str]:
    faults = []
    for number, plan_json in session.execute(select(StoredPlanRow.number, StoredPlanRow.plan_json)):
        try:
            plan = json.loads(plan_json)
        except ValueError as error:
            faults.append(f"stored plan {number} cannot be read: {error}")
            continue
        if not isinstance(plan, dict) or plan.get("format") != "stockplan-plan":
            faults.append(f"stored plan {number} is not a plan file")
    return faults
