"""From the planner's answer to a plan people can follow: tags, orders, dates, jobs' letters, places on the source."""

from __future__ import annotations

from collections import Counter, defaultdict, deque
from dataclasses import dataclass
from datetime import date, timedelta

from stockplan.cutting.instance import Instance, PieceType
from stockplan.cutting.patterns import DropPattern, LanePattern, Pattern
from stockplan.cutting.solution import Solution
from stockplan.domain.plan import ChosenLayout, Drop, Lane, Order, Piece, PlannedLeftover, SourceCuts, StockUsed
from stockplan.domain.stock import StockForm
from stockplan.domain.worth import Leftover, big_enough, keep_reason


@dataclass(frozen=True, slots=True)
class Assembled:
    """The parts of a product's plan that follow from an answer; see `ProductPlan`."""

    orders: tuple[Order, ...]
    cuts: tuple[SourceCuts, ...]
    stock_used: tuple[StockUsed, ...]
    leftovers: tuple[PlannedLeftover, ...]
    cutting_cost_pence: int
    net_cost_pence: int
    layouts: tuple[ChosenLayout, ...]


@dataclass(frozen=True, slots=True)
class _Copy:
    """One copy of a job's strip waiting for a piece."""

    lay_on: date
    job: str
    strip: str
    number: int


def tidy(pattern: Pattern) -> Pattern:
    """The pattern with every drop that is one whole-width lane cut no longer than its pieces; never dearer.

    What was left in the lane then stays on the source, where the checker finds it too: a whole-width leftover that
    reaches the source's end is its tail, whatever cut it was meant to lie behind.
    """
    drops = tuple(
        DropPattern(drop.lanes[0].used_mm, drop.lanes)
        if len(drop.lanes) == 1 and drop.lanes[0].width_mm == pattern.source.width_mm
        else drop
        for drop in pattern.drops
    )
    return Pattern(pattern.source, drops)


def assemble(instance: Instance, solution: Solution, first_order: int) -> Assembled:
    """Lay an answer out.

    Parameters
    ----------
    instance
        The problem.
    solution
        An answer without surplus.
    first_order
        Number of the first order key.
    """
    waiting = _waiting(instance, solution)
    tags = {s: deque(s.tags) for s in instance.sources}
    elements = [tidy(p) for p in solution.patterns.elements()]
    elements.sort(key=lambda p: (p.source.option is not None, p.source.tags, -p.source.length_mm, p.text()))
    orders: list[Order] = []
    cuts: list[SourceCuts] = []
    used: list[StockUsed] = []
    leftovers: list[PlannedLeftover] = []
    spent = 0
    for pattern in elements:
        bought = pattern.source.option is not None
        key = f"new-{first_order + len(orders)}" if bought else tags[pattern.source].popleft()
        source_cuts = _cut(instance, pattern, key, waiting)
        cuts.append(source_cuts)
        if bought:
            orders.append(_order(instance, pattern, key, source_cuts))
        else:
            used.append(StockUsed(key, pattern.source.value_pence))
        leftovers.extend(_leftovers(instance, pattern, key, source_cuts))
        spent += source_cuts.crosscuts * instance.costs.crosscut_pence + source_cuts.rips * instance.costs.rip_pence
    net = sum(o.price_pence for o in orders) + sum(u.value_pence for u in used) + spent
    net -= sum(left.value_pence for left in leftovers)
    layouts = _picked(instance, solution)
    net += sum(chosen.seam_cost_pence for chosen in layouts)
    return Assembled(tuple(orders), tuple(cuts), tuple(used), tuple(leftovers), spent, net, layouts)


def _picked(instance: Instance, solution: Solution) -> tuple[ChosenLayout, ...]:
    """The layout of every job that has several, in order of job; the first one for a job left short."""
    picked = solution.layouts(instance)
    found = []
    for number, job in sorted(enumerate(instance.jobs), key=lambda item: item[1].code):
        if job.layouts:
            layout = job.layouts[picked.get(number, 0)]
            found.append(ChosenLayout(job.code, layout, 0 if number in solution.short else layout.seam_cost_pence))
    return tuple(found)


