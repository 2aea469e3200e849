"""The yard as the derived tables have it, read without going through the ledger."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from operator import attrgetter, itemgetter
from typing import TYPE_CHECKING, Any

from stockplan.domain.ledger import Account, CutPiece, Gone, Hold, MovementKind, PieceCut, Yard
from stockplan.domain.stock import StockForm, StockItem, batch_key
from stockplan.errors import StoreDamaged
from stockplan.store.rows import FEW, Kinds, Rows, among, as_day, by_few, rows_of

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

ITEM_COLUMNS = ("tag", "product", "batch", "form", "width_mm", "length_mm", "bay", "cost_pence_per_m2")
PROMISE_COLUMNS = ("plan", "quote", "held_until", "condition", "last_seen", "since", "parent")
GONE_COLUMNS = ("how", "plan", "returned_mm2", "binned_mm2", "parent")
PIECE_COLUMNS = ("job", "strip", "number", "width_mm", "length_mm", "spoiled")
ACCOUNT_COLUMNS = (
    "area_in_mm2",
    "area_used_mm2",
    "area_written_off_mm2",
    "value_in",
    "value_used",
    "value_written_off",
)
_FORMS = {form.value: form for form in StockForm}
_TEXT, _WHOLE, _NONE = (str,), (int,), type(None)
_ITEM_KINDS = (_TEXT, _TEXT, _TEXT, _TEXT, _WHOLE, _WHOLE, _TEXT, _WHOLE)
_DAY = (date, str, _NONE)
_ITEM = Kinds("stock_item", *_ITEM_KINDS)
_PROMISED = Kinds("stock_item", *_ITEM_KINDS, (int, _NONE), (str, _NONE), _DAY, (str, _NONE), _DAY, _DAY, (str, _NONE))
_GONE = Kinds("gone_item", *_ITEM_KINDS, _TEXT, (int, _NONE), _WHOLE, _WHOLE, (str, _NONE))
_PIECE = Kinds("piece_cut", _TEXT, _TEXT, _TEXT, _WHOLE, _WHOLE, _WHOLE, (bool, int))
_ACCOUNT = Kinds("yard_account", _WHOLE, _WHOLE, _WHOLE, _WHOLE, _WHOLE, _WHOLE)
_LAST = Kinds("stock_item or gone_item", _TEXT, _WHOLE)


def read_stock(source: Session | Rows, tags: Iterable[str] | None = None) -> list[StockItem]:
    """Read what lies in the yard, in order of tag.

    Parameters
    ----------
    tags
        Only these; default all.
    """
    query = f"SELECT {', '.join(ITEM_COLUMNS)} FROM stock_item"
    rows, wanted = rows_of(source), None if tags is None else set(tags)
    values: dict[str, str] = {}
    if wanted is not None and len(wanted) <= FEW:
        condition, values = among("tag", wanted)
        query, wanted = f"{query} WHERE {condition}", None
    items = []
    for row in rows.run(query, values):
        if wanted is None or row[0] in wanted:
            _ITEM.check(row)
            items.append(_item(row))
    return sorted(items, key=attrgetter("tag"))


def read_gone(source: Session | Rows, tags: Iterable[str] | None = None) -> set[str]:
    """Say which of these tags, default of all, were in the yard once and are no longer."""
    rows, gone = rows_of(source), set()
    if tags is None:
        return {tag for (tag,) in rows.run("SELECT tag FROM gone_item")}
    for few in by_few(tags):
        condition, values = among("tag", few)
        gone |= {tag for (tag,) in rows.run(f"SELECT tag FROM gone_item WHERE {condition}", values)}
    return gone


def read_left_of(source: Session | Rows, tags: Iterable[str]) -> dict[str, list[str]]:
    """Say what lies in the yard of things that have left it: what was cut from them, or from what was; in order of tag.

    Parameters
    ----------
    tags
        Of things that have left the yard.
    """
    rows, left = rows_of(source), {tag: list[str]() for tag in tags}
    if not left:
        return left
    gone = {tag: parent for tag, parent in rows.run("SELECT tag, parent FROM gone_item")}  # noqa: C416
    lies = {tag: parent for tag, parent in rows.run("SELECT tag, parent FROM stock_item")}  # noqa: C416
    for tag in sorted(lies):
        cut_from = lies[tag]
        while cut_from is not None:
            if cut_from in left:
                left[cut_from].append(tag)
            cut_from = gone.get(cut_from)
    return left


def ledger_end(source: Session | Rows) -> int:
    """Give the number of the last movement; 0 when nothing has happened yet."""
    for (number,) in rows_of(source).run("SELECT max(number) FROM movement"):
        return number or 0
    return 0


def read_yard(source: Session | Rows, tags: Iterable[str] | None = None) -> Yard:
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
    rows = rows_of(source)
    wanted = None if tags is None else set(tags)
    if wanted is None or len(wanted) <= FEW:
        condition, values = among("tag", wanted) if wanted is not None else ("1 = 1", {})
        yard = read_yard_where(rows, condition, values)
    else:
        yard = read_yard_where(rows, "1 = 1", {}, wanted)
    if wanted is not None:
        _read_gone_items(rows, yard, wanted)
    return yard


def read_yard_where(rows: Rows, condition: str, values: Mapping[str, Any], only: set[str] | None = None) -> Yard:
    """Read those items in the yard, with every promise about them, for which a condition of SQL holds.

    Parameters
    ----------
    condition
        On the columns of `stock_item`; holds none of a person's words.
    values
        What the names in it stand for.
    only
        And only these tags; default all.
    """
    yard = Yard(account=read_account(rows), number=ledger_end(rows))
    query = f"SELECT {', '.join((*ITEM_COLUMNS, *PROMISE_COLUMNS))} FROM stock_item WHERE {condition}"
    for row in sorted(rows.run(query, values), key=itemgetter(0)):  # by tag
        if only is None or row[0] in only:
            _lies(yard, row)
    return yard


def read_lying(rows: Rows, condition: str, values: Mapping[str, Any]) -> list[Sequence[Any]]:
    """Read what lies in the yard as the table has it, for lists of all of it.

    Parameters
    ----------
    condition, values
        As in `read_yard_where`.

    Returns
    -------
    list of rows
        `ITEM_COLUMNS` and `PROMISE_COLUMNS` of each thing, in no order; days as `as_day` reads them.
    """
    query = f"SELECT {', '.join((*ITEM_COLUMNS, *PROMISE_COLUMNS))} FROM stock_item WHERE {condition}"
    found = list(rows.run(query, values))
    for row in found:
        _PROMISED.check(row)
    return found


def read_everything(source: Session | Rows) -> tuple[Yard, dict[str, int]]:
    """Read all that is derived from the ledger, also what has left the yard, and the last movement of each tag."""
    rows = rows_of(source)
    yard = read_yard(rows)
    _read_gone_items(rows, yard, [tag for (tag,) in rows.run("SELECT tag FROM gone_item")])
    last: dict[str, int] = {}
    for table in ("stock_item", "gone_item"):
        for row in rows.run(f"SELECT tag, latest FROM {table}"):
            _LAST.check(row)
            last[row[0]] = row[1]
    return yard, last


def _lies(yard: Yard, row: Sequence[Any]) -> None:
    _PROMISED.check(row)
    tag, (plan, quote, until, condition, last_seen, since, parent) = row[0], row[8:]
    yard.items[tag] = _item(row)
    if plan is not None:
        yard.reservations[tag] = plan
    if quote is not None and (day := as_day(until)) is not None:
        yard.holds[tag] = Hold(quote, day)
    if condition is not None:
        yard.conditions[tag] = condition
    if (day := as_day(last_seen)) is not None:
        yard.last_seen[tag] = day
    if (day := as_day(since)) is not None:
        yard.since[tag] = day
    if parent is not None:
        yard.parents[tag] = parent


def _read_gone_items(rows: Rows, yard: Yard, tags: Iterable[str]) -> None:
    columns = ", ".join((*ITEM_COLUMNS, *GONE_COLUMNS))
    for few in by_few(tags):
        condition, values = among("source", few)
        query = f"SELECT source, {', '.join(PIECE_COLUMNS)} FROM piece_cut WHERE {condition} ORDER BY source, position"
        pieces: dict[str, list[CutPiece]] = {}
        for row in rows.run(query, values):
            _PIECE.check(row)
            source, job, strip, number, width_mm, length_mm, spoiled = row
            pieces.setdefault(source, []).append(CutPiece(job, strip, number, width_mm, length_mm, bool(spoiled)))
        condition, values = among("tag", few)
        for row in rows.run(f"SELECT {columns} FROM gone_item WHERE {condition}", values):
            _GONE.check(row)
            how, plan, returned_mm2, binned_mm2, parent = row[8:]
            made = tuple(pieces.get(row[0], ()))
            yard.gone[row[0]] = Gone(_item(row), _how(how), plan, made, returned_mm2, binned_mm2)
            if parent is not None:
                yard.parents[row[0]] = parent


def read_account(source: Session | Rows) -> Account:
    """Read the account of area and money."""
    for row in rows_of(source).run(f"SELECT {', '.join(ACCOUNT_COLUMNS)} FROM yard_account"):
        _ACCOUNT.check(row)
        return Account(*row)
    return Account()


def _how(text: str) -> MovementKind:
    try:
        return MovementKind(text)
    except ValueError as error:
        raise StoreDamaged(f"{text!r} stands for how something left the yard") from error


def read_cut_so_far(
    source: Session | Rows, jobs: Iterable[str] | None = None
) -> dict[tuple[str, str], tuple[PieceCut, ...]]:
    """Read the sound pieces cut so far by job and strip, in order of number.

    Parameters
    ----------
    jobs
        Only for these; default all.
    """
    query = (
        "SELECT job, strip, number, piece_cut.width_mm, piece_cut.length_mm, source, batch, product, plan "
        "FROM piece_cut JOIN gone_item ON gone_item.tag = piece_cut.source WHERE NOT spoiled"
    )
    rows, wanted = rows_of(source), None if jobs is None else set(jobs)
    values: dict[str, str] = {}
    if wanted is not None and len(wanted) <= FEW:
        condition, values = among("job", wanted)
        query, wanted = f"{query} AND {condition}", None
    found: dict[tuple[str, str], list[PieceCut]] = {}
    for job, strip, number, width_mm, length_mm, tag, batch, product, plan in rows.run(query, values):
        if wanted is None or job in wanted:
            made = PieceCut(number, width_mm, length_mm, tag, batch_key(batch, tag), product, plan)
            found.setdefault((job, strip), []).append(made)
    return {key: tuple(sorted(cuts, key=attrgetter("number", "source"))) for key, cuts in sorted(found.items())}


def _item(row: Sequence[Any]) -> StockItem:
    tag, product, batch, form, width_mm, length_mm, bay, cost = row[:8]
    return StockItem(tag, product, batch, known_form(tag, form), width_mm, length_mm, bay, cost)


def known_form(tag: str, form: str) -> StockForm:
    """Read in what form a thing lies there.

    Raises
    ------
    StoreDamaged
        When it is none.
    """
    if form not in _FORMS:
        raise StoreDamaged(f"{tag} lies there as {form!r}")
    return _FORMS[form]
