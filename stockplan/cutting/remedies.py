"""The smallest changes that would each alone cover a job left short, tried out one after another.

A change counts when a plan is found in which the job is covered and no other job is short that was not: first with
everything else as it is, then with the jobs around it moved. What is found does cover the job; that nothing smaller
would is as far as such a search can tell.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date, timedelta

from stockplan.cutting.around import carried, served
from stockplan.cutting.assemble import Assembled, assemble
from stockplan.cutting.budget import Budget
from stockplan.cutting.building import build_instance
from stockplan.cutting.instance import Instance
from stockplan.cutting.solution import Solution
from stockplan.cutting.starting import Reading
from stockplan.domain.as_typed import argument
from stockplan.domain.jobs import BatchRule
from stockplan.domain.plan import ProductPlan
from stockplan.domain.request import PlanRequest
from stockplan.domain.stock import CUT_LENGTH_STEP_MM, StockForm, StockItem
from stockplan.domain.units import metres

MOST_DAYS_TRIED, MOST_HELD_TRIED = 8, 12
MORE, DEARER = "\0", 10  # a tag that nobody can type


class Remedies:
    """What would cover the jobs that one answer leaves short.

    Parameters
    ----------
    request
        The plan asked for.
    instance
        One product's problem.
    answer
        Its answer, without surplus.
    parts
        The answer laid out.
    budget
        Work and clock; once it is over nothing more is tried.
    """

    def __init__(
        self,
        request: PlanRequest,
        instance: Instance,
        answer: Solution,
        parts: Assembled | ProductPlan,
        budget: Budget,
    ) -> None:
        self.request, self.instance, self.answer, self.parts = request, instance, answer, parts
        self.budget = budget

    def of(self, job: int) -> list[str]:
        """Changes that would each cover a job, in words; as far as the budget reaches.

        Parameters
        ----------
        job
            Index of a job left short.
        """
        code = self.instance.jobs[job].code
        if any(pin.job == code for pin in self.request.pins):
            tried: tuple[Callable[[int], str], ...] = (self._unpinned, self._later, self._mixed)
        else:
            tried = (self._more, self._later, self._mixed, self._held)
        found = []
        for remedy in tried:
            if self.budget.over():
                break
            if words := remedy(job):
                found.append(words)
        return found

    def _covers(self, instance: Instance, answer: Solution | None, code: str) -> Solution | None:
        """An answer to a changed problem that covers a job beside all that were covered."""
        if answer is None:
            return None
        number = next(index for index, job in enumerate(instance.jobs) if job.code == code)
        return served(instance, answer, number, self.budget)

    # --- more of one batch --------------------------------------------------------------------------------------------

    def _more(self, job: int) -> str:
        """The least length at full width that one batch lacks for the job."""
        best: tuple[int, str] | None = None
        for batch in self._batches_to_find(job):
            length = self._least_length(job, batch, best[0] if best else None)
            if length is not None:
                best = length, self.instance.batches[batch]
        return f"{metres(best[0], 1)} m more of {best[1]} in one length" if best else ""

    def _batches_to_find(self, job: int) -> Iterator[int]:
        """Batches that somebody may ask for more of; of a job begun only its own."""
        one = self.instance.jobs[job]
        if max(strip.width_mm for strip in one.strips_or_first()) > self.instance.widest_mm:
            return
        unknown = {item.batch_key for item in self.request.stock if not item.batch}
        begun = {
            cut.batch for cut in self.request.cut_already if cut.job == one.code and one.batch_rule is BatchRule.ONE
        }
        for batch, name in enumerate(self.instance.batches):
            bought = any(s.batch == batch and s.option is not None for s in self.instance.sources)
            if not bought and name not in unknown and not begun - {name}:
                yield batch

    def _least_length(self, job: int, batch: int, below: int | None) -> int | None:
        """The least such length in mm; None where none below a given one is found."""
        whole = sum(strip.length_mm * strip.count for strip in self.instance.jobs[job].strips_or_first())
        enough = whole if below is None else min(whole, below - CUT_LENGTH_STEP_MM)
        high = -(-enough // CUT_LENGTH_STEP_MM)
        if high <= 0 or not self._fits_with(job, batch, high * CUT_LENGTH_STEP_MM):
            return None
        low = 0
        while high - low > 1 and not self.budget.over():
            middle = (low + high) // 2
            if self._fits_with(job, batch, middle * CUT_LENGTH_STEP_MM):
                high = middle
            else:
                low = middle
        return high * CUT_LENGTH_STEP_MM

    def _fits_with(self, job: int, batch: int, length_mm: int) -> bool:
        """Whether the job is covered with so much more of a batch."""
        product, name = self.instance.product, self.instance.batches[batch]
        # Dear, so that what the yard has is used first.
        pence = DEARER * max((item.cost_pence_per_m2 for item in self.request.stock), default=0)
        more = StockItem(MORE, product, name, StockForm.ROLL, self.instance.widest_mm, length_mm, "", pence)
        changed, answer = self._read_in(replace(self.request, stock=(*self.request.stock, more)))
        return self._covers(changed, answer, self.instance.jobs[job].code) is not None

    # --- a later day, a rule waived -----------------------------------------------------------------------------------

    def _later(self, job: int) -> str:
        """The first later day on which something more has come that would cover the job."""
        one = self.instance.jobs[job]
        arrivals = [self.request.today + timedelta(days=option.lead_days) for option in self.instance.supply]
        arrivals += [item.arrives_on for item in self.request.stock if item.product == one.product and item.arrives_on]
        days = sorted({day + timedelta(days=1) for day in arrivals if day >= one.lay_on})
        for day in days[:MOST_DAYS_TRIED]:
            if self._covered_with(one.code, lay_on=day):
                days_later = (day - one.lay_on).days
                return f"{days_later} {'day' if days_later == 1 else 'days'} later ({day.isoformat()})"
        return ""

    def _mixed(self, job: int) -> str:
        """Leave to mix batches, where that would cover the job."""
        one = self.instance.jobs[job]
        if one.batch_rule is BatchRule.ANY or not self._covered_with(one.code, batch_rule=BatchRule.ANY):
            return ""
        return "leave to mix batches"

    def _covered_with(self, code: str, **changes: date | BatchRule) -> bool:
        """Whether the job is covered with something of it changed."""
        jobs = tuple(
            replace(job, **changes) if job.code == code else job  # type: ignore[arg-type]
            for job in self.request.jobs
        )
        changed = build_instance(replace(self.request, jobs=jobs), self.instance.product)
        return self._covers(changed, carried(self.instance, changed, self.answer), code) is not None

    # --- what is held or pinned ---------------------------------------------------------------------------------------

    def _held(self, job: int) -> str:
        """The smallest thing held for a quote that would cover the job, were it free."""
        one = self.instance.jobs[job]
        held = [item for item in self.request.held if item.product == one.product]
        held.sort(key=lambda item: (item.width_mm * item.length_mm, item.tag))
        for item in held[:MOST_HELD_TRIED]:
            freed = replace(self.request, stock=(*self.request.stock, item), held=())
            if self._covers(*self._read_in(freed), one.code) is not None:
                return f"{item.tag} free, which is held for a quote"
        return ""

    def _unpinned(self, job: int) -> str:
        """The job without its pins, where that would cover it."""
        code = self.instance.jobs[job].code
        loose = replace(self.request, pins=tuple(pin for pin in self.request.pins if pin.job != code))
        changed, answer = self._read_in(loose)
        found = self._covers(changed, answer, code)
        if found is None:
            return ""
        cuts = assemble(changed, found, 1).cuts
        yard = {item.tag for item in self.request.stock}
        sources = {cut.source for cut in cuts if any(piece.job == code for piece in cut.pieces())}
        names = [*sorted(sources & yard), *(["a new order"] if sources - yard else [])]
        return f"from {' and '.join(names)} instead, without its pin: stockplan unpin {argument(code)}"

    def _read_in(self, request: PlanRequest) -> tuple[Instance, Solution | None]:
        """A changed problem, and the answer in its terms."""
        changed = build_instance(request, self.instance.product)
        try:
            return changed, Reading(changed, self.parts).answer()
        except KeyError:
            return changed, None
