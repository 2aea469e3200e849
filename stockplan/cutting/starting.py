"""A plan made before as an answer to begin from, where it still is one."""

from __future__ import annotations

from collections import Counter, defaultdict

from stockplan.cutting.assemble import Assembled
from stockplan.cutting.instance import Choice, Instance, PieceType, Source
from stockplan.cutting.patterns import DropPattern, LanePattern, Pattern
from stockplan.cutting.solution import Solution, trimmed
from stockplan.domain.plan import Order, Piece, Plan, ProductPlan, SourceCuts


def answer_of(instance: Instance, plan: Plan | None) -> Solution | None:
    """The answer that a plan is to a problem; None where it is none: something it cut or served is no longer there.

    Parameters
    ----------
    instance
        The problem.
    plan
        A plan for jobs of the same codes; jobs it does not serve in full are left short.
    """
    mine = next((one for one in plan.products if one.product == instance.product), None) if plan else None
    if mine is None:
        return None
    try:
        return Reading(instance, mine).answer()
    except KeyError:
        return None


class Reading:
    """One plan read in the planner's terms; a `KeyError` says that something is not there.

    Parameters
    ----------
    instance
        The problem.
    plan
        A product's plan, or what of it follows from an answer.
    """

    def __init__(self, instance: Instance, plan: ProductPlan | Assembled) -> None:
        self.instance, self.plan = instance, plan
        self.jobs = {job.code: number for number, job in enumerate(instance.jobs)}
        self.types: dict[tuple[int, int, int, int], PieceType] = {}
        for group in instance.groups:
            for demand in group.demands.values():
                for piece in demand:
                    self.types[group.job, piece.batch, piece.width_mm, piece.length_mm] = piece
        self.sources = {tag: source for source in instance.sources for tag in source.tags}
        for order in plan.orders:
            alike = [source for source in instance.sources if self._is_sold_as(source, order)]
            lead_days = (order.arrives_on - order.order_by).days
            alike.sort(key=lambda source: instance.supply[source.option or 0].lead_days != lead_days)
            if alike:
                self.sources[order.key] = alike[0]

    def _is_sold_as(self, source: Source, order: Order) -> bool:
        """Whether a purchase is what a plan ordered, at its price."""
        if source.option is None:
            return False
        option = self.instance.supply[source.option]
        return (option.supplier, option.form, option.width_mm, source.length_mm, source.value_pence) == (
            order.supplier,
            order.form,
            order.width_mm,
            order.length_mm,
            order.price_pence,
        )

    def answer(self) -> Solution | None:
        """The answer that the plan is; None where what it cuts does not serve the jobs."""
        patterns: Counter[Pattern] = Counter()
        by_job: defaultdict[int, Counter[PieceType]] = defaultdict(Counter)
        for cuts in self.plan.cuts:
            pattern = self.pattern(cuts)
            if not all(pattern.source.makes(made) for made in pattern.made()):
                return None
            patterns[pattern] += 1
            for piece in cuts.pieces():
                by_job[self.jobs[piece.job]][self._type(pattern.source, piece)] += 1
        given, short = self._given(by_job)
        answer = Solution(patterns, given, frozenset(short))
        made: Counter[PieceType] = Counter()
        for pattern, count in patterns.items():
            for kind, number in pattern.made().items():
                made[kind] += number * count
        return None if answer.demand(self.instance) - made else trimmed(self.instance, answer)

    def _type(self, source: Source, piece: Piece) -> PieceType:
        return self.types[self.jobs[piece.job], source.batch, piece.width_mm, piece.length_mm]

    def pattern(self, cuts: SourceCuts) -> Pattern:
        """How one source is cut."""
        source = self.sources[cuts.source]
        if (source.width_mm, source.length_mm) != (cuts.width_mm, cuts.length_mm):
            raise KeyError(cuts.source)
        drops = tuple(
            DropPattern(
                drop.length_mm,
                tuple(LanePattern(n.width_mm, tuple(self._type(source, p) for p in n.pieces)) for n in drop.lanes),
            )
            for drop in cuts.drops
        )
        return Pattern(source, drops)

    def _given(self, by_job: dict[int, Counter[PieceType]]) -> tuple[dict[tuple[int, Choice], int], set[int]]:
        """What each group is given, as far as its job's pieces are all there, and the jobs left short."""
        given: dict[tuple[int, Choice], int] = {}
        short: set[int] = set()
        left = {job: Counter(pieces) for job, pieces in by_job.items()}
        for number, group in enumerate(self.instance.groups):
            units = 0
            for choice in self._in_order(group.job, list(group.demands)):
                demand = Counter(group.demands[choice])
                while (
                    units < group.units
                    and demand <= left.get(group.job, Counter())
                    and (demand or by_job.get(group.job))
                ):
                    left[group.job] = left[group.job] - demand
                    given[number, choice] = given.get((number, choice), 0) + 1
                    units += 1
            if units < group.units:
                short.add(group.job)
        kept = {key: n for key, n in given.items() if self.instance.groups[key[0]].job not in short}
        short |= set(range(len(self.instance.jobs))) - {group.job for group in self.instance.groups}
        return kept, short

    def _in_order(self, job: int, choices: list[Choice]) -> list[Choice]:
        """Choices by the layout picked, if it is still one of the job's."""
        one = self.instance.jobs[job]
        picked = next((chosen.layout for chosen in self.plan.layouts if chosen.job == one.code), None)
        if not one.layouts:
            return choices
        layout = one.layouts.index(picked) if picked in one.layouts else 0
        return [choice for choice in choices if choice.layout == layout]
