"""A CSV file of small enquiries: read whole, every fault told by row and column."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from stockplan.domain.enquiries import SmallEnquiry
from stockplan.domain.limits import MOST_PRICE_PENCE
from stockplan.domain.pieces import Size, in_order
from stockplan.errors import StockplanError
from stockplan.store.sheet_cells import Quantity, Rule, Wrong, code, nearest, optional_code, read_cell
from stockplan.store.sheet_faults import WHOLE_ROW, Fault, FaultLog, Place, shown
from stockplan.store.sheet_files import not_comma_separated_utf8, unpaired_quote
from stockplan.store.sheet_rules import COLUMNS as SHEET_COLUMNS

_STRIP = SHEET_COLUMNS["strips"]
_WORTH = Quantity("an amount", 2, 0, MOST_PRICE_PENCE, "an amount of at most 1000000", "120.00", -1)
REQUIRED: Mapping[str, Rule] = {"enquiry": code, "width_m": _STRIP["width_m"], "length_m": _STRIP["length_m"]}
OPTIONAL: Mapping[str, Rule] = {"product": optional_code, "count": _STRIP["count"], "worth": _WORTH}


@dataclass(slots=True)
class _Row:
    """One enquiry as its rows have it so far."""

    product: str
    worth: int | None
    sizes: list[Size] = field(default_factory=list)


def read_enquiries(path: Path, products: Sequence[str]) -> tuple[SmallEnquiry, ...]:
    """Read enquiries, in the order of their first rows; rows of one name are one enquiry.

    Parameters
    ----------
    path
        A CSV file: enquiry, width_m, length_m; and where wanted product, count and worth.
    products
        Codes that the store knows; one alone need not be named.

    Raises
    ------
    SheetFaults
        When there are faults; carries all of them.
    StockplanError
        When the file cannot be opened.
    """
    return _Reader(path, products).read()


class _Reader:
    def __init__(self, path: Path, products: Sequence[str]) -> None:
        self.path, self.products, self.faults = path, list(products), FaultLog()
        self.header: list[str] = []

    def read(self) -> tuple[SmallEnquiry, ...]:
        try:
            data = self.path.read_bytes()
        except OSError as error:
            raise StockplanError(f"{self.path} cannot be opened: {error.strerror}") from error
        if problem := not_comma_separated_utf8(data):
            self._fault(1, WHOLE_ROW, *problem)
            self.faults.raise_if_any()
        text = data.decode("utf-8-sig", errors="surrogateescape")
        rows: list[list[str]] = []
        try:
            rows.extend(csv.reader(io.StringIO(text, newline=""), strict=True))  # keeps those before one that is wrong
        except csv.Error as error:
            self._fault(len(rows) + 1, WHOLE_ROW, *unpaired_quote(error))
            self.faults.raise_if_any()
        self.header = [cell.strip() for cell in rows[0]] if rows else []
        self._check_header()
        found: dict[str, _Row] = {}
        for number, cells in enumerate(rows[1:], start=2):
            if any(cell.strip() for cell in cells):
                self._take(number, cells, found)
        self.faults.raise_if_any()
        return tuple(
            SmallEnquiry(name, one.product, in_order(tuple(one.sizes)), one.worth) for name, one in found.items()
        )

    def _fault(self, row: int, column: str, what: str, found: str, right: str) -> None:
        position = self.header.index(column) if column in self.header else -1
        self.faults.add(Fault(Place(0, row, position), self.path.name, column, what, found, right))

    def _check_header(self) -> None:
        known = [*REQUIRED, *OPTIONAL]
        for name in REQUIRED:
            if name not in self.header:
                self._fault(1, name, "a column is missing", shown(",".join(self.header)), f"a column named {name}")
        for name in self.header:
            if name not in known:
                near = nearest(name, known)
                self._fault(1, name, "an unknown column", shown(name), near or " or ".join(known))
            elif self.header.count(name) > 1:
                self._fault(1, name, "a column given twice", shown(name), "each column once")
        self.faults.raise_if_any()

    def _take(self, number: int, cells: Sequence[str], found: dict[str, _Row]) -> None:
        if len(cells) != len(self.header):
            right = f"{len(self.header)} cells, as in the header"
            self._fault(number, WHOLE_ROW, "a row of the wrong length", f"{len(cells)} cells", right)
            return
        values: dict[str, object] = {}
        for name, text in zip(self.header, cells, strict=True):
            value = read_cell(text, {**REQUIRED, **OPTIONAL}[name])
            if isinstance(value, Wrong):
                self._fault(number, name, value.what, shown(text.strip()), value.right)
            else:
                values[name] = value
        product = self._product(number, str(values.get("product", "")))
        width, length, count = values.get("width_m"), values.get("length_m"), values.get("count", 1)
        called, worth = values.get("enquiry"), values.get("worth", -1)
        if not (isinstance(width, int) and isinstance(length, int) and isinstance(count, int)):
            return
        if not isinstance(called, str) or not isinstance(worth, int) or product is None:
            return
        one = found.setdefault(called, _Row(product, None))
        if one.product != product:
            self._fault(number, "product", "another grass than in the rows before", shown(product), one.product)
        if worth >= 0 and one.worth not in (None, worth):
            self._fault(
                number, "worth", "another worth than in the rows before", shown(str(worth / 100)), "the same, once"
            )
        one.worth = worth if worth >= 0 else one.worth
        one.sizes += [(width, length)] * count

    def _product(self, number: int, text: str) -> str | None:
        if text in self.products:
            return text
        if not text and len(self.products) == 1:
            return self.products[0]
        near = nearest(text, self.products) if text else None
        self._fault(
            number,
            "product",
            "an unknown product" if text else "empty",
            shown(text),
            near or " or ".join(self.products),
        )
        return None
