"""QR codes that a phone reads through dirt: how much is written in them, their level, size and number.

A code holds the tag and nothing else, so that it is as coarse as can be: up to ten capitals, digits and hyphens fit the
smallest code, 21 modules a side, at level H, which mends most (the standard: about 30 % of its code words; Q 25, M 15).
A longer text takes more modules. A higher level is only taken while its modules are at least `GOOD_MODULE_MM`.

Dirt seldom beats the mending; it hides one of the three corner squares by which a code is found. So the same code
stands on a label three times in two sizes: coarse modules outlast fine specks, and one of three is often clear of a
splash. Of 50 labels with opaque dark spots on 3 % of their face were read, by `python -m stockplan.bench.dirt`:

================  ============  ======================
spots             one of 36 mm  29 mm and two of 14 mm
================  ============  ======================
specks to 1 mm    92 %          100 %
medium, to 3 mm   66 %          90 %
splashes to 8 mm  48 %          96 %
================  ============  ======================

Modules are whole multiples of an eighth of a millimetre, one dot of a 203 dpi label printer: ragged edges read worse.
Four blank modules stand around each code, as the standard asks.

The standard has a code made with each of eight masks and the evenest taken, which takes six times as long. One mask for
all is read as often: of 150 labels with 50 tags, specks, spots and splashes on 4 % of the face, 92 % by the evenest and
90 to 91 % by each of the eight, 91 % by the one taken; on 8 %, 62 %, and 60 to 63 %.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import segno

from stockplan.errors import StockplanError
from stockplan.report.paper import MM

DOT_MM = 0.125
GOOD_MODULE_MM = 0.75
LEAST_MODULE_MM = 0.375
QUIET_MODULES = 4
LEVELS = ("H", "Q", "M")
MASK = 4
DARK_RUNS = re.compile(b"\x01+")


@dataclass(frozen=True, slots=True)
class QrCode:
    """A code ready to be drawn.

    Parameters
    ----------
    modules
        Along a side, without the blank ones around.
    shape
        The dark ones as a path of the PDF language, a module 1 × 1, from the lower left of the blank ones.
    level
        Its error-correction level.
    module_mm
        Side of a module, mm.
    """

    modules: int
    shape: str
    level: str
    module_mm: float

    @property
    def side_mm(self) -> float:
        """Side with the blank modules around, mm."""
        return (self.modules + 2 * QUIET_MODULES) * self.module_mm

    def half(self) -> QrCode | None:
        """The same at half the size, in whole dots; None when its modules would be too fine."""
        module_mm = _in_dots(self.module_mm / 2)
        return replace(self, module_mm=module_mm) if module_mm >= LEAST_MODULE_MM else None

    def draw(self, canvas: Any, left_mm: float, bottom_mm: float) -> None:
        """Draw it on a reportlab canvas, all modules as one filled shape so that no gaps show between them.

        Parameters
        ----------
        canvas
            Where to.
        left_mm, bottom_mm
            Its corner with the blank modules, mm on the page.
        """
        scale, left, bottom = self.module_mm * MM, left_mm * MM, bottom_mm * MM
        canvas.addLiteral(f"q 0 g {scale:.6f} 0 0 {scale:.6f} {left:.4f} {bottom:.4f} cm {self.shape} f Q")


def qr_code(text: str, room_mm: float) -> QrCode:
    """Make the code that is read most surely in a square of so much room.

    Parameters
    ----------
    text
        What it says; at least one character.
    room_mm
        Side of the square, mm, blank modules included.

    Raises
    ------
    StockplanError
        When so long a text would need modules below `LEAST_MODULE_MM`.
    """
    for level in LEVELS:
        code = _made(text, level, room_mm)
        if code.module_mm >= GOOD_MODULE_MM:
            return code
    if code.module_mm < LEAST_MODULE_MM:
        raise StockplanError(
            f"{text!r} is too long for a code of {room_mm:.0f} mm; use a larger label or a shorter tag"
        )
    return code


def _made(text: str, level: str, room_mm: float) -> QrCode:
    # Phones take what is beyond ASCII for UTF-8, whatever the standard says.
    encoding = None if text.isascii() else "utf-8"
    code = segno.make_qr(text, error=level, boost_error=False, encoding=encoding, mask=MASK)
    modules = len(code.matrix)
    return QrCode(modules, _shape(code.matrix), level, _in_dots(room_mm / (modules + 2 * QUIET_MODULES)))


def _shape(matrix: Sequence[bytearray]) -> str:
    """Each run of dark modules as a rectangle: where it begins, its row, how long it is."""
    high = len(matrix) + QUIET_MODULES
    return " ".join(
        f"{QUIET_MODULES + run.start()} {high - down} {run.end() - run.start()} 1 re"
        for down, row in enumerate(matrix, 1)
        for run in DARK_RUNS.finditer(row)
    )


def _in_dots(millimetres: float) -> float:
    return int(millimetres / DOT_MM + 1e-9) * DOT_MM
