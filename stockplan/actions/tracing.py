"""What became of a tag, and from which delivery it comes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from stockplan.actions.finding import Found, found_in
from stockplan.domain.as_typed import argument
from stockplan.domain.ledger import Gone, Movement, Origin
from stockplan.errors import StoreError

if TYPE_CHECKING:
    from stockplan.store.rows import Rows


@dataclass(frozen=True, slots=True)
class Story:
    """All there is to tell of a tag.

    Parameters
    ----------
    tag
        Which.
    found
        The thing as it lies in the yard; None when it is gone or its arrival was undone.
    gone
        As it left; None when it is in the yard.
    origin
        Where it comes from; None when its arrival was undone.
    movements
        Everything that happened to it, and what was cut from it.
    """

    tag: str
    found: Found | None
    gone: Gone | None
    origin: Origin | None
    movements: tuple[Movement, ...]


def tell(where: str | None, tag: str, today: date) -> Story:
    """Read what became of a tag, and from which roll, batch and delivery it comes.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    tag
        As written on the item.
    today
        For telling which hold is in force.

    Raises
    ------
    StoreError
        When it was never in the yard, which of a piece names what it was or is to be cut from, or the store cannot be
        read.
    """
    from stockplan.actions.meant import meant  # noqa: PLC0415
    from stockplan.store.ledger_rows import read_history, read_trace, read_yard  # noqa: PLC0415
    from stockplan.store.plan_rows import read_weights  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.rows import rows_of  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        rows = rows_of(source)
        movements = read_history(rows, tag)
        if not movements:
            raise StoreError(piece_words_of(rows, tag) or f"{tag} was never in the yard{meant(rows, tag)}")
        yard = read_yard(rows, [tag])
        present = tag in yard.items or tag in yard.gone
        origin = read_trace(rows, tag) if present else None
        weights = read_weights(rows)
    found = next(iter(found_in(yard, today, weights)), None)
    return Story(tag, found, yard.gone.get(tag), origin, tuple(movements))


def piece_words_of(rows: Rows, code: str) -> str:
    """Say what a piece was or is to be cut from, as the beginning of a sentence; empty where the code is of none.

    Parameters
    ----------
    rows
        Where to look.
    code
        As on its label, such as J224/A/2.
    """
    return _piece(rows, code) or _planned(rows, code)


def _piece(rows: Rows, code: str) -> str:
    """Say what a piece was cut from whose label was read, such as J224/A/2; empty where none of that name was cut."""
    found = list(
        rows.run(
            "SELECT job, source, spoiled FROM piece_cut "
            "WHERE job || '/' || strip || '/' || CAST(number AS TEXT) = :code ORDER BY source, position",
            {"code": code},
        )
    )
    if not found:
        return ""
    sources = {f"{source} (spoiled)" if spoiled else source: source for _, source, spoiled in found}
    asked = " and ".join(f"stockplan history {argument(source)}" for source in dict.fromkeys(sources.values()))
    return f"{code} is a piece for job {found[0][0]}, cut from {' and from '.join(sources)}; see: {asked}"


def _planned(rows: Rows, code: str) -> str:
    """Say what a piece whose label was read is still to be cut from; empty where no accepted plan has one so named."""
    from stockplan.actions.in_force import read_books  # noqa: PLC0415
    from stockplan.domain.came_off import piece_words  # noqa: PLC0415
    from stockplan.store.yard_rows import read_stock  # noqa: PLC0415

    books = read_books(rows) if code.count("/") > 1 else None
    for one in books.standing(read_stock(rows, books.reserved)) if books else ():
        if any(piece_words((piece.job, piece.strip, piece.number)) == code for piece in one.cuts.pieces()):
            tag = one.item.tag
            see = f"stockplan cut {argument(tag)}" if one.item.arrives_on is None else "stockplan orders"
            return f"{code} is a piece that plan {one.plan} is still to cut from {tag}; see: {see}"
    return ""