def _waiting(instance: Instance, solution: Solution) -> dict[PieceType, list[_Copy]]:
    """By piece type: the strip copies it must cover, earliest job first."""
    copies: dict[tuple[int, int, int], deque[_Copy]] = defaultdict(deque)
    picked = solution.layouts(instance)
    for number, job in enumerate(instance.jobs):
        for strip in job.layouts[picked.get(number, 0)].strips if job.layouts else job.strips:
            done = instance.cut[job.code, strip.label]
            for copy in range(done + 1, done + strip.count + 1):
                copies[number, strip.width_mm, strip.length_mm].append(_Copy(job.lay_on, job.code, strip.label, copy))
    waiting: defaultdict[PieceType, list[_Copy]] = defaultdict(list)
    for (group, choice), units in sorted(solution.given.items()):
        number = instance.groups[group].job
        for piece, count in instance.groups[group].demands[choice].items():
            for _ in range(count * units):
                waiting[piece].append(copies[number, piece.width_mm, piece.length_mm].popleft())
    for queue in waiting.values():
        queue.sort(key=lambda copy: (copy.lay_on, copy.job, copy.strip, copy.number))
    return waiting


def _cut(instance: Instance, pattern: Pattern, key: str, waiting: dict[PieceType, list[_Copy]]) -> SourceCuts:
    """Give every piece of a pattern a job's strip, one job's pieces together where there is a choice."""
    batch = instance.batches[pattern.source.batch]
    here: Counter[str] = Counter()
    drops: list[Drop] = []
    along = 0
    for drop in _in_cutting_order(pattern, waiting):
        across, lanes = 0, []
        for lane in drop.lanes:
            at, pieces = along, []
            for piece in lane.pieces:
                copy = _take(waiting[piece], here)
                pieces.append(
                    Piece(copy.job, copy.strip, copy.number, key, batch, across, at, piece.width_mm, piece.length_mm)
                )
                at += piece.length_mm
            lanes.append(Lane(across, lane.width_mm, tuple(pieces)))
            across += lane.width_mm
        drops.append(Drop(along, drop.length_mm, tuple(lanes)))
        along += drop.length_mm
    source = pattern.source
    return SourceCuts(
        key,
        instance.product,
        batch,
        source.width_mm,
        source.length_mm,
        tuple(drops),
        pattern.crosscuts(),
        pattern.rips(),
    )


def _in_cutting_order(pattern: Pattern, waiting: dict[PieceType, list[_Copy]]) -> list[DropPattern]:
    """Drops by the first job each may serve, longest first within a job: a job's strips come off in a row."""

    def first(drop: DropPattern) -> tuple[date, str, int]:
        copy = min((waiting[p][0] for lane in drop.lanes for p in lane.pieces), key=lambda c: (c.lay_on, c.job))
        return copy.lay_on, copy.job, -drop.length_mm

    return sorted(pattern.drops, key=first)


def _take(queue: list[_Copy], here: Counter[str]) -> _Copy:
    """The next strip copy for a piece: of a job already on this source if there is one, else the earliest."""
    position = next((i for i, copy in enumerate(queue) if here[copy.job]), 0)
    copy = queue.pop(position)
    here[copy.job] += 1
    return copy


def _order(instance: Instance, pattern: Pattern, key: str, cuts: SourceCuts) -> Order:
    """The order for a purchase: as late as the first job it serves allows."""
    assert pattern.source.option is not None
    option = instance.supply[pattern.source.option]
    lay_on = {job.code: job.lay_on for job in instance.jobs}
    arrives_on = min(lay_on[piece.job] for piece in cuts.pieces()) - timedelta(days=1)
    return Order(
        key=key,
        product=instance.product,
        supplier=option.supplier,
        form=option.form,
        width_mm=option.width_mm,
        length_mm=pattern.source.length_mm,
        price_pence=pattern.source.value_pence,
        order_by=arrives_on - timedelta(days=option.lead_days),
        arrives_on=arrives_on,
    )


def _leftovers(instance: Instance, pattern: Pattern, key: str, cuts: SourceCuts) -> list[PlannedLeftover]:
    """Every leftover of a source, valued and judged."""
    laid = Pattern(
        pattern.source,
        tuple(
            DropPattern(
                drop.length_mm,
                tuple(
                    LanePattern(
                        lane.width_mm,
                        tuple(PieceType(pattern.source.batch, p.width_mm, p.length_mm) for p in lane.pieces),
                    )
                    for lane in drop.lanes
                ),
            )
            for drop in cuts.drops
        ),
    )
    found = []
    for rest in laid.rests():
        on_core = rest.tail and pattern.source.on_core
        shape = Leftover(rest.width_mm, rest.length_mm, on_core, instance.widest_mm)
        worth = instance.worth(pattern.source, rest.width_mm, rest.length_mm, tail=rest.tail)
        found.append(
            PlannedLeftover(
                source=key,
                across_mm=rest.across_mm,
                along_mm=rest.along_mm,
                width_mm=rest.width_mm,
                length_mm=rest.length_mm,
                becomes=StockForm.PART_ROLL if on_core else StockForm.OFFCUT,
                keep=big_enough(shape),
                value_pence=worth,
                reason=keep_reason(shape),
            )
        )
    return found
