"""One line of tape notes, word by word."""

from __future__ import annotations

import re

from stockplan.errors import UnitError
from stockplan.surveying.faults import quoted
from stockplan.surveying.lengths import Unit, read_length
from stockplan.surveying.notes_forms import Placing, Remark

RIGHT_ANGLE, HALF_CIRCLE, FULL_CIRCLE = 90.0, 180.0, 360.0
LONGEST_NAME = 40
MOST_LENGTH_MM = 1_000_000  # a side of a kilometre is a slip

_FEET_APART = re.compile(r"""(\d)\s*(ft|')\s*(?:(\d+(?:\.\d+)?)\s*(in\b|"))?""", re.IGNORECASE | re.ASCII)
_METRES_APART = re.compile(r"(\d)\s+(mm|cm|m)\b", re.IGNORECASE | re.ASCII)
_NUMBER = re.compile(r"""[-+]?[\d.][\d.,/½¼¾'"]*(?:mm|cm|m|ft|in)?['"]?""", re.IGNORECASE | re.ASCII)
_DEGREES = re.compile(r"(\d+(?:\.\d+)?)(?:°|deg|degrees)?", re.ASCII)


class LineFault(Exception):
    """One thing wrong in a line; caught where the line is read.

    Parameters
    ----------
    what, found, right
        As in a `SurveyFault`.
    """

    def __init__(self, what: str, found: str, right: str) -> None:
        super().__init__(what)
        self.what, self.found, self.right = what, found, right


