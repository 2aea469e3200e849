"""The yard as the derived tables have it, read without going through the ledger."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from operator import attrgetter
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session
from sqlalchemy.sql.elements import ColumnElement

from stockplan.domain.ledger import Account, CutPiece, Gone, Hold, MovementKind, PieceCut, Yard
from stockplan.domain.stock import StockForm, StockItem
from stockplan.store.tables import GoneItemRow, MovementRow, PieceCutRow, StockItemRow, YardAccountRow

_FEW = 500  # look up so many tags at once; more, and stock is read whole
_FORMS = {form.value: form for form in StockForm}
ITEM_COLUMNS = ("tag", "product", "batch", "form", "width_mm", "length_mm", "bay", "cost_pence_per_m2")
ACCOUNT_COLUMNS = (
    "area_in_mm2",
    "area_used_mm2",
    "area_written_off_mm2",
    "value_in",
    "value_used",
    "value_written_off",
)
_PIECE_COLUMNS = ("source", "job", "strip", "number", "width_mm", "length_mm", "spoiled")


def read_stock(session: Session, tags: Iterable[str] | None = None) -> list[StockItem]:
    """Read what lies in the yard, in order of tag.

    Parameters
    ----------
    tags
        Only these; default all.
    """
    query = select(*(getattr(StockItemRow, name) for name in ITEM_COLUMNS))
    wanted = None if tags is None else set(tags)
    if wanted is not None and len(wanted) <= _FEW:
        query = query.where(StockItemRow.tag.in_(wanted))
        wanted = None
    items = [_item(row) for row in session.execute(query) if wanted is None or row[0] in wanted]
    return sorted(items, key=attrgetter("tag"))


def read_gone(session: Session, tags: Iterable[str]) -> set[str]:
    """Say which of these tags were in the yard once and are no longer."""
    return {tag for few in _by_few(tags) for tag in session.scalars(select(GoneItemRow.tag).where(_in(few)))}


def _in(few: Sequence[str]) -> ColumnElement[bool]:
    return GoneItemRow.tag.in_(few)


def _by_few(tags: Iterable[str]) -> Iterator[list[str]]:
    rest = iter(sorted(set(tags)))
    while few := list(islice(rest, _FEW)):
        yield few


def ledger_end(session: Session) -> int:
    """Give the number of the last movement; 0 when nothing has happened yet."""
    return session.scalar(select(func.max(MovementRow.number))) or 0


def read_yard(session: Session, tags: Iterable[str] | None = None) -> Yard:
    """Read the yard with every promise about what lies in it.

    Parameters
    ----------
    tags
        Only these, and then also those of them that have left the yard, with the pieces they were cut into. Default
        everything that lies in the yard, and nothing that has left it.

    Returns
    -------
    Yard
        Its account is that of the whole yard. It knows no last movements, so it cannot reverse one.
    """
    yard = Yard(account=read_account(session), number=ledger_end(session))
    wanted = None if tags is None else set(tags)
    few = wanted is not None and len(wanted) <= _FEW
    promises = ("plan", "quote", "held_until", "condition", "last_seen", "since", "parent")
    query = select(*(getattr(StockItemRow, name) for name in (*ITEM_COLUMNS, *promises)))
    if wanted is not None and few:
        query = query.where(StockItemRow.tag.in_(wanted))
    for row in session.execute(query.order_by(StockItemRow.tag)):
        if wanted is None or few or row[0] in wanted:
            _lies(yard, row)
    if wanted is not None:
        _read_gone_items(session, yard, wanted)
    return yard


def read_everything(session: Session) -> tuple[Yard, dict[str, int]]:
    """Read all that is derived from the ledger, also what has left the yard, and the last movement of each tag."""
    yard = read_yard(session)
    _read_gone_items(session, yard, list(session.scalars(select(GoneItemRow.tag))))
    last: dict[str, int] = {}
    for table in (StockItemRow, GoneItemRow):
        last |= {tag: number for tag, number in session.execute(select(table.tag, table.latest))}  # noqa: C416
    return yard, last


def _lies(yard: Yard, row: Sequence[Any]) -> None:
    tag, (plan, quote, until, condition, last_seen, since, parent) = row[0], row[8:]
    yard.items[tag] = _item(row)
    if plan is not None:
        yard.reservations[tag] = plan
    if quote is not None:
        yard.holds[tag] = Hold(quote, until)
    if condition is not None:
        yard.conditions[tag] = condition
    if last_seen is not None:
        yard.last_seen[tag] = last_seen
    if since is not None:
        yard.since[tag] = since
    if parent is not None:
        yard.parents[tag] = parent


def _read_gone_items(session: Session, yard: Yard, tags: Iterable[str]) -> None:
    more = ("how", "plan", "returned_mm2", "binned_mm2", "parent")
    columns = [getattr(GoneItemRow, name) for name in (*ITEM_COLUMNS, *more)]
    for few in _by_few(tags):
        pieces: dict[str, list[CutPiece]] = {}
        cuts = select(*(getattr(PieceCutRow, name) for name in _PIECE_COLUMNS))
        for source, *piece in session.execute(
            cuts.where(PieceCutRow.source.in_(few)).order_by(PieceCutRow.source, PieceCutRow.position)
        ):
            pieces.setdefault(source, []).append(CutPiece(*piece))
        for row in session.execute(select(*columns).where(_in(few))):
            how, plan, returned_mm2, binned_mm2, parent = row[8:]
            made = tuple(pieces.get(row[0], ()))
            yard.gone[row[0]] = Gone(_item(row), MovementKind(how), plan, made, returned_mm2, binned_mm2)
            if parent is not None:
                yard.parents[row[0]] = parent


def read_account(session: Session) -> Account:
    """Read the account of area and money."""
    row = session.execute(select(*(getattr(YardAccountRow, name) for name in ACCOUNT_COLUMNS))).one_or_none()
    return Account() if row is None else Account(*row)


def read_cut_so_far(session: Session, jobs: Iterable[str] | None = None) -> dict[tuple[str, str], tuple[PieceCut, ...]]:
    """Read the sound pieces cut so far by job and strip, in order of number; see `Yard.cut_so_far`.

    Parameters
    ----------
    jobs
        Only for these; default all.
    """
    columns = (
        PieceCutRow.job,
        PieceCutRow.strip,
        PieceCutRow.number,
        PieceCutRow.width_mm,
        PieceCutRow.length_mm,
        PieceCutRow.source,
        GoneItemRow.batch,
    )
    query = select(*columns).join(GoneItemRow, GoneItemRow.tag == PieceCutRow.source).where(~PieceCutRow.spoiled)
    wanted = None if jobs is None else set(jobs)
    if wanted is not None and len(wanted) <= _FEW:
        query = query.where(PieceCutRow.job.in_(wanted))
    found: dict[tuple[str, str], list[PieceCut]] = {}
    for job, strip, number, width_mm, length_mm, source, batch in session.execute(query):
        if wanted is None or job in wanted:
            made = PieceCut(number, width_mm, length_mm, source, batch or f"unknown ({source})")
            found.setdefault((job, strip), []).append(made)
    return {key: tuple(sorted(cuts, key=attrgetter("number", "source"))) for key, cuts in sorted(found.items())}


def _item(row: Sequence[Any]) -> StockItem:
    tag, product, batch, form, width_mm, length_mm, bay, cost = row[:8]
    return StockItem(tag, product, batch, _FORMS[form], width_mm, length_mm, bay, cost)
