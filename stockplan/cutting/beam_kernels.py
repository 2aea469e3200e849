"""One layer of the beam search of `beam.py`, compiled: every way to place one more piece, and the best of them kept.

A half-made plan is a row of whole numbers, what its pieces are worth, how many of each type and source are left, and a
mark, which is the same for plans that have the same pieces left.
"""

# mypy: disable-error-code="no-any-return"
from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.chance import draw
from stockplan.cutting.compiled import compiled, inlined

Numbers = NDArray[np.int64]
Floats = NDArray[np.float64]
SPENT, SHEET, START, LENGTH, ACROSS, WIDTH, USED, LAST = range(8)  # of a row: see `beam.py`
FACTS = 8
LANE_ON, NEW_LANE, NEW_DROP, NEW_SHEET = range(4)  # where a piece goes; from there on a new sheet of each source
PARENT, TYPE, KIND = range(3)  # of a child
SLACK = 1e-9
Ground = tuple[Numbers, Numbers, Numbers, Floats, Floats]  # sizes, sheets, costs, rates, worths
Front = tuple[Numbers, Floats, Numbers, Numbers, Numbers]  # rows, worths, pieces left, copies left, marks
Children = tuple[Floats, Numbers]  # guides; parents, types and kinds


@inlined
def room_for(row: Numbers, width: int, length: int, sheets: Numbers, kind: int) -> bool:
    """Whether a piece has room on the sheet under way."""
    sheet = row[SHEET]
    along = sheets[1, sheet] - row[START]
    if kind == LANE_ON:
        return row[USED] + length <= along
    if kind == NEW_LANE:
        return length <= along and width <= sheets[0, sheet] - row[ACROSS] - row[WIDTH]
    return length <= along - row[LENGTH] and width <= sheets[0, sheet]


@inlined
def passed_over(row: Numbers, width: int, length: int, sheets: Numbers, rates: Floats, kind: int) -> float:
    """What is passed over once a piece is placed on the sheet under way, at cost."""
    sheet = row[SHEET]
    begun = row[START] * sheets[0, sheet]
    if kind == NEW_DROP:
        begun += row[LENGTH] * sheets[0, sheet] + width * length
    elif kind == NEW_LANE:
        begun += max(row[LENGTH], length) * (row[ACROSS] + row[WIDTH]) + width * length
    else:
        used = row[USED] + length
        begun += max(row[LENGTH], used) * row[ACROSS] + used * row[WIDTH]
    return row[SPENT] + rates[sheet] * begun


@inlined
def guide_of(passed: float, worth: float, placed: int, guide: int) -> float:
    """How a plan is judged, the less the better."""
    wasted = (passed - worth) / passed
    mean = max(worth, 1e-12) / (placed + 1)
    if guide == 0:
        return wasted
    return wasted / mean if guide == 1 else (0.1 + wasted) / mean


@compiled
def cut_back(found: Children, count: int, many: int) -> int:
    """Keep so many of the children, those with the least guides; returns how many there are then."""
    guides, ways = found
    if count <= many:
        return count
    most = np.partition(guides[:count], many - 1)[many - 1]
    equal = many
    for n in range(count):
        equal -= guides[n] < most
    kept = 0
    for n in range(count):
        take = guides[n] < most
        if guides[n] == most and equal > 0:
            take, equal = True, equal - 1
        if take:
            guides[kept], ways[kept] = guides[n], ways[n]
            kept += 1
    return kept


