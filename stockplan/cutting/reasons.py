"""Why a plan is as it is, worked out by planning again: without each order, and with each job from another batch.

Each question is a problem of its own: the order taken away with nothing else bought in its place, or the job's batch
forbidden to it. It is answered by serving the jobs it is about and then moving jobs around them for a fixed number of
steps, so the answers are the same on every machine. They are plans that were really found, so an amount is true as
`at most`. The clock and the user stop it at once; what was not reached then is told as not worked out. A plan found on
the way that beats the one explained takes its place.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, replace

from stockplan.cutting.around import batches_of, carried, planned_around, restricted, without_jobs
from stockplan.cutting.assemble import Assembled, assemble
from stockplan.cutting.budget import Budget
from stockplan.cutting.instance import Choice, Instance, Source, build_instance
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.shortfall import explain
from stockplan.cutting.solution import Solution
from stockplan.cutting.starting import Reading
from stockplan.domain.jobs import BatchRule
from stockplan.domain.plan import Order, Shortfall
from stockplan.domain.reasons import BatchGround, BatchReason, Instead, OrderReason
from stockplan.domain.request import PlanRequest

STEPS_IN_ALL, LEAST_STEPS, MOST_STEPS = 1_200, 20, 80
MOST_JOBS = 60  # beyond this a step takes so long that questions are worked out only when they are asked
ROUNDS = 3  # at most, of taking a better plan and explaining that one instead


@dataclass(frozen=True)
class Told:
    """What a plan says of itself, in order of strip, order and job; see `ProductPlan`."""

    short: tuple[Shortfall, ...]
    orders: tuple[OrderReason, ...]
    batches: tuple[BatchReason, ...]


def settle(
    request: PlanRequest, instance: Instance, best: Solution, budget: Budget
) -> tuple[Solution, Assembled, Told]:
    """Lay an answer out and work out why it is as it is.

    Parameters
    ----------
    request
        The plan asked for.
    instance
        One product's problem.
    best
        Its answer, without surplus.
    budget
        Clock and user; the work is bounded by itself.

    Returns
    -------
    tuple
        The answer, a better one where one was found on the way; its parts; and what is said of them.
    """
    parts = assemble(instance, best, first_order=1)
    for _ in range(ROUNDS):
        why = Reasons(request, instance, parts)
        orders, batches = why.of_orders(budget), why.of_batches(budget)
        if why.better is None:
            break
        best = why.better
        parts = assemble(instance, best, first_order=1)
    else:
        why = Reasons(request, instance, parts)
        orders, batches = why.of_orders(None), why.of_batches(None)
    return best, parts, Told(explain(request, instance, why.answer, parts, budget), orders, batches)


@dataclass
class Reasons:
    """Reasons for one product's plan.

    Parameters
    ----------
    request
        The plan asked for.
    instance
        The product's problem.
    parts
        The answer laid out.
    better
        The best plan found on the way that beats it; None while there is none.
    """

    request: PlanRequest
    instance: Instance
    parts: Assembled
    better: Solution | None = field(default=None, init=False)

    def __post_init__(self) -> None:
        reading = Reading(self.instance, self.parts)
        self.patterns = {cuts.source: reading.pattern(cuts) for cuts in self.parts.cuts}
        answer = reading.answer()
        if answer is None:
            raise ValueError("what was laid out is no answer to the problem")
        self.answer = answer
        self.cost = answer.net_cost(self.instance)
        self.number = {job.code: number for number, job in enumerate(self.instance.jobs)}
        questions = len(self.parts.orders) + len(self.instance.jobs)
        self.steps = max(LEAST_STEPS, min(MOST_STEPS, STEPS_IN_ALL // max(1, questions)))

    # --- orders -------------------------------------------------------------------------------------------------------

    def of_orders(self, budget: Budget | None) -> tuple[OrderReason, ...]:
        """What each order is for and what would happen without it, in order of key.

        Parameters
        ----------
        budget
            Clock and user; None works nothing out.
        """
        if len(self.instance.jobs) > MOST_JOBS:
            budget = None
        return tuple(self.of_order(order, budget, self.steps) for order in self.parts.orders)

    def of_order(self, order: Order, budget: Budget | None, steps: int) -> OrderReason:
        """What one order is for, and what would happen without it."""
        jobs = tuple(sorted({p.job for cuts in self.parts.cuts if cuts.source == order.key for p in cuts.pieces()}))
        if budget is None or budget.over():
            return OrderReason(order.key, jobs)
        offered, taken = self._without(order)
        mine = [self.number[code] for code in jobs]
        start = without_jobs(offered, taken, frozenset(mine))
        found = planned_around(offered, start, mine, batches_of(self.instance, self.answer, mine), steps, budget)
        if budget.over():
            return OrderReason(order.key, jobs)
        short = sorted(self.instance.jobs[job].code for job in found.short - self.answer.short)
        extra = None if short else found.net_cost(offered) - self.cost
        self._offer(_with_orders(self.instance, found))
        instead = _sources(assemble(offered, found, 1), [code for code in jobs if code not in short])
        return OrderReason(order.key, jobs, True, tuple(short), instead, extra)

    def _without(self, order: Order) -> tuple[Instance, Solution]:
        """The problem with nothing to buy but the plan's other orders as they are, and the plan without the order."""
        keys: dict[Source, list[str]] = {}
        for other in self.parts.orders:
            if other is not order:
                keys.setdefault(self.patterns[other.key].source, []).append(other.key)
        fixed = {source: replace(source, option=None, tags=tuple(tags)) for source, tags in keys.items()}
        sources = (*(s for s in self.instance.sources if s.option is None), *fixed.values())
        patterns: Counter[Pattern] = Counter()
        for key, pattern in self.patterns.items():
            if key != order.key:
                patterns[Pattern(fixed.get(pattern.source, pattern.source), pattern.drops)] += 1
        return replace(self.instance, sources=sources), replace(self.answer, patterns=patterns)

    # --- batches ------------------------------------------------------------------------------------------------------

    def of_batches(self, budget: Budget | None) -> tuple[BatchReason, ...]:
        """Why each job is cut from its batch, in order of code; jobs left short are not among them.

        Parameters
        ----------
        budget
            Clock and user; None works nothing out.
        """
        if len(self.instance.jobs) > MOST_JOBS:
            budget = None
        served = sorted(set(range(len(self.instance.jobs))) - self.answer.short, key=self._code)
        return tuple(self.of_job(job, budget, self.steps) for job in served)

    def of_job(self, job: int, budget: Budget | None, steps: int) -> BatchReason:
        """Why one job is cut from its batch."""
        one = self.instance.jobs[job]
        taken = batches_of(self.instance, self.answer, [job])
        names = self._names(taken)
        if any(pin.job == one.code for pin in self.request.pins):
            return BatchReason(one.code, names, BatchGround.PINNED)
        if one.batch_rule is BatchRule.ONE and any(cut.job == one.code for cut in self.request.cut_already):
            return BatchReason(one.code, names, BatchGround.BEGUN)
        other, answer = self.otherwise(job)
        if not _servable(other, job):
            lacking = self._lacking(job, taken) if len(taken) == 1 else None
            return BatchReason(one.code, names, BatchGround.ONLY, lacking_mm=lacking)
        if budget is None or budget.over():
            return BatchReason(one.code, names, BatchGround.NOT_WORKED_OUT)
        found = planned_around(other, answer, [job], taken, steps, budget)
        if budget.over():
            return BatchReason(one.code, names, BatchGround.NOT_WORKED_OUT)
        if len(taken) == 1:
            self._offer(found)
        if found.short != self.answer.short:
            return BatchReason(one.code, names, BatchGround.NO_ROOM)
        extra = found.net_cost(other) - self.cost
        instead = self._names(batches_of(other, found, [job]))
        return BatchReason(one.code, names, BatchGround.CHEAPEST, instead, max(0, extra))

    def otherwise(self, job: int, batch: int | None = None) -> tuple[Instance, Solution]:
        """The problem with a job's batches forbidden to it, or with it in one batch where it mixes several; the plan
        without the job.

        Parameters
        ----------
        job
            Index of the job.
        batch
            The only batch to allow it instead; default any other.
        """
        taken = batches_of(self.instance, self.answer, [job])
        start = without_jobs(self.instance, self.answer, {job})
        whole = self.instance

        def other_than(choice: Choice) -> bool:
            return choice.batch not in taken if batch is None else choice.batch == batch

        if len(taken) > 1:
            whole = self._of_one_batch(job)
            start = carried(self.instance, whole, start)
            return (whole if batch is None else restricted(whole, job, other_than)), start
        return restricted(whole, job, other_than), start

    def _of_one_batch(self, job: int) -> Instance:
        """The problem with a job that may mix batches bound to one; its other jobs as they were."""
        code = self._code(job)
        jobs = (replace(one, batch_rule=BatchRule.ONE) if one.code == code else one for one in self.request.jobs)
        return build_instance(replace(self.request, jobs=tuple(jobs)), self.instance.product)

    def _lacking(self, job: int, taken: frozenset[int]) -> tuple[int, int] | None:
        """A size the job needs that nothing outside its batch is large enough for, the largest first."""
        needed = {
            (piece.width_mm, piece.length_mm)
            for group in self.instance.groups
            if group.job == job
            for choice, demand in group.demands.items()
            if choice.batch in taken
            for piece in demand
        }
        others = [source for source in self.instance.sources if source.batch not in taken]
        for width, length in sorted(needed, key=lambda size: (-size[0] * size[1], -size[1])):
            if not any(source.width_mm >= width and source.length_mm >= length for source in others):
                return width, length
        return None

    def _names(self, batches: frozenset[int]) -> tuple[str, ...]:
        return tuple(sorted(self.instance.batches[batch] for batch in batches))

    def _code(self, job: int) -> str:
        return self.instance.jobs[job].code

    def _offer(self, answer: Solution) -> None:
        """Take note of a plan that beats the one explained."""
        if answer.rank(self.instance) < min(a.rank(self.instance) for a in (self.answer, self.better) if a):
            self.better = answer


def _servable(instance: Instance, job: int) -> bool:
    """Whether every unit of a job has a choice left."""
    mine = [group for group in instance.groups if group.job == job]
    return bool(mine) and all(group.demands for group in mine)


def _with_orders(instance: Instance, answer: Solution) -> Solution:
    """An answer that holds orders as if they lay in the yard, with them as purchases again."""
    bought = {replace(s, option=None, tags=()): s for s in instance.sources if s.option is not None}
    patterns: Counter[Pattern] = Counter()
    for pattern, count in answer.patterns.items():
        as_bought = bought.get(replace(pattern.source, tags=()), pattern.source)
        patterns[Pattern(as_bought, pattern.drops)] += count
    return replace(answer, patterns=patterns)


def _sources(parts: Assembled, jobs: list[str]) -> tuple[Instead, ...]:
    """What some jobs are cut from."""
    found: dict[str, set[str]] = {}
    for cuts in parts.cuts:
        for piece in cuts.pieces():
            found.setdefault(piece.job, set()).add(piece.source)
    return tuple(Instead(code, tuple(sorted(found[code]))) for code in jobs)
