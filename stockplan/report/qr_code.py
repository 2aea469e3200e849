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
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import groupby
from typing import Any

import segno

from stockplan.errors import StockplanError
from stockplan.report.paper import MM

DOT_MM = 0.125
GOOD_MODULE_MM = 0.75
LEAST_MODULE_MM = 0.375
QUIET_MODULES = 4
LEVELS = ("H", "Q", "M")


@dataclass(frozen=True, slots=True)
class QrCode:
    """A code ready to be drawn.

    Parameters
    ----------
    rows
        Modules from the top, True for dark, without the blank ones around.
    level
        Its error-correction level.
    module_mm
        Side of a module, mm.
    """

    rows: tuple[tuple[bool, ...], ...]
    level: str
    module_mm: float

    @property
    def side_mm(self) -> float:
        """Side with the blank modules around, mm."""
        return (len(self.rows) + 2 * QUIET_MODULES) * self.module_mm

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
        path = canvas.beginPath()
        top = bottom_mm + self.side_mm - QUIET_MODULES * self.module_mm
        for down, row in enumerate(self.rows, 1):
            across = QUIET_MODULES
            for dark, modules in groupby(row):
                count = len(list(modules))
                if dark:
                    x, y = left_mm + across * self.module_mm, top - down * self.module_mm
                    path.rect(x * MM, y * MM, count * self.module_mm * MM, self.module_mm * MM)
                across += count
        canvas.setFillGray(0)
        canvas.drawPath(path, stroke=0, fill=1)


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
    made = [_made(text, level, room_mm) for level in LEVELS]
    best = next((code for code in made if code.module_mm >= GOOD_MODULE_MM), made[-1])
    if best.module_mm < LEAST_MODULE_MM:
        raise StockplanError(
            f"{text!r} is too long for a code of {room_mm:.0f} mm; use a larger label or a shorter tag"
        )
    return best


def _made(text: str, level: str, room_mm: float) -> QrCode:
    # Phones take what is beyond ASCII for UTF-8, whatever the standard says.
    encoding = None if text.isascii() else "utf-8"
    code = segno.make_qr(text, error=level, boost_error=False, encoding=encoding)
    rows = tuple(tuple(bool(module) for module in row) for row in code.matrix)
    modules = len(rows) + 2 * QUIET_MODULES
    return QrCode(rows, level, _in_dots(room_mm / modules))


def _in_dots(millimetres: float) -> float:
    return int(millimetres / DOT_MM + 1e-9) * DOT_MM
