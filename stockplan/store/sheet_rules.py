"""The columns of every sheet, and what must hold within and between sheets.

A column is read once per distinct cell text, not once per row: a hundred thousand rows repeat few sizes and codes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from stockplan.domain.jobs import BatchRule
from stockplan.domain.lawn import LawnPlace
from stockplan.domain.limits import LEAST_STRIP_MM, MOST_LENGTH_MM, MOST_PRICE_PENCE, MOST_WIDTH_MM
from stockplan.domain.pile import PileWish, parse_pile
from stockplan.domain.stock import CUT_LENGTH_LEAST_MM, StockForm, SupplyForm
from stockplan.errors import UnitError
from stockplan.store.sheet_cells import (
    SAVE_AS_UTF8,
    Quantity,
    Rule,
    Wrong,
    batch_name,
    choice,
    code,
    day,
    free_text,
    nearest,
    optional_code,
    read_cell,
    required_text,
    tag_name,
)
from stockplan.store.sheet_faults import WHOLE_ROW, FaultLog, shown
from stockplan.store.sheet_files import UNREADABLE, RawSheet
from stockplan.store.sheet_spelling import difference, folded

if TYPE_CHECKING:
    import pandas

MOST_WEIGHT_G_M2 = 20_000  # the heaviest grass weighs a few kilograms per square metre
MOST_LEAD_DAYS = 365  # an order that takes over a year is not one to plan next week on
MOST_COUNT = 1_000  # more copies of one strip than a stadium needs
MOST_OFFSET_MM = 1_000_000  # a lawn a kilometre from its own reference point is a slip
MOST_CORNER = 10_000  # corners of one lawn
MOST_NAMES_COMPARED = 2_000  # looking for a near name among more would take longer than reading the files
MOST_SUGGESTIONS = 50  # of near names in one column, for the same reason

_LENGTH = Quantity("a length in metres", 3, 1, MOST_LENGTH_MM, "metres, at most 200, the longest roll there is", "3.6")
_WIDTH = Quantity("a width in metres", 3, 1, MOST_WIDTH_MM, "metres, at most 6, wider than any loom", "3.6")
_STRIP_FLOOR = "metres, at least 0.1, less than any strip that is laid"
_STRIP_LENGTH = replace(_LENGTH, least=LEAST_STRIP_MM, floor=_STRIP_FLOOR)
_STRIP_WIDTH = replace(_WIDTH, least=LEAST_STRIP_MM, floor=_STRIP_FLOOR)
_OFFSET = Quantity(
    "metres", 3, -MOST_OFFSET_MM, MOST_OFFSET_MM, "metres, at most 1000 either way from the point measured from", "3.6"
)
_WEIGHT = Quantity("a weight in kg per m²", 3, 1, MOST_WEIGHT_G_M2, "kilograms per m², at most 20", "2.4")
_PRICE = Quantity("an amount", 2, 1, MOST_PRICE_PENCE, "an amount of at most 1000000", "1100.50")
_COST = Quantity("an amount per m²", 2, 0, MOST_PRICE_PENCE, "an amount of at most 1000000", "11.50")
_LEAD = Quantity("a whole number of days", 0, 0, MOST_LEAD_DAYS, "at most 365 days, a year", "5")
_COUNT = Quantity("a whole number of pieces", 0, 1, MOST_COUNT, "at most 1000 pieces of one size in a job", "2", 1)
_NORTH = Quantity("degrees", 3, 0, 359_999, "degrees clockwise from north, below 360", "30")
_CORNER = Quantity("a whole number", 0, 0, MOST_CORNER, "at most 10000, corners of one lawn", "1")


def _part(text: str) -> str | Wrong:
    return text if text in {"edge", "hole"} else Wrong("not one of the words allowed here", "edge or hole")


def _pile_wish(text: str) -> PileWish | Wrong:
    try:
        return parse_pile(text)
    except UnitError as error:
        what, _, right = str(error).partition("; ")
        return Wrong(what, right)


def _yes(text: str) -> bool | Wrong:
    if text.casefold() in {"", "no", "yes"}:
        return text.casefold() == "yes"
    return Wrong("neither yes nor no", "yes, or an empty cell")


def _codes(text: str) -> tuple[str, ...] | Wrong:
    """Take codes with ; between them."""
    taken = tuple(code(part.strip()) for part in text.split(";"))
    wrong = next((part for part in taken if isinstance(part, Wrong)), None)
    return wrong or tuple(part for part in taken if not isinstance(part, Wrong))


# Within a sheet the columns stand in the order of the fields of the domain thing that a row becomes.
COLUMNS: Mapping[str, Mapping[str, Rule]] = {
    "products": {"product": code, "description": free_text, "weight_kg_m2": _WEIGHT},
    "supply": {
        "product": code,
        "supplier": required_text,
        "form": choice(SupplyForm),
        "width_m": _WIDTH,
        "length_m": _LENGTH,
        "price": _PRICE,
        "lead_days": _LEAD,
    },
    "stock": {
        "tag": tag_name,
        "product": code,
        "batch": batch_name,
        "form": choice(StockForm),
        "width_m": _WIDTH,
        "length_m": _LENGTH,
        "bay": optional_code,
        "cost_per_m2": _COST,
    },
    "jobs": {
        "job": code,
        "site": free_text,
        "product": code,
        "lay_on": day,
        "pile_towards": free_text,
        "batch_rule": choice(BatchRule, BatchRule.ONE),
    },
    "strips": {"job": code, "strip": code, "width_m": _STRIP_WIDTH, "length_m": _STRIP_LENGTH, "count": _COUNT},
    "lawns": {"job": code, "lawn": code, "corner": _CORNER, "x_m": _OFFSET, "y_m": _OFFSET, "part": _part},
}


# Columns that a sheet may lack; an empty cell in one says nothing, which is None.
OPTIONAL: Mapping[str, Mapping[str, Rule]] = {
    "jobs": {"pile_wish": _pile_wish},
    "lawns": {
        "edge_name": code,
        "no_seam": _yes,
        "hole": code,
        "place": choice(LawnPlace),
        "north": _NORTH,
        "unseen_from": _codes,
    },
}


@dataclass(frozen=True, slots=True)
class CheckedSheet:
    """One sheet with its cells read.

    Parameters
    ----------
    raw
        The text it was read from.
    frame
        Values by column name; None where a cell could not be taken or its column is missing.
    """

    raw: RawSheet
    frame: pandas.DataFrame

    def values(self, column: str) -> list[Any]:
        """A column's values in row order."""
        return list(self.frame[column])

    def names(self, column: str) -> set[str]:
        """Every name that could be read in a column, or stands in a row of the wrong shape."""
        return set(self.frame[column].dropna()) | self.raw.spilled

    def can_vouch(self, column: str) -> bool:
        """Whether a name that is not in the column is surely not in the file."""
        return self.raw.whole and column in self.raw.header