class Words:
    """The words of one line, taken from the front.

    Parameters
    ----------
    text
        The line without its comment.
    unit
        What bare numbers count.
    """

    def __init__(self, text: str, unit: Unit) -> None:
        self.text = text
        self.unit = unit
        apart = _FEET_APART if unit is Unit.FEET else _METRES_APART
        together = apart.sub(lambda found: "".join(part or "" for part in found.groups()) + " ", text)
        self._words = [word.rstrip(",;") for word in together.replace("×", "x").split()]
        self._words = [word for word in self._words if word]

    @property
    def next(self) -> str:
        """The next word in small letters; empty at the end."""
        return self._words[0].casefold() if self._words else ""

    def take(self) -> str:
        """Take the next word as written."""
        return self._words.pop(0)

    def rest(self) -> str:
        """Take all words that are left."""
        words, self._words = self._words, []
        return " ".join(words)

    def until(self, *stops: str) -> str:
        """Take the words before any of some words."""
        taken = []
        while self._words and self.next not in stops:
            taken.append(self.take())
        return " ".join(taken)

    def length(self, of: str, *, zero: bool = False, signed: bool = False) -> int:
        """Take a length, mm.

        Parameters
        ----------
        of
            What it is the length of, for messages.
        zero, signed
            Whether nothing, or a minus sign, is allowed.

        Raises
        ------
        LineFault
            When the next word is none.
        """
        if not self._words:
            raise LineFault(f"{of} missing", "the end of the line", f"a length such as {self._example()}")
        word = self.take()
        minus = signed and word.startswith("-")
        try:
            length = read_length(word[1:] if minus else word, self.unit)
        except UnitError as error:
            raise LineFault(
                f"{of} cannot be read", quoted(word), str(error).partition("; ")[2] or "a length"
            ) from error
        if length == 0 and not zero:
            raise LineFault(f"{of} is nothing", quoted(word), f"a length such as {self._example()}")
        if length > MOST_LENGTH_MM:
            raise LineFault(f"{of} is over a kilometre", quoted(word), "a length in the unit stated")
        return -length if minus else length

    def _example(self) -> str:
        return {Unit.METRES: "3.6", Unit.MILLIMETRES: "3600", Unit.FEET: "20'6\""}[self.unit]

    def degrees(self, of: str, below: float, default: float | None = None) -> float:
        """Take an angle.

        Parameters
        ----------
        of
            What has the angle, as messages call it.
        below
            What it must be less than, degrees.
        default
            Where none is given; default none, and it must be.

        Raises
        ------
        LineFault
            When the next word is none and there is no default, or it is too large.
        """
        match = _DEGREES.fullmatch(self.next)
        if match is None:
            if default is not None:
                return default
            raise LineFault(f"{of} missing", quoted(self.next), f"degrees such as 90, below {below:g}")
        word = self.take()
        if float(match[1]) >= below:
            raise LineFault(f"{of} too large", quoted(word), f"degrees below {below:g}")
        return float(match[1])

    def turn(self) -> float:
        """Take `left` or `right` and how far, a right angle where it is not said; left is positive."""
        side = self.take().casefold()
        angle = self.degrees("the turn", HALF_CIRCLE, RIGHT_ANGLE)
        return angle if side == "left" else -angle

    def remark(self, *, after_length: bool = True) -> Remark:
        """Take what is said of a side: a name, `no seam`, or both.

        Parameters
        ----------
        after_length
            Whether it stands after a length, some of which it may be.

        Raises
        ------
        LineFault
            When the name is too long, or begins with a number where that may be the rest of a length.
        """
        if after_length and _NUMBER.fullmatch(self.next):
            found, right = quoted(self.rest()), f"a length in one word, such as {self._example()}; a name in words"
            raise LineFault("a number where a side's name may stand", found, right)
        text = self.rest()
        plain = re.sub(r"\s*\bno[- ]seam$", "", text, flags=re.IGNORECASE)
        if len(plain) > LONGEST_NAME:
            raise LineFault("a name too long", quoted(plain), f"at most {LONGEST_NAME} characters")
        return Remark(plain.rstrip(" ,;"), plain != text)

    def placing(self) -> Placing:
        """Take where a hole lies: `at 3.1 left 2.2`, or `from A 2.1, B 3.4`; either with `heading left 30`.

        Raises
        ------
        LineFault
            When it lies nowhere.
        """
        if self.next == "at":
            self.take()
            along, left = self.length("distance along the first side", zero=True, signed=True), 0
            if self.next in ("left", "right"):
                sign = 1 if self.take().casefold() == "left" else -1
                left = sign * self.length("distance from the first side", zero=True)
            return Placing(along, left, heading=self._heading())
        if self.next == "from":
            self.take()
            ties = tuple(self._tie() for _ in range(2))
            return Placing(ties=ties, heading=self._heading())
        right = "at DISTANCE left or right DISTANCE, or from CORNER LENGTH, CORNER LENGTH"
        raise LineFault("a hole without a place", quoted(self.text), right)

    def _tie(self) -> tuple[str, int]:
        if self.next == "from":
            self.take()
        if not self._words:
            raise LineFault("a corner missing", quoted(self.text), "two corners, each with its tape: from A 2.1, B 3.4")
        return self.take(), self.length("the tape from a corner")

    def _heading(self) -> float:
        if self.next != "heading":
            return 0.0
        self.take()
        if self.next not in ("left", "right"):
            raise LineFault("a heading without a side", quoted(self.next), "heading left or right, and degrees")
        side = self.take().casefold()
        angle = self.degrees("the heading", FULL_CIRCLE, RIGHT_ANGLE)
        return angle if side == "left" else -angle

    def end(self) -> None:
        """See that nothing is left.

        Raises
        ------
        LineFault
            When something is.
        """
        if self._words:
            raise LineFault(
                "words that say nothing here", quoted(self.rest()), "nothing more in this line, or a # before it"
            )

    def two_lengths(self, *stops: str) -> tuple[int, int]:
        """Take a size such as `6.2 x 4.8`, up to some word.

        Raises
        ------
        LineFault
            When it is none.
        """
        text = self.until(*stops)
        parts = re.split(r"\s*x\s*", text.casefold())
        if len(parts) != 2:
            raise LineFault(
                "not a size", quoted(text), f"two lengths with an x between, such as {self._example()} x 4.8"
            )
        sides = []
        for part in parts:
            words = Words(part, self.unit)
            sides.append(words.length("a side"))
            words.end()
        return sides[0], sides[1]
