"""Names spelt in two ways: alike to a person, and two names to the store."""

from __future__ import annotations

from collections.abc import Container, Iterable
from typing import TYPE_CHECKING

from stockplan.store.sheet_faults import FaultLog, shown

if TYPE_CHECKING:
    from stockplan.store.sheet_rules import CheckedSheet

_DASHES = dict.fromkeys(
    (0x2010, 0x2011, 0x2012, 0x2013, 0x2014, 0x2015, 0x2212), "-"
)  # as writing programs put them in


def folded(name: str) -> str:
    """Give what is the same of names that a person takes for one: letter case, kinds of spaces and of dashes aside."""
    return " ".join(name.translate(_DASHES).casefold().split())


def difference(name: str, other: str) -> str:
    """Say in what two names of the same `folded` differ."""
    if name.casefold() == other.casefold():
        return "differs only in letter case from"
    return "differs only in letter case, spaces or dashes from"


def check_spelling(
    sheet: CheckedSheet,
    column: str,
    within: str | None,
    held: Iterable[tuple[str, str]],
    faults: FaultLog,
    rows: Container[object] | None = None,
) -> None:
    """Note names that stand for one thing in many rows and are spelt otherwise in one of them.

    Parameters
    ----------
    sheet
        The sheet that holds them.
    column
        The column they stand in.
    within
        A second column: names are compared where that is the same. None compares all of them.
    held
        What the store has of both, second column first, or nothing in its place: each is spelt as it should be.
    faults
        Where to note them.
    rows
        Those to look at; default all.
    """
    stored = set(held)
    first = {(scope, folded(name)): (name, "one in the store") for scope, name in sorted(stored)}
    names = sheet.frame[[column] if within is None else [within, column]].dropna()
    for row, *scoped, name in names.itertuples(name=None):
        scope = scoped[0] if scoped else ""
        if rows is not None and row not in rows:
            continue
        spelt, where = first.setdefault((scope, folded(name)), (name, f"the one in row {row}"))
        if name != spelt and (scope, name) not in stored:
            right = f"{shown(spelt)}, if it is the same"
            faults.add(sheet.raw.fault(row, column, f"{difference(name, spelt)} {where}", shown(name), right))
