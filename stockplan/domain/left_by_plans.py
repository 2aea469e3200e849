"""What accepted plans will leave over that is large enough for jobs left short, or to spare an order or a whole roll.

What such a plan is still to cut stays with it whole, so what it leaves is not there to be planned with until it is cut.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from stockplan.domain.jobs import BatchRule, Job
from stockplan.domain.plan import Plan, PlannedLeftover, SourceCuts
from stockplan.domain.standing import Standing, clusters, codes_of
from stockplan.domain.stock import StockForm, StockItem
from stockplan.domain.units import size

MOST_NAMED = 3  # things a sentence names
MOST_ROLLS = 3  # told of in full; the same is often left over for many
Size = tuple[int, int]  # width and length, mm
_Found = Sequence[tuple[Standing, Sequence[PlannedLeftover]]]


@dataclass(frozen=True, slots=True)
class LeftByPlans:
    """What accepted plans are still to cut, and leave over.

    Parameters
    ----------
    kept
        What they are still to cut.
    jobs
        Every job, by code.
    """

    kept: Sequence[Standing]
    jobs: Mapping[str, Job]

    def for_short(self, short: Mapping[str, Sequence[Size]], begun: Mapping[str, str]) -> Iterator[str]:
        """Say for each job left short what will be left that is large enough for each of its pieces; a sentence each.

        Parameters
        ----------
        short
            The size of every piece lacking, by job.
        begun
            The batch of jobs that are begun and want one.
        """
        for code, sizes in sorted(short.items()):
            job = self.jobs[code]
            found = self._large_enough(job.product, sizes, job.lay_on, begun.get(code))
            if found:
                told = self._told(found, "each of its pieces", [job.lay_on])
                yield f"{code} is short, and {told}"

    def for_orders(self, plan: Plan) -> Iterator[str]:
        """Say for each order what will be left that could give all that is cut from it; a sentence each.

        Parameters
        ----------
        plan
            The plan that orders.
        """
        bought = {order.key for order in plan.orders()}
        for tag, told in self._instead(plan, bought, {}):
            yield f"{tag} may be spared: {told}"

    def for_whole_rolls(self, plan: Plan, stock: Iterable[StockItem], begun: Mapping[str, str]) -> Iterator[str]:
        """Say for each whole roll that a plan opens what will be left that could give the same; a sentence each.

        Parameters
        ----------
        plan
            The plan.
        stock
            What it was made from.
        begun
            As in `for_short`.
        """
        whole = {item.tag for item in stock if item.form is StockForm.ROLL}
        found = list(self._instead(plan, whole, begun))
        yield from (f"{tag} may stay whole: {told}" for tag, told in found[:MOST_ROLLS])
        if more := [tag for tag, _ in found[MOST_ROLLS:]]:
            yield f"{', '.join(more)} may stay whole as well, each by itself"

    def _instead(self, plan: Plan, those: Collection[str], begun: Mapping[str, str]) -> Iterator[tuple[str, str]]:
        """Give each of some sources that something left over could stand in for, and what is to be told of that."""
        sources: dict[str, set[str]] = {}
        for piece in plan.pieces():
            sources.setdefault(piece.job, set()).add(piece.source)
        for cuts in plan.cuts():
            served = [self.jobs[code] for code in dict.fromkeys(piece.job for piece in cuts.pieces())]
            tied = any(job.batch_rule is BatchRule.ONE and len(sources[job.code]) > 1 for job in served)
            batches = {begun[job.code] for job in served if job.code in begun}
            if cuts.source not in those or tied or len(batches) > 1:  # the rest of a job would be of another batch
                continue
            days = [job.lay_on for job in served]
            found = self._large_enough(cuts.product, [_used(cuts)], min(days), next(iter(batches), None))
            if found:
                yield cuts.source, self._told(found, "all that is cut from it", days)

    def _large_enough(self, product: str, sizes: Sequence[Size], before: date, batch: str | None) -> _Found:
        return [
            (one, rests)
            for one in self.kept
            if one.item.product == product
            and (one.item.arrives_on is None or one.item.arrives_on < before)
            and batch in (None, one.cuts.batch)
            and (rests := _holding(one.leftovers, sizes))
        ]

    def _told(self, found: _Found, what: str, days: Sequence[date]) -> str:
        rests = [(thing.item.tag, one) for thing, rests in found for one in rests]
        named = [f"{size(one.width_mm, one.length_mm)} m of {tag}" for tag, one in rests]
        more = f" and {len(named) - MOST_NAMED} more" if len(named) > MOST_NAMED else ""
        all_days = [*days, *(self.jobs[code].lay_on for code in self._hanging_on(found) if code in self.jobs)]
        return (
            f"accepted plans will leave over {', '.join(named[:MOST_NAMED])}{more}, large enough for {what}: cut that "
            f"first and plan again, or plan it all anew with: stockplan plan --from {min(all_days)} "
            f"--to {max(all_days)} --again"
        )

    def _hanging_on(self, found: _Found) -> list[str]:
        """Codes of the jobs that must be planned anew with these things, as they hang together with them."""
        tags = {one.item.tag for one, _ in found}
        groups = (group for group in clusters(self.kept) if any(one.item.tag in tags for one in group))
        return [code for group in groups for code in codes_of(group)]


def _holding(leftovers: Sequence[PlannedLeftover], sizes: Sequence[Size]) -> list[PlannedLeftover]:
    """Leftovers that each hold any one of the sizes and together have the area of all; none where they have not."""
    wide, long = max(width for width, _ in sizes), max(length for _, length in sizes)
    large = [one for one in leftovers if one.keep and one.width_mm >= wide and one.length_mm >= long]
    area = sum(one.width_mm * one.length_mm for one in large)
    return large if area >= sum(width * length for width, length in sizes) else []


def _used(cuts: SourceCuts) -> Size:
    """How far across and along a source is cut into."""
    across = max(lane.across_mm + lane.width_mm for drop in cuts.drops for lane in drop.lanes)
    return across, sum(drop.length_mm for drop in cuts.drops)
