"""What would be if something in a plan were otherwise: each question a problem with a plan to begin from."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace

from stockplan.cutting.around import batches_of, carried, focused, in_batches, planned_around, restricted, without_jobs
from stockplan.cutting.assemble import Assembled, assemble
from stockplan.cutting.budget import Budget
from stockplan.cutting.building import build_instance
from stockplan.cutting.instance import Choice, Instance, Source
from stockplan.cutting.other_orders import other_orders
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.solution import Solution
from stockplan.cutting.starting import Reading
from stockplan.domain.jobs import BatchRule
from stockplan.domain.plan import NEW_BATCH, Order, ProductPlan
from stockplan.domain.reasons import Instead, Sooner
from stockplan.domain.request import PlanRequest
from stockplan.domain.stock import SupplyForm

_SOLD_AS = {SupplyForm.ROLL: "roll", SupplyForm.CUT_LENGTH: "cut length"}


@dataclass(frozen=True)
class Question:
    """A problem in which something is otherwise than in a plan.

    Parameters
    ----------
    instance
        The problem.
    answer
        The plan in its terms, with the jobs it is about left short.
    jobs
        Indices of these jobs.
    near
        Indices of the jobs that may move, beside those of the batches that these are then cut from; in order.
    narrow
        See `planned_around`.
    """

    instance: Instance
    answer: Solution
    jobs: tuple[int, ...]
    near: tuple[int, ...]
    narrow: bool = False


class Questions:
    """Questions about one product's plan.

    Parameters
    ----------
    request
        The plan asked for.
    instance
        The product's problem.
    parts
        The answer laid out, or the plan made of it.

    Raises
    ------
    ValueError
        When what was laid out is no answer to the problem.
    """

    def __init__(self, request: PlanRequest, instance: Instance, parts: Assembled | ProductPlan) -> None:
        self.request, self.instance, self.parts = request, instance, parts
        reading = Reading(instance, parts)
        self.patterns = {cuts.source: reading.pattern(cuts) for cuts in parts.cuts}
        answer = reading.answer()
        if answer is None:
            raise ValueError("what was laid out is no answer to the problem")
        self.answer = answer
        self.cost = answer.net_cost(instance)
        self.total = answer.rank(instance)[0]
        self.number = {job.code: number for number, job in enumerate(instance.jobs)}

    def without_order(self, order: Order, *, closed: int | None = None) -> Question:
        """The plan without one order, and with nothing to buy but its other orders as they are.

        Parameters
        ----------
        order
            The order.
        closed
            Number of the supply option that alone is closed beyond those orders; default all of them.
        """
        keys: dict[Source, list[str]] = {}
        for other in self.parts.orders:
            if other is not order and self._is_closed(self.patterns[other.key].source, closed):
                keys.setdefault(self.patterns[other.key].source, []).append(other.key)
        fixed = {source: replace(source, option=None, tags=tuple(tags)) for source, tags in keys.items()}
        sources = (*(s for s in self.instance.sources if not self._is_closed(s, closed)), *fixed.values())
        patterns: Counter[Pattern] = Counter()
        for key, pattern in self.patterns.items():
            if key != order.key:
                patterns[Pattern(fixed.get(pattern.source, pattern.source), pattern.drops)] += 1
        return self._without(order.key, replace(self.instance, sources=sources), patterns)

    @staticmethod
    def _is_closed(source: Source, closed: int | None) -> bool:
        return source.option is not None and closed in {None, source.option}

    def without_item(self, tag: str) -> Question:
        """The plan without one thing in the yard that it cuts; anything may be bought in its place."""
        mine = self.patterns[tag].source
        fewer = replace(mine, tags=tuple(other for other in mine.tags if other != tag))
        sources = tuple(fewer if s == mine else s for s in self.instance.sources if s != mine or fewer.tags)
        patterns: Counter[Pattern] = Counter()
        for key, pattern in self.patterns.items():
            if key != tag:
                patterns[Pattern(fewer if pattern.source == mine else pattern.source, pattern.drops)] += 1
        return self._without(tag, replace(self.instance, sources=sources), patterns)

    def _without(self, key: str, instance: Instance, patterns: Counter[Pattern]) -> Question:
        jobs = self.jobs_on(key)
        left = without_jobs(instance, replace(self.answer, patterns=patterns), frozenset(jobs))
        return Question(instance, left, jobs, self._near(jobs), narrow=True)

    def jobs_on(self, key: str) -> tuple[int, ...]:
        """Indices of the jobs cut from a source, in order of code."""
        found = {p.job for cuts in self.parts.cuts if cuts.source == key for p in cuts.pieces()}
        return tuple(self.number[code] for code in sorted(found))

    def tried(self, question: Question, steps: int, budget: Budget) -> Solution:
        """A plan that answers a question, after some steps."""
        stated = (question.instance, question.answer, question.jobs, question.near)
        return planned_around(*stated, steps, budget, narrow=question.narrow)

    def newly_short(self, found: Solution) -> tuple[str, ...]:
        """Codes of the jobs that an answer leaves short and the plan does not."""
        return tuple(sorted(map(self.code, found.short - self.answer.short)))

    def focused(self, question: Question) -> Question:
        """A question with a choice of batch left to the jobs it is about and to those cut from the same sources."""
        return replace(question, instance=focused(question.instance, question.answer, self._near(question.jobs)))

    def _near(self, jobs: Iterable[int]) -> tuple[int, ...]:
        """Indices of the jobs cut from the same sources as some jobs, themselves among them."""
        codes = set(map(self.code, jobs))
        on_source = [{piece.job for piece in cuts.pieces()} for cuts in self.parts.cuts]
        return tuple(sorted({self.number[code] for on_one in on_source if on_one & codes for code in on_one}))

    def instead(
        self, question: Question, found: Solution, jobs: Iterable[int], gone: str
    ) -> tuple[tuple[Instead, ...], tuple[Sooner, ...]]:
        """What jobs are cut from in an answer to a question, and which orders of the plan must come sooner for it.

        Parameters
        ----------
        question, found
            The question and the answer.
        jobs
            Indices of the jobs.
        gone
            Key of the order that is not there; another than the question's where both are of the same thing.
        """
        # Keys of this answer's own orders must not be taken for the plan's.
        laid = assemble(question.instance, found, first_order=1 + max(map(_number, self.parts.orders), default=0))
        names, sooner = other_orders(self.parts, laid, {job.code: job.lay_on for job in self.instance.jobs}, gone)
        names |= {order.key: f"a new {_SOLD_AS[order.form]}" for order in laid.orders}
        sources: dict[str, set[str]] = {}
        for cuts in laid.cuts:
            for piece in cuts.pieces():
                sources.setdefault(piece.job, set()).add(names.get(piece.source, piece.source))
        codes = sorted(map(self.code, jobs))
        return tuple(Instead(code, tuple(sorted(sources[code]))) for code in codes if code in sources), sooner

    def others(self, job: int) -> tuple[int, ...]:
        """Batches that could hold some unit of a job, beside those it is cut from; none where a unit has no other."""
        taken = batches_of(self.instance, self.answer, [job])
        if self.lays_otherwise(job):
            ways = self._needs_of_layouts(job)
        else:
            mine = [group for group in self.instance.groups if group.job == job and any(group.demands.values())]
            ways = [[{choice.batch for choice, need in group.demands.items() if need} for group in mine]]
        found = [set().union(*needs) - taken for needs in ways if all(batches - taken for batches in needs)]
        return tuple(sorted(set().union(*found)))

    def lays_otherwise(self, job: int) -> bool:
        """Whether a job may mix batches and be laid in other ways than the one it is laid in."""
        return any(group.job == job for group in self.instance.mixed.groups)

    def _needs_of_layouts(self, job: int) -> list[list[set[int]]]:
        """For each layout of such a job, piece by piece: the batches that have it."""
        made_as = self.instance.mixed.made_as
        (group,) = (group for group in self.instance.mixed.groups if group.job == job)
        return [[{t.batch for t in made_as[piece]} for piece in demand] for demand in group.demands.values()]

    def otherwise(self, job: int, batch: int | None = None) -> Question:
        """A job with its batches forbidden to it, or in one batch where it mixes several; laid in any way if it may be.

        Parameters
        ----------
        job
            Index of the job.
        batch
            The only batch to allow it; default any but its own.
        """
        taken = batches_of(self.instance, self.answer, [job])
        start = without_jobs(self.instance, self.answer, {job})
        near = tuple(sorted(in_batches(self.instance, self.answer, taken)))

        def allowed(choice: Choice) -> bool:
            return choice.batch not in taken if batch is None else choice.batch == batch

        if len(taken) > 1 or self.lays_otherwise(job):
            whole = self._of_one_batch(job)
            start = carried(self.instance, whole, start)
            if batch is not None or len(taken) == 1:
                whole = restricted(whole, job, allowed)
            return Question(whole, start, (job,), self._near([job]))
        return Question(restricted(self.instance, job, allowed), start, (job,), near)

    def _of_one_batch(self, job: int) -> Instance:
        """The problem with a job that may mix batches bound to one; its other jobs as they were."""
        code = self.code(job)
        jobs = (replace(one, batch_rule=BatchRule.ONE) if one.code == code else one for one in self.request.jobs)
        return build_instance(replace(self.request, jobs=tuple(jobs)), self.instance.product)

    def names(self, batches: frozenset[int]) -> tuple[str, ...]:
        """Names of batches, in order."""
        return tuple(sorted(self.instance.batches[batch] for batch in batches))

    def code(self, job: int) -> str:
        """A job's code."""
        return self.instance.jobs[job].code


def _number(order: Order) -> int:
    return int(order.key.removeprefix(f"{NEW_BATCH}-"))


def servable(instance: Instance, job: int) -> bool:
    """Whether every unit of a job has a choice left."""
    mine = [group for group in instance.groups if group.job == job]
    return bool(mine) and all(group.demands for group in mine)
