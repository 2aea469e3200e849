"""Why a plan is as it is, worked out by planning again: without each order, and with each job from another batch.

Each question is a problem of its own: the order taken away with nothing else bought in its place, or the job's batch
forbidden to it. It is answered by serving the jobs it is about and then moving jobs around them for a fixed number of
steps, so the answers are the same on every machine. They are plans that were really found, so an amount is true as
`at most`. The clock and the user stop it at once; what was not reached then is told as not worked out. A plan found on
the way that beats the one explained takes its place.
"""

from __future__ import annotations

import time
from collections import Counter
from dataclasses import dataclass, field, replace

from stockplan.cutting.around import batches_of
from stockplan.cutting.assemble import Assembled, assemble
from stockplan.cutting.budget import Budget
from stockplan.cutting.instance import Instance, Source
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.questions import Question, Questions, servable
from stockplan.cutting.shortfall import explain
from stockplan.cutting.solution import Solution
from stockplan.domain.jobs import BatchRule
from stockplan.domain.plan import Order, ProductPlan, Shortfall
from stockplan.domain.reasons import BatchGround, BatchReason, OrderReason
from stockplan.domain.request import PlanRequest

STEPS_IN_ALL, LEAST_STEPS, STEPS_A_JOB = 9_000, 40, 100
MANY_PIECES = 150  # beyond this only the jobs nearest to a question may change their batch: a step takes long
MOST_PIECES = 500  # beyond this questions are worked out only when they are asked
SECONDS, SECONDS_A_PIECE = 0.3, 0.012  # about what all of it takes
MOST_ALIKE = 4  # orders of the same thing that are tried, those that serve least first
ROUNDS = 3  # at most: a better plan found on the way is explained instead, while there is time to