def read_columns(raw: RawSheet, faults: FaultLog) -> CheckedSheet:
    """Check a sheet's header and read every cell of the columns it should have."""
    import pandas as pd  # noqa: PLC0415  most commands read no spreadsheet

    rules = COLUMNS[raw.name]
    _check_header(raw, faults)
    columns = {}
    for column, rule in rules.items():
        if column in raw.header:
            columns[column] = read_column(raw, column, rule, faults)
        else:
            columns[column] = [None] * len(raw.frame)
    for column, rule in OPTIONAL.get(raw.name, {}).items():
        columns[column] = [None] * len(raw.frame)
        if column in raw.header:
            columns[column] = read_column(raw, column, _unless_empty(rule), faults)
    return CheckedSheet(raw, pd.DataFrame(columns, index=raw.frame.index, dtype=object))


def _unless_empty(rule: Rule) -> Rule:
    return lambda text: rule(text) if text else None


def read_column(raw: RawSheet, column: str, rule: Rule, faults: FaultLog) -> list[object]:
    """Read every cell of a column; None where one could not be taken, and then the fault is noted."""
    texts: list[str] = raw.frame[raw.header.index(column)].tolist()
    results = {text: None if text == UNREADABLE else read_cell(text, rule) for text in set(texts)}
    if not any(isinstance(result, Wrong) for result in results.values()):
        return [results[text] for text in texts]
    values: list[object] = []
    for row, text in zip(raw.frame.index.tolist(), texts, strict=True):
        result = results[text]
        if isinstance(result, Wrong):
            faults.add(raw.fault(row, column, result.what, shown(text), result.right))
            result = None
        values.append(result)
    return values


