"""One question about a plan, looked into in earnest: a search of its own, with a bound, for each way it might be."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence

from stockplan.cutting.around import batches_of
from stockplan.cutting.bounds import whole_pence
from stockplan.cutting.budget import Budget
from stockplan.cutting.building import build_instance
from stockplan.cutting.mixing import laid_as
from stockplan.cutting.questions import Question, servable
from stockplan.cutting.reasons import Reasons
from stockplan.cutting.search import Search
from stockplan.cutting.shortfall import explain
from stockplan.cutting.solution import Solution
from stockplan.domain.plan import ProductPlan
from stockplan.domain.reasons import BatchGround, Otherwise, Why
from stockplan.domain.request import PlanRequest

FIRST_STEPS = 3_000
FIRST_SHARE = 0.4  # of the clock, at most, for a first answer to every question
MOST_SEARCHED = 3  # of several batches, the cheapest by the first answers
REMEDY_WORK = 3_000
NOTHING_BOUGHT = "nothing bought in its place"

_Tried = tuple[str, Question, Solution]


class Inquiry:
    """Questions about one product's plan, looked into for some time each.

    Parameters
    ----------
    request
        What the plan was asked for, of its product alone.
    plan
        The plan.
    seconds
        How long to look into one question; positive.
    should_stop
        Asked now and then; True ends it with what is known.
    """

    def __init__(
        self, request: PlanRequest, plan: ProductPlan, seconds: float, should_stop: Callable[[], bool] | None = None
    ) -> None:
        self.plan, self.seconds, self._stop = plan, seconds, should_stop or (lambda: False)
        laid = laid_as(request, plan.layouts)
        self.reasons = Reasons(laid, build_instance(laid, plan.product), plan)

    def of_job(self, code: str) -> Why:
        """Why a job is cut from its batch and what each other would cost; of a job left short, what would cover it."""
        ask = self.reasons.ask
        job = ask.number[code]
        if job in ask.answer.short:
            return self._of_short(code)
        reason = self.reasons.of_job(job, None, 0)
        sources = tuple(
            sorted({cuts.source for cuts in self.plan.cuts if any(piece.job == code for piece in cuts.pieces())})
        )
        ground: BatchGround = reason.ground
        otherwise: tuple[Otherwise, ...] = ()
        if ground is BatchGround.NOT_WORKED_OUT:
            ground, otherwise = self._of_batches(job)
        return Why(code, self.plan.product, True, sources, reason.batches, ground, reason.lacking_mm, otherwise)

    def of_source(self, key: str) -> Why:
        """What would happen without an order, or without a thing in the yard that the plan cuts."""
        ask = self.reasons.ask
        jobs = tuple(ask.code(job) for job in ask.jobs_on(key))
        order = next((order for order in self.plan.orders if order.key == key), None)
        if order is None:
            questions = [("anything bought in its place", ask.without_item(key))]
        else:
            questions = [(NOTHING_BOUGHT, ask.without_order(order))]
            options = {source.option for source in ask.instance.sources if source.option is not None}
            mine = ask.patterns[key].source.option
            if mine is not None and len(options) > 1:
                questions.append(("bought from another offer", ask.without_order(order, closed=mine)))
        found = self._looked_into(questions, len(questions), gone=key)
        if order is not None and found[0].what == NOTHING_BOUGHT:
            found = found[:1]  # another offer is of no help
        return Why(key, self.plan.product, False, jobs, otherwise=found)

    def _of_short(self, code: str) -> Why:
        ask = self.reasons.ask
        budget = Budget(time.monotonic() + self.seconds, REMEDY_WORK, self._stop)
        told = explain(ask.request, ask.instance, ask.answer, self.reasons.parts, budget, only=ask.number[code])
        return Why(code, self.plan.product, True, (), short=told[0].reason, remedies=told[0].remedy)

    def _of_batches(self, job: int) -> tuple[BatchGround, tuple[Otherwise, ...]]:
        """On what ground it is cut from its batch, and what each other that could hold it, or all of it, would cost."""
        ask = self.reasons.ask
        taken = batches_of(ask.instance, ask.answer, [job])
        batches = range(len(ask.instance.batches)) if len(taken) > 1 else ask.others(job)
        questions = [(ask.instance.batches[batch], ask.otherwise(job, batch)) for batch in batches]
        found = self._looked_into([one for one in questions if servable(one[1].instance, job)], MOST_SEARCHED)
        if not found:
            return BatchGround.NOT_WORKED_OUT if ask.lays_otherwise(job) else BatchGround.ONLY, found
        return (BatchGround.NO_ROOM if all(one.short for one in found) else BatchGround.CHEAPEST), found

    def _looked_into(
        self, questions: Sequence[tuple[str, Question]], most: int, gone: str = ""
    ) -> tuple[Otherwise, ...]:
        """First answers to all, then a search for those that look cheapest, for as long each as the clock allows."""
        began = time.monotonic()
        deadline = began + self.seconds
        first: list[_Tried] = []
        for number, (what, question) in enumerate(questions):
            until = began + FIRST_SHARE * self.seconds * (number + 1) / len(questions)
            answer = self.reasons.ask.tried(question, FIRST_STEPS, Budget(until, None, self._stop))
            first.append((what, question, answer))
        first.sort(key=lambda one: (one[2].rank(one[1].instance), one[0]))
        found = []
        for number, (what, question, answer) in enumerate(first):
            best, bound = answer, 0.0
            if number < most:
                now = time.monotonic()
                until = now + max(0.0, deadline - now) / (min(most, len(first)) - number)
                best, bound = self._searched(question, answer, until)
            found.append(self._otherwise(what, question, best, bound, gone))
        return tuple(
            sorted(found, key=lambda one: (len(one.short), one.most_pence if one.most_pence is not None else 0))
        )

    def _searched(self, question: Question, start: Solution, until: float) -> tuple[Solution, float]:
        budget = Budget(until, None, self._stop)
        search = Search(question.instance, self.plan.seed, budget, lambda *_: None, start)
        found = search.run()
        return found.best, found.bound

    def _otherwise(self, what: str, question: Question, answer: Solution, bound: float, gone: str) -> Otherwise:
        ask, instance = self.reasons.ask, question.instance
        short = ask.newly_short(answer)
        cost = answer.net_cost(instance)
        penalty = sum(instance.penalties[job] for job in answer.short)
        least = whole_pence(instance, bound - penalty)
        instead, sooner = ask.instead(question, answer, question.jobs, gone)
        return Otherwise(
            what=what,
            short=short,
            instead=instead,
            least_pence=None if short or bound <= 0 else min(least, cost) - ask.cost,
            most_pence=None if short else cost - ask.cost,
            proven=bound > 0 and least >= cost,
            sooner=sooner,
        )
