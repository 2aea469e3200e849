"""Sources put together from drops whose sets of pieces are listed, compiled.

Drops are sorted by the type that leads each, the first of its types in a given order (`drops_led.py`). With v_o and
x_o what an option o, a set at one length, is worth and how long it is, and n_i how often type i is needed:

    F_i[r]  = most that a source r long is worth whose drops are led by types from i on, each n_i times at most
            = max over up to n_i options o led by i of sum v_o + F_i+1[r - sum x_o],   F_end[r] = tail(r)
    G_i[r]  = the same where type i leads one of them

Going forward through F, drop by drop, gives every set of pieces that a source is worth enough with. G tells which types
may lead the next drop at all; the options of one leader that are equally long are a stretch, looked at from the best
on. So few are looked at in vain: a pass of `whole_loads.py` over M 2, at a grid of 10 mm, spends 0.6 s here, where
going through all options of a leader by loss tried 6.1 thousand million for 2.7 million drops, in 8.7 s.
"""

# mypy: disable-error-code="no-any-return"
from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.compiled import compiled
from stockplan.cutting.drops_led import Parts
from stockplan.cutting.known_sets import TOO_MANY, Few, Known, is_apart, number_of
from stockplan.cutting.led_listing import HAIR, MOST_FRAMES, MOST_PIECES
from stockplan.cutting.recursions import NEVER

Numbers = NDArray[np.int64]
Floats = NDArray[np.float64]
LEADER, ROOM, STRETCH, NEXT, OPTION, FIELDS = range(6)


class Options(NamedTuple):
    """Drops that a source may have.

    Parameters
    ----------
    tables, led
        F and G, by leader and step.
    starts
        By leader: its first stretch; behind the last leader their number.
    copies
        By leader: how often it may lead.
    begins, ends, lengths, losses
        By stretch, those of a leader by loss: its first option, and a number more; the one behind its last; how long
        they are in points; and as for `stretch_losses`.
    which, worths
        By option, those of a stretch from the best on: its set, and what it is worth.
    """

    tables: Floats
    led: Floats
    starts: Numbers
    copies: Numbers
    begins: Numbers
    ends: Numbers
    lengths: Numbers
    losses: Floats
    which: Numbers
    worths: Floats


@compiled
def least_losses(tail: Floats, losses: Floats) -> None:
    """By length: at least how much a tail loses by being so much shorter, pence.

    Parameters
    ----------
    tail
        By length in points: what a tail is worth.
    losses
        Where they go.
    """
    for shorter in range(tail.size):
        losses[shorter] = (tail[shorter:] - tail[: tail.size - shorter]).min()


@compiled
def drop_useless(drops: Floats, losses: Floats) -> None:
    """Leave out the lengths of a drop that are worth no more than a shorter one and the longer tail behind it."""
    last = -1
    for x in range(drops.size):
        if drops[x] > NEVER / 2:
            if last >= 0 and drops[x] <= drops[last] + losses[x - last] + HAIR:
                drops[x] = NEVER
            else:
                last = x


@compiled
def add_drop(values: Floats, drops: Floats, copies: int) -> None:
    """Let a source hold a drop as well, of any length, so many times at most.

    Parameters
    ----------
    values
        By length: what a source is worth at most without it; then with it.
    drops
        By length: what it is worth, `NEVER` where it cannot be.
    copies
        At least 1.
    """
    for _ in range(copies):
        before = values.copy()
        for x in range(1, drops.size):
            if drops[x] > NEVER / 2:
                for r in range(x, values.size):
                    values[r] = max(values[r], before[r - x] + drops[x])


@compiled
def most_with_drops(tails: Floats, drops: Floats, losses: Floats, counts: Parts) -> Floats:
    """By length: what a source is worth at most, of each block the most of its layouts.

    Parameters
    ----------
    tails
        By length: what a tail is worth at most.
    drops
        By leader and length: what a drop is worth at most, `NEVER` where it cannot be.
    losses
        As from `least_losses`.
    counts
        As for `led_tables`.
    """
    first, block_of, copies = counts
    useful = drops.copy()
    for i in range(len(useful)):
        drop_useless(useful[i], losses)
    values, before = tails.copy(), tails.copy()
    for w in range(block_of.size):
        begin, end = first[block_of[w]], first[block_of[w] + 1]
        if w == 0 or block_of[w] != block_of[w - 1]:
            before[:] = values
            values[:] = NEVER
        mine = before.copy()
        for i in range(begin, end):
            if copies[w, i - begin]:
                add_drop(mine, useful[i], copies[w, i - begin])
        for x in range(values.size):
            values[x] = max(values[x], mine[x])
    return values


@compiled
def led_tables(tables: Floats, led: Floats, starts: Numbers, lengths: Numbers, worths: Floats, counts: Parts) -> None:
    """Recursions F and G over listed options, of each block the most of its layouts.

    Parameters
    ----------
    tables, led
        By leader and step; the last row of the former is the tail's worth, the others become F, those of the latter G.
    starts
        By leader: its first stretch; behind the last leader their number.
    lengths, worths
        Of the stretches, in steps; of the best option of each.
    counts
        By block its first leader, and by layout of it its block, and how often each leader of the block may lead.
    """
    first, block_of, copies = counts
    tables[:-1] = NEVER
    for w in range(block_of.size - 1, -1, -1):
        begin, end = first[block_of[w]], first[block_of[w] + 1]
        table = tables[end].copy()
        for i in range(end - 1, begin - 1, -1):
            for _ in range(copies[w, i - begin]):
                before = table.copy()
                for g in range(starts[i], starts[i + 1]):
                    x = lengths[g]
                    for r in range(x, before.size):
                        led[i, r] = max(led[i, r], before[r - x] + worths[g])
                        table[r] = max(table[r], before[r - x] + worths[g])
            for r in range(table.size):
                tables[i, r] = max(tables[i, r], table[r])