@compiled
def children(
    ground: Ground,
    front: Front,
    count: int,
    aim: tuple[int, int, int, float],
    shaking: tuple[float, Numbers],
    found: Children,
) -> int:
    """Every way to place one more piece that a plan so cheap may use; returns how many were kept.

    Parameters
    ----------
    ground
        Widths and lengths of sizes, and of sheets; what each sheet costs, and costs for its area; what each size is
        worth.
    front
        Plans of this layer, so many of them.
    count
        How many.
    aim
        Pieces placed so far, the guide, the most a plan may cost, and the most it may waste.
    shaking
        By how much guides are shaken at most, as a share; the state of chance.
    found
        Filled in; holds at least twice as many as are to be kept, which is a third of its room.
    """
    sizes, sheets, costs, rates, worths = ground
    rows, plan_worths, left, copies, _ = front
    placed, guide, most, spare = aim
    shaken, state = shaking
    guides, ways = found
    room, many, kept = guides.size, guides.size // 3, 0
    for p in range(count):
        row = rows[p]
        spent = row[SPENT] + (costs[row[SHEET]] if placed else 0)
        for t in range(worths.size):
            if left[p, t] == 0:
                continue
            width, length = sizes[0, t], sizes[1, t]
            worth = plan_worths[p] + worths[t]
            for kind in range(0 if placed else NEW_SHEET, NEW_SHEET + costs.size):
                if kind < NEW_SHEET:
                    if (kind == LANE_ON and t < row[LAST]) or not room_for(row, width, length, sheets, kind):
                        continue
                    passed = passed_over(row, width, length, sheets, rates, kind)
                else:
                    s = kind - NEW_SHEET
                    if copies[p, s] == 0 or spent + costs[s] > most or width > sheets[0, s] or length > sheets[1, s]:
                        continue
                    passed = spent + rates[s] * width * length
                if passed - worth > spare + SLACK:
                    continue
                if kept == room:
                    kept = cut_back(found, kept, many)
                value = guide_of(passed, worth, placed, guide)
                guides[kept] = value * (1.0 + shaken * draw(state)) if shaken else value
                ways[kept, PARENT], ways[kept, TYPE], ways[kept, KIND] = p, t, kind
                kept += 1
    return cut_back(found, kept, many)


@compiled
def keep_best(front: Front, marks: Numbers, found: Children, count: int, most: tuple[int, int], chosen: Numbers) -> int:
    """Choose the best children, few of those that have the same pieces left; returns how many.

    Parameters
    ----------
    front
        Their parents.
    marks
        Of the types; they are added and taken off with wrapping, which is no harm.
    found, count
        As `children` left them.
    most
        How many at most, and how many of those that have the same pieces left.
    chosen
        Filled in.
    """
    guides, ways = found
    width, alike = most
    size = 16
    while size < 2 * count:
        size *= 2
    seen, times = np.zeros(size, np.int64), np.zeros(size, np.int64)
    kept = 0
    for n in np.argsort(guides[:count], kind="mergesort"):
        mark = front[4][ways[n, PARENT]] - marks[ways[n, TYPE]]
        at = (mark ^ (mark >> 29)) & (size - 1)
        while times[at] and seen[at] != mark:
            at = (at + 1) & (size - 1)
        seen[at] = mark
        times[at] += 1
        if times[at] <= alike:
            chosen[kept] = n
            kept += 1
            if kept == width:
                break
    return kept


@compiled
def place(ground: Ground, marks: Numbers, front: Front, ways: Numbers, chosen: Numbers, following: Front) -> None:
    """The next layer: what its plans are once their pieces are placed.

    Parameters
    ----------
    ground, marks
        As above.
    front, ways
        This layer, and its children.
    chosen
        Which of them.
    following
        Filled in.
    """
    sizes, _, costs, _, worths = ground
    for at in range(chosen.size):
        p, t, kind = ways[chosen[at]]
        row, new = front[0][p], following[0][at]
        new[:] = row
        following[1][at] = front[1][p] + worths[t]
        following[2][at], following[3][at] = front[2][p], front[3][p]
        following[2][at, t] -= 1
        following[4][at] = front[4][p] - marks[t]
        length = sizes[1, t]
        new[LAST] = t
        new[USED] = row[USED] + length if kind == LANE_ON else length
        if kind <= NEW_LANE:
            new[LENGTH] = max(row[LENGTH], new[USED])
            if kind == NEW_LANE:
                new[ACROSS], new[WIDTH] = row[ACROSS] + row[WIDTH], sizes[0, t]
            continue
        new[ACROSS], new[WIDTH], new[LENGTH] = 0, sizes[0, t], length
        if kind == NEW_DROP:
            new[START] = row[START] + row[LENGTH]
            continue
        new[SPENT] = row[SPENT] + (costs[row[SHEET]] if row[SHEET] >= 0 else 0)
        new[SHEET], new[START] = kind - NEW_SHEET, 0
        following[3][at, kind - NEW_SHEET] -= 1