def seconds_wanted(instance: Instance) -> float:
    """About how long working out all reasons of a plan takes."""
    pieces = sum(job.piece_count for job in instance.jobs)
    return SECONDS + (SECONDS_A_PIECE * pieces if pieces <= MOST_PIECES else 0.0)


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
    for more_rounds in reversed(range(ROUNDS)):
        began = time.monotonic()
        parts = assemble(instance, best, first_order=1)
        why = Reasons(request, instance, parts)
        told = Told((), why.of_orders(budget), why.of_batches(budget))
        if why.better is None or not more_rounds or budget.seconds_left() < time.monotonic() - began:
            break
        best = why.better
    short = explain(request, instance, why.ask.answer, parts, budget)
    return best, parts, replace(told, short=short)


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
        The answer laid out, or the plan made of it.
    better
        The best plan found on the way that beats it; None while there is none.
    """

    request: PlanRequest
    instance: Instance
    parts: Assembled | ProductPlan
    better: Solution | None = field(default=None, init=False)

    def __post_init__(self) -> None:
        self.ask = Questions(self.request, self.instance, self.parts)
        self._least = self.ask.total
        self.pieces = sum(job.piece_count for job in self.instance.jobs)
        questions = min(MOST_ALIKE, len(self.parts.orders)) + len(self.instance.jobs)
        most = STEPS_A_JOB * len(self.instance.jobs)
        self.steps = max(LEAST_STEPS, min(most, STEPS_IN_ALL // max(1, questions)))

    # --- orders -------------------------------------------------------------------------------------------------------

    def of_orders(self, budget: Budget | None) -> tuple[OrderReason, ...]:
        """What each order is for and what would happen without it, in order of key.

        Parameters
        ----------
        budget
            Clock and user; None works nothing out.
        """
        budget = budget if self.pieces <= MOST_PIECES else None
        alike: dict[Source, list[Order]] = {}
        for order in self.parts.orders:
            alike.setdefault(self.ask.patterns[order.key].source, []).append(order)
        told = {reason.order: reason for orders in alike.values() for reason in self._of_alike(orders, budget)}
        return tuple(told[order.key] for order in self.parts.orders)

    def _of_alike(self, orders: list[Order], budget: Budget | None) -> list[OrderReason]:
        """Reasons for orders of the same thing: a plan without one is a plan without any other, but for its name."""
        best: tuple[int, Question, Solution] | None = None
        for order in sorted(orders, key=lambda order: self._area_on(order.key))[:MOST_ALIKE]:
            if budget is None or budget.over():
                break
            question = self._stated(self.ask.without_order(order))
            found = self.ask.tried(question, self.steps, budget)
            total = found.rank(question.instance)[0]
            if total < self._least:
                self._take(total, _with_orders(self.instance, found))
            if best is None or total < best[0]:
                best = total, question, found
        jobs = {order.key: tuple(self.ask.code(job) for job in self.ask.jobs_on(order.key)) for order in orders}
        if best is None or budget is None or budget.over():
            return [OrderReason(key, jobs[key]) for key in jobs]
        total, question, found = best
        short = self.ask.newly_short(found)
        extra = None if short else max(0, total - self.ask.total)
        told = []
        for key, mine in jobs.items():
            instead, sooner = self.ask.instead(question, found, self.ask.jobs_on(key), gone=key)
            told.append(OrderReason(key, mine, True, short, instead, extra, sooner))
        return told

    def _area_on(self, key: str) -> int:
        """Area of the pieces cut from a source."""
        (cuts,) = [cuts for cuts in self.parts.cuts if cuts.source == key]
        return sum(piece.width_mm * piece.length_mm for piece in cuts.pieces())

    def _stated(self, question: Question) -> Question:
        """A question as large as can be tried in the time it is worth."""
        return question if self.pieces <= MANY_PIECES else self.ask.focused(question)

    # --- batches ------------------------------------------------------------------------------------------------------

    def of_batches(self, budget: Budget | None) -> tuple[BatchReason, ...]:
        """Why each job is cut from its batch, in order of code; jobs left short are not among them.

        Parameters
        ----------
        budget
            Clock and user; None works nothing out.
        """
        budget = budget if self.pieces <= MOST_PIECES else None
        served = sorted(set(range(len(self.instance.jobs))) - self.ask.answer.short, key=self.ask.code)
        return tuple(self.of_job(job, budget, self.steps) for job in served)

    def of_job(self, job: int, budget: Budget | None, steps: int) -> BatchReason:
        """Why one job is cut from its batch."""
        one = self.instance.jobs[job]
        taken = batches_of(self.instance, self.ask.answer, [job])
        names = self.ask.names(taken)
        if any(pin.job == one.code for pin in self.request.pins):
            return BatchReason(one.code, names, BatchGround.PINNED)
        if one.batch_rule is BatchRule.ONE and any(cut.job == one.code for cut in self.request.cut_already):
            return BatchReason(one.code, names, BatchGround.BEGUN)
        if len(taken) == 1 and not self.ask.others(job):
            return BatchReason(one.code, names, BatchGround.ONLY, lacking_mm=self._lacking(job, taken))
        freed = self.ask.lays_otherwise(job)
        # Where there is much to plan, stating that a job takes one batch is too dear.
        if budget is None or budget.over() or ((freed or len(taken) > 1) and self.pieces > MANY_PIECES):
            return BatchReason(one.code, names, BatchGround.NOT_WORKED_OUT)
        question = self._stated(self.ask.otherwise(job))
        if not servable(question.instance, job):
            # Laid in another way it might mix other batches, which nobody has looked into.
            return BatchReason(one.code, names, BatchGround.NOT_WORKED_OUT if freed else BatchGround.ONLY)
        found = self.ask.tried(question, steps, budget)
        if budget.over():
            return BatchReason(one.code, names, BatchGround.NOT_WORKED_OUT)
        total = found.rank(question.instance)[0]
        if total < self._least and len(taken) == 1 and not freed:
            self._take(total, found)
        if found.short != self.ask.answer.short:
            return BatchReason(one.code, names, BatchGround.NO_ROOM)
        instead = self.ask.names(batches_of(question.instance, found, [job]))
        return BatchReason(one.code, names, BatchGround.CHEAPEST, instead, max(0, total - self.ask.total))

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

    def _take(self, total: int, better: Solution) -> None:
        """Take note of a plan that beats the one explained."""
        self._least, self.better = total, better


def _with_orders(instance: Instance, answer: Solution) -> Solution:
    """An answer that holds orders as if they lay in the yard, with them as purchases again."""
    bought = {replace(s, option=None, tags=()): s for s in instance.sources if s.option is not None}
    patterns: Counter[Pattern] = Counter()
    for pattern, count in answer.patterns.items():
        as_bought = bought.get(replace(pattern.source, tags=()), pattern.source)
        patterns[Pattern(as_bought, pattern.drops)] += count
    return replace(answer, patterns=patterns)
