"""What one spreadsheet cell may hold: a rule takes the trimmed text and gives its value, or says what is wrong.

Rules are plain functions of text, so the same ones serve CSV files and workbooks.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from difflib import get_close_matches
from enum import StrEnum
from typing import TypeVar

from stockplan.domain.plan import NEW_BATCH
from stockplan.domain.units import MM_PER_M, parse_length
from stockplan.errors import UnitError

LONGEST_CODE = 40  # characters: what still fits on a tag written by hand
LONGEST_TEXT = 500  # characters: more is not an address or a description but a paste gone wrong
LONGEST_NUMBER = 20  # characters: no length or amount of the trade needs more
FIRST_YEAR, LAST_YEAR = 2000, 2100  # a lay date outside these is a typing mistake
SPREADSHEET_DAY_ZERO = date(1899, 12, 30)  # the day that makes spreadsheet day numbers come out right from March 1900
SAVE_AS_UTF8 = "the file saved as UTF-8 (in the spreadsheet program: save a copy as CSV and choose the encoding UTF-8)"

_ERROR_VALUE = re.compile(
    r"#(?:N/A|NAME\?|(?:DIV/0|NULL|NUM|REF|VALUE|SPILL|CALC|FIELD|BUSY|CONNECT|BLOCKED)!)|Err:\d{3}"
)
_TOO_NARROW = re.compile(r"###+")
_SHORTENED = re.compile(r"-?\d(?:[.,]\d+)?E\+\d{2,3}", re.ASCII)  # a long number as a spreadsheet shows it
_PLAIN = re.compile(r"-?(?:\d+(?:\.\d+)?|\.\d+)", re.ASCII)
_DECIMAL_COMMA = re.compile(r"-?\d+,\d+", re.ASCII)
_THOUSANDS = re.compile(r"\d{1,3}(?:,\d{3})+(?:\.\d+)?", re.ASCII)
_OTHER_THOUSANDS = re.compile(r"(\d{1,3}(?:[. \u00a0\u2009\u202f'’]\d{3})+)(?:,(\d+))?", re.ASCII)
_POWER_OF_TEN = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)e[-+]?\d{1,2}", re.ASCII | re.IGNORECASE)
_CURRENCY = re.compile(r"[^\d\s.,+-]{1,3}\s?(\d+(?:\.\d{1,2})?)|(\d+(?:\.\d{1,2})?)\s?[^\d\s.,+-]{1,3}", re.ASCII)
_ORDER_KEY = re.compile(rf"(?:{NEW_BATCH}|P\d+)-\d+", re.ASCII | re.IGNORECASE)  # new-1 in its plan, P12-1 in the store
_ISO_DATE = re.compile(r"(\d{4})-(\d{2})-(\d{2})", re.ASCII)
_ISO_DATE_AND_TIME = re.compile(r"(\d{4}-\d{2}-\d{2})[T ]\d{2}:\d{2}(?::\d{2}(?:\.\d+)?)?", re.ASCII)
_YEAR_FIRST = re.compile(r"(\d{4})[./-](\d{1,2})[./-](\d{1,2})", re.ASCII)
_YEAR_LAST = re.compile(r"(\d{1,2})[./-](\d{1,2})[./-](\d{4})", re.ASCII)
_DAY_NUMBER = re.compile(r"\d{5}(?:\.\d+)?", re.ASCII)


@dataclass(frozen=True, slots=True)
class Wrong:
    """A cell that cannot be taken: what is wrong with it, and what would be right."""

    what: str
    right: str


Rule = Callable[[str], object]
Choice = TypeVar("Choice", bound=StrEnum)


def read_cell(text: str, rule: Rule) -> object:
    """Apply a rule to a cell after the checks that hold for every cell.

    Parameters
    ----------
    text
        The cell as read; blanks around it are trimmed, bytes that are not UTF-8 are lone surrogates.
    rule
        What the column asks for.
    """
    trimmed = text.strip()
    plain = trimmed.isascii() and trimmed.isprintable()
    for character in "" if plain else trimmed:
        if "\udc80" <= character <= "\udcff":
            return Wrong(f"not UTF-8 (byte 0x{ord(character) - 0xDC00:02X})", SAVE_AS_UTF8)
        if unicodedata.category(character) in {"Cc", "Cs", "Zl", "Zp"}:
            name = f"U+{ord(character):04X}"
            return Wrong(f"a control character or line break ({name})", "one line of ordinary text")
    if trimmed.startswith("="):
        return Wrong("a formula", "the value the formula stands for")
    if _ERROR_VALUE.fullmatch(trimmed):
        return Wrong("an error value left by a formula", "the value itself")
    if _TOO_NARROW.fullmatch(trimmed):
        return Wrong("what a column too narrow for its value shows", "the value itself; widen the column before saving")
    return rule(unicodedata.normalize("NFC", trimmed))


def code(text: str) -> str | Wrong:
    """Take a code such as a tag: one line, every character visible, 1 to 40 characters."""
    return optional_code(text) if text else Wrong("empty", "a code")


def optional_code(text: str) -> str | Wrong:
    """Take a code, or nothing."""
    if len(text) > LONGEST_CODE:
        return Wrong(f"longer than {LONGEST_CODE} characters ({len(text)})", f"at most {LONGEST_CODE} characters")
    if _SHORTENED.fullmatch(text):
        right = "all its digits; format the column as text before typing them"
        return Wrong("a long number that a spreadsheet has shortened", right)
    hidden = next((character for character in text if not character.isprintable()), None)
    if hidden is not None:
        return Wrong(f"a character that cannot be seen (U+{ord(hidden):04X})", "only letters, digits, signs and spaces")
    return text


def batch_name(text: str) -> str | Wrong:
    """Take the name of a batch, or nothing where it is unknown."""
    # The program's own words: 'unknown' in lists, 'unknown (tag)' and 'new' in plans; nothing else may match them.
    folded = text.casefold()
    if folded == "unknown" or folded.startswith("unknown ("):
        return Wrong("the name of an unknown batch", "an empty cell where the batch is not known")
    if folded == NEW_BATCH:
        what = f"the name that a plan gives to what is bought, {NEW_BATCH}"
        return Wrong(what, "the batch on the label, or an empty cell where it is not known")
    return optional_code(text)


def tag_name(text: str) -> str | Wrong:
    """Take the tag of a thing: a code that no order is called by, as plans and cuts name both side by side."""
    if _ORDER_KEY.fullmatch(text):
        return Wrong("a name that orders have", "a tag of its own, such as R-031")
    return code(text)


def free_text(text: str) -> str | Wrong:
    """Take any one line of text, or none."""
    if len(text) > LONGEST_TEXT:
        return Wrong(f"longer than {LONGEST_TEXT} characters ({len(text)})", f"at most {LONGEST_TEXT} characters")
    return text


def required_text(text: str) -> str | Wrong:
    """Take any one line of text that is not empty."""
    return free_text(text) if text else Wrong("empty", "a name")


def choice(names: type[Choice], default: Choice | None = None) -> Callable[[str], Choice | Wrong]:
    """Make a rule that takes one of a few words.

    Parameters
    ----------
    names
        The words.
    default
        What an empty cell means; None refuses it.
    """
    words = [member.value for member in names]
    listed = " or ".join([", ".join(words[:-1]), words[-1]])

    def rule(text: str) -> Choice | Wrong:
        if not text and default is not None:
            return default
        if text in words:
            return names(text)
        near = nearest(text, words)
        return Wrong("not one of the words allowed here", f"{near} ({listed})" if near else listed)

    return rule


def nearest(text: str, names: list[str]) -> str | None:
    """Find the name a person most likely meant, letter case and spaces aside; None when nothing is close."""
    plain = {name.casefold(): name for name in names}
    wanted = "_".join(text.casefold().split())
    close = get_close_matches(wanted, list(plain), n=1, cutoff=0.7)
    return plain[close[0]] if close else None


@dataclass(frozen=True, slots=True)
class Quantity:
    """A rule that takes a decimal number and gives a whole number of small units.

    Parameters
    ----------
    noun
        What it is, for messages.
    places
        Decimals allowed; the small unit is the last of them.
    least, most
        Bounds in small units, both allowed.
    limit
        The upper bound in words, with its reason.
    example
        A cell that would be right.
    default
        What an empty cell means; None refuses it.
    floor
        The lower bound in words, with its reason; needed where it lies above one small unit.
    """

    noun: str
    places: int
    least: int
    most: int
    limit: str
    example: str
    default: int | None = None
    floor: str = ""

    def __call__(self, text: str) -> int | Wrong:
        """Read a cell."""
        if not text:
            return Wrong("empty", f"{self.noun} such as {self.example}") if self.default is None else self.default
        if not _PLAIN.fullmatch(text):
            return self._not_plain(text)
        if len(text) > LONGEST_NUMBER:
            return Wrong(f"a number of {len(text)} characters", f"{self.noun} such as {self.example}")
        number = Decimal(text)
        if len(text.partition(".")[2]) > self.places:
            return self._too_fine(text, number)
        return self._within(int(number.scaleb(self.places)))

    @property
    def _is_length(self) -> bool:
        return self.limit.startswith("metres")

    def _too_fine(self, text: str, number: Decimal) -> Wrong:
        what = f"more than {self.places} decimals" if self.places else "not a whole number"
        near = round(number, self.places)
        sure = near > 0 and (self.places or near == number)
        right = _short(near) if sure else f"{self.noun} such as {self.example}"
        if self.places == 2 and _OTHER_THOUSANDS.fullmatch(text):
            right += f", or {text.replace('.', '')} where the point sets thousands apart"
        return Wrong(what, right)

    def _within(self, units: int) -> int | Wrong:
        """Hold a number against its bounds."""
        if self.least <= units <= self.most:
            return units
        if units > self.most:
            as_metres = units // 10**self.places
            meant = f"; {as_metres} mm is {_metres(as_metres)}" if self._is_length and as_metres >= 1000 else ""
            return Wrong("too much", f"{self.limit}{meant}")
        if units == 0:
            return Wrong("zero", f"{self.noun} such as {self.example}")
        if units > 0 and self.floor:
            return Wrong("too little", self.floor)
        return Wrong("negative" if self.least >= 0 else "too little", f"{self.noun} such as {self.example}")

    def _not_plain(self, text: str) -> Wrong:
        """Say why text is no plain number, and what number was likely meant."""
        if _THOUSANDS.fullmatch(text) and (self.places < 3 or text.count(",") > 1 or "." in text):
            return Wrong("a thousands comma", text.replace(",", ""))
        if self.places < 3 and (match := _OTHER_THOUSANDS.fullmatch(text)):
            whole = "".join(character for character in match[1] if character.isdigit())
            return Wrong("thousands set apart", f"{whole}.{match[2]}" if match[2] else whole)
        if _DECIMAL_COMMA.fullmatch(text):
            return Wrong("a decimal comma", text.replace(",", "."))
        if _POWER_OF_TEN.fullmatch(text):
            return Wrong("a power of ten", f"a plain number, {format(Decimal(text), 'f')}")
        if text.startswith("+") and _PLAIN.fullmatch(text[1:]):
            return Wrong("a plus sign", text[1:])
        if self.places == 2 and (match := _CURRENCY.fullmatch(text)):
            return Wrong("a currency sign", match[1] or match[2])
        if self._is_length:
            try:
                return Wrong("a unit beside the number", _metres(parse_length(text)))
            except UnitError:
                pass  # not a length in any notation: the general answer below says so
        return Wrong("not a number", f"{self.noun} such as {self.example}")


def _short(number: Decimal) -> str:
    return format(number.normalize(), "f")


def _metres(millimetres: int) -> str:
    return _short(Decimal(millimetres) / MM_PER_M)


def day(text: str) -> date | Wrong:
    """Take a date in ISO 8601 form, year-month-day."""
    if match := _ISO_DATE.fullmatch(text):
        found = _date(*(int(part) for part in match.groups()))
        if found is None:
            return Wrong("no such day", "a day of the calendar such as 2026-11-30")
        if not FIRST_YEAR <= found.year <= LAST_YEAR:
            return Wrong("a year that cannot be meant", f"a year from {FIRST_YEAR} to {LAST_YEAR}")
        return found
    if not text:
        return Wrong("empty", "a date such as 2026-11-30")
    return Wrong("not a date in year-month-day form", _date_meant(text))


def _date_meant(text: str) -> str:
    """Give the ISO form of a date written some other way, both where two are possible."""
    if match := _ISO_DATE_AND_TIME.fullmatch(text):
        return match[1]
    if _DAY_NUMBER.fullmatch(text):
        found = SPREADSHEET_DAY_ZERO + timedelta(days=int(text.partition(".")[0]))
        if FIRST_YEAR <= found.year <= LAST_YEAR:
            return f"{found} if it is a spreadsheet's day number; format the column as text before saving"
    possible: list[date | None] = []
    if match := _YEAR_FIRST.fullmatch(text):
        possible = [_date(int(match[1]), int(match[2]), int(match[3]))]
    elif match := _YEAR_LAST.fullmatch(text):
        first, second, year = int(match[1]), int(match[2]), int(match[3])
        possible = [_date(year, second, first), _date(year, first, second)]
    meant = sorted({found for found in possible if found and FIRST_YEAR <= found.year <= LAST_YEAR})
    return " or ".join(str(found) for found in meant) or "a date such as 2026-11-30"


def _date(year: int, month: int, number: int) -> date | None:
    try:
        return date(year, month, number)
    except ValueError:
        return None
