"""Checking a store against itself: what is derived against the ledger, the database's own checks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict

from sqlalchemy.orm import Session

from stockplan.domain.ledger import Account, Hold, Yard
from stockplan.domain.pile_direction import job_wish, pile_faults
from stockplan.domain.stock import StockItem
from stockplan.domain.units import money, size, square_metres
from stockplan.errors import StoreError
from stockplan.store.file_faults import file_faults
from stockplan.store.ledger_rows import read_movements
from stockplan.store.repository import read_jobs
from stockplan.store.rows import Rows, rows_of
from stockplan.store.yard_rows import read_everything

_MILLIONTHS = 1_000_000


def verify_store(session: Session) -> list[str]:
    """Check everything in a store that can be checked from the store alone.

    The whole ledger is replayed and must give what lies in the yard, what is promised of it and what has left it, item
    by item, and the account to the square millimetre and the millionth of a penny; its lines must be numbered without
    a gap; what came in must equal what is in stock, used and written off; lawns must have outlines, and pile wishes
    name sides there are.

    Returns
    -------
    list of str
        Every fault found, as sentences; empty when all is well.
    """
    return [*verify_yard(session), *file_faults(session), *_lawn_faults(session)]


def verify_yard(source: Session | Rows) -> list[str]:
    """Check what is derived from the ledger against the ledger, area for area and penny for penny."""
    rows = rows_of(source)
    yard, faults = _replay(rows)
    held, last = read_everything(rows)
    faults += _compare(yard, held)
    faults += _compare_last(yard, held, last)
    return faults + _balance(yard, held)


def _replay(rows: Rows) -> tuple[Yard, list[str]]:
    marked = dict(map(tuple, rows.run("SELECT number, reverses FROM movement WHERE reverses IS NOT NULL")))
    yard, faults, last = Yard(reversed_later=frozenset(marked.values())), [], 0
    try:
        for movement in read_movements(rows):
            if movement.number != last + 1:
                faults.append(f"the ledger goes from movement {last} to {movement.number}; lines are missing")
            last = movement.number
            if marked.get(last) != movement.reverses:
                faults.append(f"movement {last} stands as undoing {marked.get(last)}; it states {movement.reverses}")
            try:
                yard.apply(movement)
            except ValueError as error:
                faults.append(f"movement {movement.number} cannot have happened: {error}")
    except ValueError as error:
        faults.append(f"the ledger cannot be read beyond movement {last}: {error}")
    ((count,),) = rows.run("SELECT count(*) FROM movement")
    if count != last and not faults:
        faults.append(f"the ledger ends at movement {last} but holds {count} lines")
    return yard, faults


def _compare(yard: Yard, held: Yard) -> list[str]:
    faults = []
    for tag in sorted(yard.items.keys() | held.items.keys()):
        told, found = yard.items.get(tag), held.items.get(tag)
        if told is not None and found is None:
            faults.append(f"{tag} is missing from stock; by the ledger it is {_item_words(told)}")
        elif told is None and found is not None:
            faults.append(f"{tag} is in stock but not by the ledger: {_item_words(found)}")
        elif told is not None and found is not None and told != found:
            faults.append(f"{tag} in stock is {_item_words(found)}; by the ledger it is {_item_words(told)}")
    sorts: tuple[tuple[str, Mapping[str, object], Mapping[str, object]], ...] = (
        ("gone", yard.gone, held.gone),
        ("reserved for plan", yard.reservations, held.reservations),
        ("held for", yard.holds, held.holds),
        ("in condition", yard.conditions, held.conditions),
        ("last seen", yard.last_seen, held.last_seen),
        ("in the yard since", yard.since, held.since),
        ("cut from", yard.parents, held.parents),
    )
    for words, ledger, tables in sorts:
        for tag in sorted(ledger.keys() | tables.keys()):
            if ledger.get(tag) != tables.get(tag):
                faults.append(f"{tag} is {words} {_words(tables.get(tag))}; by the ledger {_words(ledger.get(tag))}")
    return faults


def _item_words(item: StockItem) -> str:
    return (
        f"{item.form.value.replace('_', ' ')} {size(item.width_mm, item.length_mm)} m of {item.product}, batch "
        f"{item.batch_key}, bay {item.bay}, {money(item.cost_pence_per_m2)} per m²"
    )


def _words(value: object) -> str:
    """Print what the tables or the ledger have of a thing; nothing where they have nothing."""
    if value is None:
        return "nothing"
    return f"{value.quote} until {value.until}" if isinstance(value, Hold) else str(value)


def _compare_last(yard: Yard, held: Yard, last: Mapping[str, int]) -> list[str]:
    faults = []
    for tag in sorted(held.items.keys() | held.gone.keys()):
        told = yard.latest[tag].number if tag in yard.latest else None
        if last.get(tag) != told:
            faults.append(f"{tag} moved last by movement {last.get(tag)}; by the ledger by {told}")
    return faults


def _balance(yard: Yard, held: Yard) -> list[str]:
    faults = []
    for told, found in ((yard.account, "by the ledger"), (held.account, "by the account")):
        faults += _balance_of(told, held, found)
    if yard.account != held.account:
        faults += [
            f"{name.replace('_', ' ')} in the account is {getattr(held.account, name)}; by the ledger {told}"
            for name, told in asdict(yard.account).items()
            if getattr(held.account, name) != told
        ]
    return faults


def _balance_of(account: Account, held: Yard, found: str) -> list[str]:
    stock = sum(item.area_mm2 for item in held.items.values())
    value = sum(item.area_mm2 * item.cost_pence_per_m2 for item in held.items.values())
    faults = []
    out = stock + account.area_used_mm2 + account.area_written_off_mm2
    if account.area_in_mm2 != out:
        faults.append(
            f"area does not balance: {found} {square_metres(account.area_in_mm2)} m² came in, "
            f"{square_metres(account.area_used_mm2)} m² was used and {square_metres(account.area_written_off_mm2)} m² "
            f"written off; with {square_metres(stock)} m² in stock that makes {square_metres(out)} m², "
            f"{_off(out - account.area_in_mm2, 'mm²')}"
        )
    spent = value + account.value_used + account.value_written_off
    if account.value_in != spent:
        faults.append(
            f"money does not balance: {found} {_amount(account.value_in)} came in, {_amount(account.value_used)} was "
            f"used and {_amount(account.value_written_off)} written off; with {_amount(value)} in stock that makes "
            f"{_amount(spent)}, {_off(spent - account.value_in, 'millionths of a penny')}"
        )
    return faults


def _off(difference: int, unit: str) -> str:
    return f"{abs(difference):,} {unit} too {'much' if difference > 0 else 'little'}"


def _amount(millionths: int) -> str:
    return money((millionths + _MILLIONTHS // 2) // _MILLIONTHS)


def _lawn_faults(session: Session) -> list[str]:
    """Lawns that cannot be read, and pile wishes that cannot be followed."""
    try:
        jobs = read_jobs(session)
    except StoreError as error:
        return [str(error)]
    return [f"job {job.code}: {fault}" for job in jobs for fault in pile_faults(job.lawns, job_wish(job))]
