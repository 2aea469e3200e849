"""Which tag, job, bay, batch or product may be meant by a name that nothing has, and what became of a tag not there."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import TYPE_CHECKING

from stockplan.domain.as_typed import argument
from stockplan.domain.stock import StockItem
from stockplan.domain.tags import is_misread, tidied
from stockplan.domain.units import size
from stockplan.errors import StoreError
from stockplan.store.sheet_spelling import folded

if TYPE_CHECKING:
    from stockplan.domain.ledger import Yard
    from stockplan.store.rows import Rows

MOST = 3  # names told; more of them help nobody
ALIKE = 0.6  # of two names, from 0 to 1; so much of it helps somebody


def known(rows: Rows, yard: Yard, tag: str) -> StockItem:
    """Look up an item that must be in the yard.

    Parameters
    ----------
    rows
        For finding tags that may be meant.
    yard
        What was read of this tag.
    tag
        As typed.

    Raises
    ------
    StoreError
        When it is not there; says what became of it, or which tag may be meant.
    """
    try:
        return yard.item(tag)
    except ValueError as error:
        if tag in yard.gone:
            was = yard.gone[tag].item
            raise StoreError(
                f"{error}; it measured {size(was.width_mm, was.length_mm)}; see: stockplan history {argument(tag)}"
            ) from error
        if any(True for _ in rows.run("SELECT number FROM movement WHERE tag = :tag LIMIT 1", {"tag": tag})):
            raise StoreError(
                f"{tag} is on record no more, as its arrival was reversed; see: stockplan history {argument(tag)}"
            ) from error
        near = meant(rows, tag) or "; stockplan stock lists what is there"
        raise StoreError(f"{error}{near}") from error


def near_tags(rows: Rows, tag: str) -> list[str]:
    """Find tags that differ only in letter case, spaces, dashes and zeros before, what has left the yard last.

    At most three. Spreadsheet programs drop the zeros of a tag such as 0147.

    Where there is none, those that go on after what was typed, as "C-115, no arrow" does after C-115; else, where the
    check letter says that a character was misread, those that differ in one character or in two neighbours exchanged.
    """
    lying, gone = (
        sorted(one for (one,) in rows.run(f"SELECT tag FROM {name}")) for name in ("stock_item", "gone_item")
    )
    known_tags, wanted = [*lying, *gone], _plain(tag)
    alike = [one for one in known_tags if _plain(one) == wanted] or [one for one in lying if _goes_on(one, tag)]
    if not alike and is_misread(tag):
        typed = tidied(tag).upper()
        alike = [one for one in known_tags if _one_slip(one.upper(), typed)]
    return alike[:MOST]


def jobs_meant(rows: Rows, codes: Iterable[str]) -> str:
    """Say which jobs may be meant by codes that no job has, spelt otherwise, as the end of a sentence; else empty."""
    alike = {folded(code) for code in codes}
    near = sorted(code for (code,) in rows.run("SELECT code FROM job") if folded(code) in alike)
    return f"; perhaps {' and '.join(near[:MOST])} {'is' if len(near) == 1 else 'are'} meant" if near else ""


def _goes_on(tag: str, typed: str) -> bool:
    """Whether a tag begins with a whole word that was typed, and says more."""
    begun = typed.strip().casefold()
    rest = tag[len(begun) :]
    return len(begun) > 1 and tag.casefold().startswith(begun) and bool(rest) and not rest[0].isalnum()


def _plain(tag: str) -> str:
    return tag.replace(" ", "").replace("-", "").upper().lstrip("0")


def _one_slip(tag: str, typed: str) -> bool:
    """Whether a tag became another by one letter or digit misread, or by two neighbours exchanged."""
    if len(tag) != len(typed):
        return False
    places = [place for place, (one, other) in enumerate(zip(tag, typed, strict=True)) if one != other]
    if not all(typed[place].isalnum() for place in places) or not 0 < len(places) < 3:
        return False
    first, last = places[0], places[-1]
    return first == last or (last == first + 1 and tag[first : last + 1] == typed[last] + typed[first])


def meant(rows: Rows, tag: str) -> str:
    """Say which tag may be meant, as the end of a sentence; empty when nothing is like it.

    What is written on paper beside tags is told, too: keys of orders, and names of pieces.
    """
    if told := _order(rows, tag) or _piece(rows, tag):
        return f"; {told}"
    misread = "; its last letter does not fit the rest, so a character was misread" if is_misread(tag) else ""
    near = near_tags(rows, tag)
    return f"{misread}; perhaps {' or '.join(near)} is meant" if near else misread


def _order(rows: Rows, key: str) -> str:
    """Say under which tag an order came in, if it did; empty where the key is of none."""
    if not any(True for _ in rows.run("SELECT key FROM order_line WHERE key = :key", {"key": key})):
        return ""
    came = sorted(tag for (tag,) in rows.run("SELECT tag FROM order_receipt WHERE order_key = :key", {"key": key}))
    return f"it is the key of an order {f'that came in as {came[0]}' if came else 'of which nothing has come'}"


def _piece(rows: Rows, code: str) -> str:
    """Say what a piece was or is to be cut from; empty where the code is of none."""
    from stockplan.actions.tracing import piece_words_of  # noqa: PLC0415 - which asks here, too

    if code.count("/") < 2:  # no job, strip and number
        return ""
    if told := piece_words_of(rows, code):
        return f"it{told.removeprefix(code)}"
    capitals = code.upper()
    return f"perhaps the piece {capitals} is meant" if code != capitals and piece_words_of(rows, capitals) else ""


def no_product(code: str, products: Collection[str]) -> str:
    """Say that the store knows no product of this code, and which it knows.

    Parameters
    ----------
    code
        As typed; several with a comma between.
    products
        Codes of those it knows.
    """
    listed = ", ".join(sorted(products)) or "none yet; import products.csv first"
    return f"the store knows no product {code}; it knows: {listed}"


def bays_meant(where: str | None, bay: str) -> str:
    """Do as `bays_like`, outside a transaction.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    bay
        As typed.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.rows import rows_of  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        return bays_like(rows_of(source), bay)


