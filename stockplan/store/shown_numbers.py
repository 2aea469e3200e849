"""What a spreadsheet shows of a number, where that is other than the number that its file holds.

A file holds 101 and the form 0000, and the person sees 0101; it holds 0.25, and 25 % is seen; it holds 25, and 25 cm is
seen. The number alone would be read without a word, and is not what was meant.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

NUMBER_COLUMNS = frozenset(
    {
        "weight_kg_m2",
        "width_m",
        "length_m",
        "price",
        "lead_days",
        "cost_per_m2",
        "count",
        "corner",
        "x_m",
        "y_m",
        "north",
    }
)
SPREADSHEET_DIGITS = 15  # a spreadsheet keeps and shows at most this many significant digits
_OWN_UNITS: Mapping[str, tuple[frozenset[str], str]] = {
    **dict.fromkeys(("width_m", "length_m", "x_m", "y_m"), (frozenset({"", "m"}), "metres")),
    "lead_days": (frozenset({"", "d", "day", "days"}), "days"),
}
_PLAIN_FORMS = frozenset({"", "general", "standard", "@", "#"})
_NO_SIGN = re.compile(
    r"\[(?!\$[^-\]])[^\]]*\]|_.|\*."
)  # colours, conditions, languages and room left free; no currency
_LITERAL = re.compile(r'"([^"]*)"|\\(.)')
_IN_THOUSANDS = re.compile(r"[0#?],+(?![0#?,])")
_AROUND = r'((?:"[^"]*"|\\.|[-+ /():])*)'
_FORM = re.compile(rf"{_AROUND}((?:#,##)?)(0+)(?:\.(0+))?{_AROUND}")


@dataclass(frozen=True, slots=True)
class Misleading:
    """A number that is shown otherwise than it is: what is wrong, what was found, what would be right."""

    what: str
    found: str
    right: str


def misleading(column: str, text: str, form: str) -> Misleading | None:
    """Say how a cell shows a number otherwise than it is; None where it does not.

    Parameters
    ----------
    column
        The column it stands in.
    text
        The number as digits.
    form
        The number format of its cell, as the workbook names it.
    """
    first = _NO_SIGN.sub("", form.partition(";")[0]).strip()
    if column in NUMBER_COLUMNS:
        return _of_a_number(column, text, first)
    return _of_a_code(text, first)


def _of_a_number(column: str, text: str, form: str) -> Misleading | None:
    rest = _LITERAL.sub("", form)
    if "%" in rest:
        share = format((Decimal(text) * 100).normalize(), "f")
        return Misleading("a percentage", f"'{share}%'", "a plain number, in a cell that is not formatted in percent")
    if _IN_THOUSANDS.search(rest):
        right = "the number itself, in a cell that shows all of it"
        return Misleading("a number shown in thousands", f"'{text}' in the form {form}", right)
    if column in _OWN_UNITS:
        allowed, unit = _OWN_UNITS[column]
        beside = "".join(quoted or escaped for quoted, escaped in _LITERAL.findall(form)) + "'" * rest.count("'")
        if beside.strip().rstrip(".").casefold() not in allowed:
            right = f"{unit}, in a cell that shows no other unit"
            return Misleading("another unit shown beside the number", f"'{text}' with '{beside.strip()}'", right)
    return None


def _of_a_code(text: str, form: str) -> Misleading | None:
    if _digits(text) > SPREADSHEET_DIGITS:
        what = f"a number of more than the {SPREADSHEET_DIGITS} digits that a spreadsheet keeps"
        return Misleading(what, f"'{text}'", "the code as text; format the cell as text before typing it")
    if form.casefold() in _PLAIN_FORMS:
        return None
    shown = _shown(text, form)
    if shown == text:
        return None
    right = f"'{shown}' as text" if shown else "what the cell shows, as text"
    found = f"'{text}' in the form {form}"
    return Misleading("a number that is shown otherwise than it is", found, f"{right}; format the cell as text first")


def _digits(text: str) -> int:
    """Count the digits before the point."""
    return len(text.partition(".")[0].lstrip("-"))


def _shown(text: str, form: str) -> str | None:
    """Write a number in a form of digits with text around; None for any other form."""
    match = _FORM.fullmatch(form)
    if match is None:
        return None
    before, thousands, whole, decimals, after = match.groups()
    written = f"{Decimal(text):{',' if thousands else ''}.{len(decimals or '')}f}"
    lacking = len(whole) - _digits(written)
    return f"{_unquoted(before)}{'0' * lacking}{written}{_unquoted(after)}"


def _unquoted(text: str) -> str:
    return _LITERAL.sub(lambda match: match[1] or match[2] or "", text)
