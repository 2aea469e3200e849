"""Tape notes: a small text format, one leg or tape a line, read with every fault at once.

README.md describes the format. A line is a statement when it begins with one of `STATEMENTS`; any other line belongs to
the walk, plot, baseline or list of corners that was begun last.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from stockplan.domain.lawn import LawnPlace
from stockplan.domain.pile import parse_pile
from stockplan.errors import UnitError
from stockplan.surveying.faults import FaultList, quoted
from stockplan.surveying.lengths import Unit
from stockplan.surveying.notes_forms import (
    Baseline,
    Circle,
    Corners,
    Form,
    Keyed,
    Notes,
    Placing,
    Plot,
    Rectangle,
    Remark,
    Section,
    Walk,
)
from stockplan.surveying.notes_words import FULL_CIRCLE, LONGEST_NAME, LineFault, Words
from stockplan.surveying.tape_shapes import MOST_CORNERS
from stockplan.surveying.tapes import Tape
from stockplan.surveying.traverse import Leg

FORMS = ("rectangle", "walk", "plot", "baseline", "circle", "corners")
STATEMENTS = ("units", "lawn", "place", "pile", "first", "unseen", "side", "round", "inward", "hole", *FORMS)
MOST_LINES = 10_000
STATE_UNITS = "a line 'units m', 'units mm' or 'units ft' before the first length"


def parse_notes(text: str, faults: FaultList, unit: Unit | None = None) -> Notes:
    """Read tape notes; what cannot be read is noted as a fault, line by line.

    Parameters
    ----------
    text
        The notes; what follows a # is a comment.
    faults
        Where to note them.
    unit
        What bare numbers count until the notes say otherwise; None for notes that have to say it.
    """
    reader = _Reader(faults, unit)
    lines = text.splitlines()
    if len(lines) > MOST_LINES:
        faults.add("notes too long", f"{len(lines)} lines", f"at most {MOST_LINES}, one lawn a file")
        return reader.notes
    for number, line in enumerate(lines, 1):
        reader.read(number, line.partition("#")[0].strip().removeprefix("\ufeff"))
    reader.finish()
    return reader.notes


class _Reader:
    """Takes one line after another."""

    def __init__(self, faults: FaultList, unit: Unit | None) -> None:
        self.notes = Notes()
        self.faults = faults
        self.unit = unit
        self.asked_for_units = False
        self.open: Form | None = None
        self.said: dict[str, int] = {}
        self.line = 0

    def read(self, line: int, text: str) -> None:
        """Read one line."""
        if not text:
            return
        self.line = line
        words = Words(text, self.unit or Unit.METRES)
        of_a_form = words.next not in STATEMENTS or words.next in (*FORMS, "hole")
        try:
            if words.next in STATEMENTS:
                self._statement(words)
            else:
                self._data(words)
        except LineFault as fault:
            self.faults.add(fault.what, fault.found, fault.right, line)
            self.notes.forms_read = self.notes.forms_read and not of_a_form
        except UnitError as error:
            what, _, right = str(error).partition("; ")
            self.faults.add(what, quoted(text), right or "a value of the kind named", line)

    def finish(self) -> None:
        """Note what only the end shows."""
        if self.notes.outline is None and not self.faults:
            self.faults.add("no outline", "none of its forms", "one of " + ", ".join(FORMS))

    def _statement(self, words: Words) -> None:
        keyword = words.take().casefold()
        if keyword in FORMS:
            self._outline(keyword, words)
            return
        handlers: dict[str, Callable[[Words], None]] = {
            "units": self._units,
            "lawn": self._lawn,
            "place": self._place,
            "pile": self._pile,
            "first": self._bears,
            "unseen": self._unseen,
            "side": self._side,
            "round": self._round,
            "inward": self._inward,
            "hole": self._hole,
        }
        handlers[keyword](words)
        words.end()

    def _once(self, keyword: str) -> None:
        earlier = self.said.setdefault(keyword, self.line)
        if earlier != self.line:
            raise LineFault(f"{keyword} said twice", f"in line {earlier} too", "once")

    def _units(self, words: Words) -> None:
        if self.asked_for_units:
            raise LineFault(
                "units stated after lengths", quoted(words.rest()), "the units line before the first length"
            )
        self._once("units")
        word = words.rest().casefold()
        if word not in [unit.value for unit in Unit]:
            self.asked_for_units = True  # once is enough
            raise LineFault("a unit nobody knows", quoted(word), "m, mm or ft")
        self.unit = Unit(word)

    def _lawn(self, words: Words) -> None:
        self._once("lawn")
        name = words.rest()
        if not 0 < len(name) <= LONGEST_NAME:
            raise LineFault("a lawn's name", quoted(name), f"1 to {LONGEST_NAME} characters")
        self.notes.label = name

    def _place(self, words: Words) -> None:
        self._once("place")
        word = words.rest().casefold()
        if word not in [place.value for place in LawnPlace]:
            raise LineFault("a place nobody knows", quoted(word), "back, front or other")
        self.notes.place = LawnPlace(word)

    def _pile(self, words: Words) -> None:
        self._once("pile")
        self.notes.pile = parse_pile(words.rest())

    def _bears(self, words: Words) -> None:
        self._once("first side bears")
        if words.until("bears").casefold() not in ("side", "leg") or words.next != "bears":
            raise LineFault("a line nobody knows", quoted(words.text), "first side bears DEGREES")
        words.take()
        self.notes.first_side_bears = words.degrees("the bearing", FULL_CIRCLE)

    def _unseen(self, words: Words) -> None:
        if words.next != "from":
            raise LineFault("a line nobody knows", quoted(words.text), "unseen from LAWN")
        words.take()
        name = words.rest()
        if not name:
            raise LineFault("a lawn's name missing", "the end of the line", "unseen from LAWN")
        self.notes.unseen_from.append(name)

    def _side(self, words: Words) -> None:
        key = self._key(words, "side")
        remark = words.remark(after_length=False)
        if remark == Remark():
            raise LineFault(
                "a side of which nothing is said", quoted(words.text), "side 1 house, or side 3 path, no seam"
            )
        self.notes.sides.append(Keyed(self.line, key, remark=remark))

    def _round(self, words: Words) -> None:
        key = self._key(words, "corner")
        if words.next == "radius":
            words.take()
        self._need_units()
        self.notes.rounded.append(Keyed(self.line, key, radius_mm=words.length("the radius")))

    def _key(self, words: Words, of: str) -> str:
        if not words.next:
            raise LineFault(f"no {of} named", quoted(words.text), f"the {of}'s number, counted from 1, or its letters")
        return words.take()

    def _inward(self, words: Words) -> None:
        plot = self.open
        if not isinstance(plot, Plot):
            raise LineFault("inward outside a plot", quoted(words.text), "the line after the tapes of a plot")
        named = [self._corner_of(plot, name) for name in words.rest().split()]
        plot.inward = tuple(sorted({*(plot.inward or ()), *named}))

    def _outline(self, keyword: str, words: Words) -> None:
        form = self._form(keyword, words)
        words.end()
        if self.notes.outline is not None:
            found = f"one in line {self.notes.outline.line} already"
            raise LineFault("a second outline", found, "one lawn a file; 'hole' before what is left out of it")
        self.notes.outline = Section(form, self.line)
        self.open = form

    def _hole(self, words: Words) -> None:
        keyword = words.take().casefold() if words.next else ""
        if keyword not in FORMS or keyword == "baseline":
            right = "hole circle, rectangle, walk, plot or corners, and where it lies"
            raise LineFault("a hole of no known form", quoted(keyword), right)
        form = self._form(keyword, words)
        placing = Placing() if isinstance(form, Corners) else words.placing()
        self.notes.holes.append(Section(form, self.line, placing))
        self.open = form

    def _form(self, keyword: str, words: Words) -> Form:
        self.open = None
        if keyword == "walk":
            return Walk()
        if keyword == "corners":
            return Corners()
        if keyword == "plot":
            return self._plot(words)
        self._need_units()
        if keyword == "rectangle":
            return Rectangle(*words.two_lengths("at", "from"))
        if keyword == "baseline":
            return Baseline(words.length("the baseline"), words.remark())
        measure = words.take().casefold() if words.next in ("radius", "diameter") else ""
        if not measure:
            raise LineFault("a circle without a size", quoted(words.text), "circle radius 2.5, or circle diameter 5")
        length = words.length(f"the {measure}")
        return Circle(length if measure == "radius" else length / 2)

    def _plot(self, words: Words) -> Plot:
        names = words.until("clockwise", "anticlockwise", "at", "from").split()
        if words.next not in ("clockwise", "anticlockwise"):
            right = "clockwise or anticlockwise after the corners, as they were walked, seen from above"
            raise LineFault("a plot that may be its own mirror image", quoted(words.text), right)
        clockwise = words.take().casefold() == "clockwise"
        plain = [name.casefold() for name in names]
        if not 3 <= len(names) <= MOST_CORNERS:
            raise LineFault("corners of a plot", f"{len(names)}", f"3 to {MOST_CORNERS} names in the order walked")
        clashing = [name for name in names if plain.count(name.casefold()) > 1 or name.casefold() in STATEMENTS]
        if clashing:
            raise LineFault("a corner's name", quoted(clashing[0]), "a name of its own for each, such as A or B2")
        return Plot(names, clockwise)

    def _data(self, words: Words) -> None:
        self._need_units()
        if isinstance(self.open, Walk):
            self._leg(self.open, words)
        elif isinstance(self.open, Plot):
            self._tape(self.open, words)
        elif isinstance(self.open, Baseline):
            self._offset(self.open, words)
        elif isinstance(self.open, Corners):
            x = words.length("x", zero=True, signed=True)
            self.open.places.append((x, words.length("y", zero=True, signed=True)))
            self.open.remarks.append(words.remark())
        else:
            numbers = words.next[:1].isdigit() or words.next[:1] in {".", "-"}
            right = "a line before it that says what it belongs to: walk, plot, baseline or corners"
            known = f"a line that begins with one of {', '.join(STATEMENTS)}"
            raise LineFault("a line nobody knows", quoted(words.text), right if numbers else known)
        words.end()

    def _leg(self, walked: Walk, words: Words) -> None:
        length = words.length("the leg")
        turn = bearing = None
        if words.next in ("left", "right"):
            turn = words.turn()
        elif words.next == "straight":
            words.take()
            turn = 0.0
        elif words.next == "bearing":
            words.take()
            bearing = words.degrees("the bearing", FULL_CIRCLE)
        walked.legs.append(Leg(length, turn, bearing))
        walked.lines.append(self.line)
        walked.remarks.append(words.remark())

    def _tape(self, plot: Plot, words: Words) -> None:
        first = words.take()
        pair = re.split(r"[-–]", first) if re.search(r"[-–]", first) else [first]
        if len(pair) == 1 and len(first) == 2 and first.casefold() not in [name.casefold() for name in plot.corners]:
            pair = list(first)
        if len(pair) == 1:
            pair.append(words.take() if words.next else "")
        one, other = (self._corner_of(plot, name) for name in pair[:2])
        if one == other or len(pair) > 2:
            raise LineFault("not a tape between two corners", quoted(words.text), "two corners and a length: A B 6.2")
        tape = Tape(one, other, words.length("the tape"), self.line)
        plot.tapes.append(tape)
        remark = words.remark()
        if remark != Remark():
            plot.remarks[one, other] = remark

    def _corner_of(self, plot: Plot, name: str) -> int:
        plain = [corner.casefold() for corner in plot.corners]
        if name.casefold() not in plain:
            raise LineFault("a corner nobody named", quoted(name), "one of " + ", ".join(plot.corners))
        return plain.index(name.casefold())

    def _offset(self, baseline: Baseline, words: Words) -> None:
        along = words.length("distance along the baseline", zero=True)
        if words.next not in ("left", "right"):
            raise LineFault("an offset without a side", quoted(words.text), "2.5 left 1.80, looking along the baseline")
        offsets = baseline.left if words.take().casefold() == "left" else baseline.right
        if offsets and along <= offsets[-1][0]:
            raise LineFault("offsets out of order", quoted(words.text), "distances growing along the baseline")
        if along > baseline.length_mm:
            raise LineFault("an offset beyond the baseline", quoted(words.text), "a distance within its length")
        offsets.append((along, words.length("the offset", zero=True)))

    def _need_units(self) -> None:
        if self.unit is None and not self.asked_for_units:
            self.asked_for_units = True
            self.faults.add("lengths without a unit", "no units stated", STATE_UNITS, self.line)
