"""The rule of worth to the penny, compiled: what ruin and recreate and the tables of sets reckon with.

The product in `domain.worth.leftover_worth` is of up to 75 bits. Estimated in binary the quotient is wrong by one at
most; the remainder, small again, is right although products of 64 bits wrap around.
"""

from __future__ import annotations

import numpy as np

from stockplan.cutting.compiled import compiled
from stockplan.domain.worth import LEAST_LENGTH_MM, LEAST_WIDTH_MM

WHOLE_SHARE = 80_000 * 15_000


@compiled
def worth_of(width: int, length: int, full: bool, pence: int, area: int) -> int:
    """`domain.worth.leftover_worth` of a rectangle.

    Parameters
    ----------
    width, length
        Millimetres.
    full
        Whether it counts as full width.
    pence, area
        What the grass cost: pence for so many mm².
    """
    if width < LEAST_WIDTH_MM or length < LEAST_LENGTH_MM:
        return 0
    share = 1200 * (675_000 + 75 * min(length, 3000))
    if not full:
        share = min(share, (20_000 + 9 * width) * (9000 + min(length, 6000)))
    cost = pence * width * length
    parts = area * WHOLE_SHARE
    quotient = np.int64(float(cost) * float(share) / float(parts))
    rest = cost * share - quotient * parts
    while rest < 0:
        quotient -= 1
        rest += parts
    while rest >= parts:
        quotient += 1
        rest -= parts
    return int(quotient)