def _check_header(raw: RawSheet, faults: FaultLog) -> None:
    """Note columns that are missing, unknown, without a name or there twice."""
    needed = list(COLUMNS[raw.name])
    missing = [column for column in needed if column not in raw.header]
    known = [*needed, *OPTIONAL.get(raw.name, {})]
    if len(missing) == len(needed) and not any(nearest(column, known) for column in raw.header):
        found = shown(", ".join(raw.names_of_columns()))
        right = f"in row 1 the names of the columns, {', '.join(needed)}, and nothing above them"
        faults.say_only(raw.fault(1, WHOLE_ROW, "no column of a known name", found, right))
        return
    for position, column in enumerate(raw.header):
        if not column:
            if nameless := raw.nameless(position, f"one of {', '.join(known)}"):
                faults.add(nameless)
        elif column == UNREADABLE:
            continue
        elif raw.header.index(column) < position:
            faults.add(raw.fault(1, column, "a column that is there twice", shown(column), "each column once"))
        elif any("\udc80" <= character <= "\udcff" for character in column):
            faults.add(raw.fault(1, column, "not UTF-8", shown(column), SAVE_AS_UTF8))
        elif column not in known:
            near = nearest(column, [name for name in known if name not in raw.header])
            right = near or f"only the columns {', '.join(known)}"
            faults.add(raw.fault(1, column, "an unknown column", shown(column), right))
    for column in missing:
        found = ", ".join(raw.names_of_columns())
        faults.add(raw.fault(1, column, "a missing column", shown(found), f"a column named {column}"))


def check_unique(
    sheet: CheckedSheet, column: str, faults: FaultLog, within: str | None = None, held: Iterable[str] = ()
) -> None:
    """Note names given twice, and names that a person would take for an earlier one.

    Parameters
    ----------
    sheet
        The sheet whose names are to be unique.
    column
        The column that holds them.
    faults
        Where to note them.
    within
        A second column: the same name may stand again under another value of it.
    held
        Names already in the store: the same name there is an update, one that looks like it is a fault.
    """
    frame = sheet.frame[[column] if within is None else [within, column]].dropna()
    as_stored = set(held)
    in_store = {folded(name): name for name in sorted(as_stored)}
    first: dict[tuple[object, str], tuple[int, str]] = {}
    scopes = [None] * len(frame) if within is None else frame[within].tolist()
    for row, scope, name in zip(frame.index.tolist(), scopes, frame[column].tolist(), strict=True):
        known = name in as_stored
        alike = folded(name)
        earlier_row, earlier = first.setdefault((scope, name if known else alike), (row, name))
        if earlier_row != row:
            what = "given twice" if earlier == name else f"{difference(name, earlier)} an earlier one"
            found = f"{shown(name)}, and {shown(earlier)} in row {earlier_row}"
            faults.add(sheet.raw.fault(row, column, what, found, "a name that no other row has"))
        elif not known and alike in in_store:
            stored = in_store[alike]
            what = f"{difference(name, stored)} one in the store"
            faults.add(sheet.raw.fault(row, column, what, shown(name), shown(stored)))


def check_offers_unique(supply: CheckedSheet, faults: FaultLog) -> None:
    """Note the same thing offered twice by one supplier: it would have two prices."""
    frame = supply.frame[["product", "supplier", "form", "width_m", "length_m", "lead_days"]].dropna()
    first: dict[tuple[object, ...], int] = {}
    for offer in frame.itertuples(name=None):
        earlier = first.setdefault(offer[1:], offer[0])
        if earlier != offer[0]:
            right = "one row with the price that holds"
            found = f"{shown(offer[2])}, and in row {earlier}"
            faults.add(supply.raw.fault(offer[0], "supplier", "the same offer given twice", found, right))


def check_known(sheet: CheckedSheet, column: str, known: set[str], where: str, faults: FaultLog) -> None:
    """Note names that stand nowhere else.

    Parameters
    ----------
    sheet, column
        The names to look up.
    known
        Every name there is.
    where
        Where a name should have been given, for the message.
    faults
        Where to note them.
    """
    names = sheet.frame[column].dropna()
    unknown = names[~names.isin(known)]
    folded = {name.casefold(): name for name in known}
    candidates = sorted(known) if len(known) <= MOST_NAMES_COMPARED else []
    rights: dict[str, str] = {}
    for row, name in zip(unknown.index.tolist(), unknown.tolist(), strict=True):
        if name not in rights:
            near = folded.get(name.casefold())
            if near is None and len(rights) < MOST_SUGGESTIONS:
                near = nearest(name, candidates)
            rights[name] = f"{shown(near)}, or a row for it in {where}" if near else f"a row for it in {where}"
        faults.add(sheet.raw.fault(row, column, f"an unknown {column}", shown(name), rights[name]))


def check_cut_lengths(supply: CheckedSheet, faults: FaultLog) -> None:
    """Note cut lengths whose longest is below the shortest that is sold."""
    frame = supply.frame[["form", "length_m"]].dropna()
    for row, form, length in frame.itertuples(name=None):
        if form is SupplyForm.CUT_LENGTH and length < CUT_LENGTH_LEAST_MM:
            found = shown(str(supply.raw.frame.at[row, supply.raw.header.index("length_m")]))
            faults.add(supply.raw.fault(row, "length_m", "too short for a cut length", found, "at least 1"))
