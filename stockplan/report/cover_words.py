"""Things that cover a small job, how they are cut and how a lawn is laid, in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from itertools import accumulate

from stockplan.domain.cover import Laying, Take
from stockplan.domain.cover_source import Source
from stockplan.domain.pieces_cut import Drop
from stockplan.domain.sizes import sizes_text
from stockplan.domain.units import metres, money, size
from stockplan.report.words import counted, day, form_words, printable


def each_once(words: Iterable[str], between: str) -> str:
    """Join words, alike ones once with how often they come; an amount among them is that of one."""
    counts = Counter(words)
    return between.join(f"{count} times, each {one}" if count > 1 else one for one, count in counts.items())


def named(source: Source) -> str:
    """Tag and bay."""
    bay = f" in bay {source.bay}" if source.bay else ""
    return printable(f"{tag_words(source.key)}{bay}")


def tag_words(tag: str) -> str:
    """A tag, in quotation marks where it would not be seen to be one word."""
    return f'"{tag}"' if "," in tag or ";" in tag else tag


def wait_words(takes: Sequence[Take]) -> str:
    """What has to be seen to before things are laid that are wet, damaged or the like; empty where all are sound."""
    states = [(take.source.key, take.source.condition) for take in takes if take.source.condition]
    told = [f"{'it' if len(takes) == 1 else tag_words(tag)} is {condition}" for tag, condition in states]
    return printable(f"; {' and '.join(told)}: see to that first") if told else ""


def batch_words(source: Source) -> str:
    """Its batch, or that nobody knows it."""
    return "batch unknown" if source.batch.startswith("unknown (") else f"batch {source.batch}"


def bought_words(take: Take) -> str:
    """What is bought, from whom, when it comes and for how much."""
    source = take.source
    here = f", here {day(source.from_day)}" if source.from_day else ""
    return printable(
        f"{form_words(source.form)} {size(source.width_mm, source.length_mm)} from {source.key}{here}, "
        f"{money(source.touch_pence)}"
    )


def seams_words(laying: Laying) -> str:
    """How many seams a lawn then has, and how long they are."""
    if laying.seams == 1:
        return f"one seam of {metres(laying.seam_mm)} m"
    return f"{laying.seams} seams, together {metres(laying.seam_mm)} m"


def layings_text(layings: Iterable[Laying]) -> str:
    """Say how a lawn may be laid, a line a way.

    Parameters
    ----------
    layings
        The ways that answers name.
    """
    lines = ["Laid out first; sizes as cut, across × along the pile, allowances for trimming in:"]
    for one in layings:
        label = f"{one.label}: " if one.label else ""
        strips = counted(len(one.pieces), "strip")
        unseamed = "in one piece" if len(one.pieces) == 1 else f"in {strips} without a seam"
        how = f"in {strips}, {seams_words(one)}" if one.seams else unseamed
        narrow = f"; NARROW: one strip covers only {metres(one.narrow_mm)} m" if one.narrow_mm else ""
        lines.append(printable(f"  {label}{sizes_text(one.pieces)} {how}; {one.words}{narrow}"))
    return "\n".join(lines)


def cuts_words(take: Take) -> str:
    """Say where a source is cut, in metres from its cut end and its left edge."""
    words: list[str] = []
    along = 0
    for drop in take.cut.drops:
        begins, along = along, along + drop.length_mm
        rest = list(_drop_words(drop, take.source.width_mm))
        if along < take.source.length_mm:
            words.append(f"crosscut at {metres(along)}")
        elif begins and rest:
            rest[0] = f"of the rest {rest[0]}"
        words += rest
    return ", ".join(words) or "no cut: it is the size itself"


def _drop_words(drop: Drop, width_mm: int) -> Iterator[str]:
    across = 0
    for lane in drop.lanes:
        across += lane.width_mm
        if across < width_mm:
            yield f"rip at {metres(across)}"
    for number, lane in enumerate(drop.lanes, 1):
        name = f"lane {number}" if drop.lanes[0].width_mm < width_mm else "it"
        ends = list(accumulate(length for _, length in lane.pieces))
        cuts = [metres(end) for end in ends if end < drop.length_mm]
        if cuts:
            yield f"cut {name} at {' and '.join(cuts)}"
        trims = dict.fromkeys(metres(width) for width, _ in lane.pieces if width < lane.width_mm)
        if trims:
            yield f"trim from {name} to {' and '.join(trims)}"


def left_words(take: Take) -> str:
    """Say what is left over of a source."""
    kept = [one for one in take.cut.remainders if one.keep]
    if not kept:
        return "nothing left worth keeping"
    return "leaves " + " and ".join(f"{size(one.width_mm, one.length_mm)}" for one in kept)
