"""What accepted plans will leave over that is large enough for jobs left short.

What such a plan is still to cut stays with it whole, so what it leaves is not there to be planned with until it is cut.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from stockplan.domain.jobs import Job
from stockplan.domain.plan import PlannedLeftover
from stockplan.domain.standing import Standing, clusters, codes_of
from stockplan.domain.units import size

MOST_NAMED = 3  # things a sentence names


def left_for_short(
    kept: Sequence[Standing],
    jobs: Mapping[str, Job],
    short: Mapping[str, Sequence[tuple[int, int]]],
    begun: Mapping[str, str],
) -> Iterator[str]:
    """Say for each job left short what will be left over that is large enough for each of its pieces; a sentence each.

    Parameters
    ----------
    kept
        What accepted plans are still to cut.
    jobs
        Every job, by code.
    short
        Width and length of every piece lacking, mm, by job.
    begun
        The batch of jobs that are begun and want one.
    """
    for code, sizes in sorted(short.items()):
        job = jobs[code]
        found = [
            (one, rests)
            for one in kept
            if one.item.product == job.product
            and (one.item.arrives_on is None or one.item.arrives_on < job.lay_on)
            and begun.get(code, one.cuts.batch) == one.cuts.batch
            and (rests := _large_enough(one.leftovers, sizes))
        ]
        if not found:
            continue
        named = [
            f"{size(one.width_mm, one.length_mm)} m of {thing.item.tag}" for thing, rests in found for one in rests
        ]
        more = f" and {len(named) - MOST_NAMED} more" if len(named) > MOST_NAMED else ""
        days = [job.lay_on, *(jobs[served].lay_on for served in _hanging_on(kept, found) if served in jobs)]
        yield (
            f"{code} is short, and accepted plans will leave over {', '.join(named[:MOST_NAMED])}{more}, large enough "
            f"for each of its pieces: cut that first, or plan it all anew with: stockplan plan --from {min(days)} "
            f"--to {max(days)} --again"
        )


def _large_enough(leftovers: Sequence[PlannedLeftover], sizes: Sequence[tuple[int, int]]) -> list[PlannedLeftover]:
    """Leftovers that each hold any one of the pieces and together have the area of all; none where they have not."""
    wide, long = max(width for width, _ in sizes), max(length for _, length in sizes)
    large = [one for one in leftovers if one.keep and one.width_mm >= wide and one.length_mm >= long]
    area = sum(one.width_mm * one.length_mm for one in large)
    return large if area >= sum(width * length for width, length in sizes) else []


def _hanging_on(kept: Sequence[Standing], found: Sequence[tuple[Standing, list[PlannedLeftover]]]) -> list[str]:
    """Codes of the jobs that must be planned anew with these things, as they hang together with them."""
    tags = {one.item.tag for one, _ in found}
    return [code for group in clusters(kept) if any(one.item.tag in tags for one in group) for code in codes_of(group)]