def bays_like(rows: Rows, bay: str) -> str:
    """Say which bays may be meant by the name of one in which nothing lies, as the end of a sentence.

    Where no name is like it, some of those are named in which something lies; empty when there are none, or it is one.

    Parameters
    ----------
    rows
        Where to look.
    bay
        As typed.
    """
    bays = {found for (found,) in rows.run("SELECT DISTINCT bay FROM stock_item")} - {""}
    if not bays or bay in bays:
        return ""
    if near := _like(bay, bays):
        return f"; perhaps {near} is meant"
    others = " and others" if len(bays) > MOST else ""
    return f"; something lies in {', '.join(sorted(bays)[:MOST])}{others}"


def alike_in_yard(where: str | None, tag: str) -> str:
    """Give the tag of another thing in the yard that differs only in letter case, spaces, dashes and zeros before.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    tag
        Of a thing that came in just now.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.rows import rows_of  # noqa: PLC0415

    plain = "ltrim(upper(replace(replace(tag, ' ', ''), '-', '')), '0')"
    with open_yard(where) as store, store.reading() as source:
        query = f"SELECT tag FROM stock_item WHERE {plain} = :plain AND tag <> :tag"
        return min((one for (one,) in rows_of(source).run(query, {"plain": _plain(tag), "tag": tag})), default="")


def new_bay(where: str | None, bay: str, tags: Collection[str]) -> str:
    """Say that nothing else is on record in a bay where something was put just now, and which bay may be meant.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    bay
        As typed; empty is nowhere.
    tags
        What was put there.

    Returns
    -------
    str
        A sentence without its stop; empty where something else lies there or did when it left, and in an empty yard.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.rows import rows_of  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        rows = rows_of(source)
        here = {tag for (tag,) in rows.run("SELECT tag FROM stock_item WHERE bay = :bay", {"bay": bay})}
        others = {found for (found,) in rows.run("SELECT DISTINCT bay FROM stock_item")} - {bay, ""}
        if not bay or not others or here - set(tags):
            return ""
        if any(True for _ in rows.run("SELECT tag FROM gone_item WHERE bay = :bay LIMIT 1", {"bay": bay})):
            return ""
    near = _like(bay, others)
    return f"Nothing else is on record in bay {bay}{f'; perhaps {near} is meant' if near else ''}"


def batches_meant(where: str | None, batch: str) -> str:
    """Say which batches may be meant by the name of one of which nothing lies in the yard; empty where none is like it.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    batch
        As typed.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.rows import rows_of  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        batches = {found for (found,) in rows_of(source).run("SELECT DISTINCT batch FROM stock_item")} - {""}
    near = "" if batch in batches else _like(batch, batches)
    return f"; perhaps {near} is meant" if near else ""


def _like(typed: str, names: set[str]) -> str:
    """Names that are most like what was typed, with `or` between them; empty where none is."""
    from difflib import SequenceMatcher  # noqa: PLC0415

    alike = {name: SequenceMatcher(None, typed.casefold(), name.casefold()).ratio() for name in names}
    near = [name for name in sorted(names, key=lambda name: (-alike[name], name)) if alike[name] >= ALIKE]
    return " or ".join(near[:MOST])