@compiled
def stretch_losses(
    tables: Floats, starts: Numbers, lengths: Numbers, worths: Floats, copies: Numbers, losses: Floats
) -> None:
    """By stretch: at least how much less than F promises a source is worth with an option of it, pence.

    Parameters
    ----------
    tables, starts, lengths, worths, copies
        As for `led_tables`.
    losses
        Where they go.
    """
    for i in range(starts.size - 1):
        after = tables[i + 1] if copies[i] == 1 else tables[i]
        for g in range(starts[i], starts[i + 1]):
            x = lengths[g]
            losses[g] = (tables[i, x:] - after[: after.size - x]).min() - worths[g]


@compiled
def source_sets(
    parts: Parts, drops: Known, source: Parts, enough: float, found: Known, values: Floats, most_steps: int
) -> int:
    """Every set of pieces that a source is worth enough with, and at most how much; how many, or `TOO_MANY`.

    Parameters
    ----------
    parts
        The drops it may have, `Options` as a plain tuple.
    drops
        The sets of those.
    source
        By length in points what its tail is worth, and the step; by type how many pieces there may be; `Drop.apart`.
    enough
        What a source must be worth, pence.
    found, values
        Where sets and what each is worth go.
    most_steps
        Of the search.
    """
    tables, led, starts, copies, begins, ends, lengths, losses, which, worths = Options(*parts)
    pieces, sizes, _ = drops
    tail, steps, most, apart = source
    frames, value = np.zeros((MOST_FRAMES, FIELDS), np.int64), np.zeros(MOST_FRAMES)
    held, key, used = np.zeros(MOST_FRAMES, np.int64), np.zeros(MOST_FRAMES, np.int64), np.zeros(most.size, np.int64)
    frames[0, ROOM], frames[0, NEXT], frames[0, OPTION] = tail.size - 1, begins[0], -1
    depth, count, known, leaders = 1, 0, 0, starts.size - 1
    for _ in range(most_steps):
        if depth == 0:
            return known
        f = depth - 1
        i, room = frames[f, LEADER], frames[f, ROOM]
        if i == leaders or value[f] + tables[i, steps[room]] < enough:
            if frames[f, OPTION] >= 0:
                number = which[frames[f, OPTION]]
                count -= sizes[number]
                change(used, pieces[number], sizes[number], -1)
            depth = f
            continue
        g = frames[f, STRETCH]
        spare = value[f] + tables[i, steps[room]] - enough
        if g == starts[i + 1] or losses[g] > spare or value[f] + led[i, steps[room]] < enough:
            frames[f, LEADER], frames[f, STRETCH] = i + 1, starts[i + 1]
            frames[f, NEXT] = begins[starts[i + 1]]
            continue
        after, o, left = i + 1 if copies[i] == 1 else i, frames[f, NEXT], room - lengths[g]
        if left < 0 or o == ends[g] or value[f] + worths[o] + tables[after, steps[left]] < enough:
            frames[f, STRETCH] = g + 1
            frames[f, NEXT] = begins[g + 1]
            continue
        frames[f, NEXT] += 1
        worth, number = value[f] + worths[o], which[o]
        if count + sizes[number] > MOST_PIECES:
            return TOO_MANY
        if not fits((used, most, apart), (held, count), pieces[number], sizes[number]):
            continue
        held[count : count + sizes[number]] = pieces[number, : sizes[number]]
        count += sizes[number]
        change(used, pieces[number], sizes[number], 1)
        frames[depth, LEADER], frames[depth, ROOM], frames[depth, OPTION] = after, left, o
        frames[depth, STRETCH] = g if after == i else starts[after]
        frames[depth, NEXT] = o if after == i else begins[starts[after]]
        value[depth] = worth
        depth += 1
        if worth + tail[left] >= enough:
            number, total = number_of(held, count, key, found, known), worth + tail[left]
            if number < 0:
                return TOO_MANY
            values[number] = total if number == known else max(values[number], total)
            known = max(known, number + 1)
    return TOO_MANY


@compiled
def change(used: Numbers, pieces: Few, count: int, by: int) -> None:
    """Count pieces as used, or as not used any more."""
    for j in range(count):
        used[pieces[j]] += by


@compiled
def fits(rules: Parts, others: tuple[Numbers, int], pieces: Few, count: int) -> bool:
    """Whether these pieces may be used beside those that are.

    Parameters
    ----------
    rules
        By type how many are used, and how many there may be; `Drop.apart`.
    others
        Pieces used, and how many.
    pieces, count
        Likewise.
    """
    used, most, apart = rules
    alike = 0
    for j in range(count):
        alike = alike + 1 if j and pieces[j] == pieces[j - 1] else 1
        if used[pieces[j]] + alike > most[pieces[j]] or is_apart(others[0], others[1], pieces[j], apart):
            return False
    return True
