"""Rules about the layouts a plan picks."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from stockplan.domain.check_facts import Facts, Rule, Violation
from stockplan.domain.check_layout import check_layout
from stockplan.domain.plan import ChosenLayout
from stockplan.domain.units import money


def layouts(facts: Facts) -> Iterator[Violation]:
    """Every job with layouts has one of them picked, it is sound, and its seams are paid for."""
    picked = Counter(chosen.job for chosen in facts.plan.layouts())
    for asked in facts.request.jobs:
        if picked[asked.code] != bool(asked.layouts):
            found = f"{picked[asked.code]} layouts picked; would be {int(bool(asked.layouts))}"
            yield Violation(Rule.LAYOUT, found, asked.code)
    short = {shortfall.job for shortfall in facts.plan.short()}
    for planned in facts.plan.products:
        for chosen in planned.layouts:
            job = facts.jobs.get(chosen.job)
            if job is None or job.product != planned.product:
                yield Violation(Rule.LAYOUT, f"layout picked in the plan for {planned.product}", chosen.job)
                continue
            if chosen.layout not in job.layouts:
                yield Violation(Rule.LAYOUT, f"layout {chosen.layout.label} is none of the job's", chosen.job)
            yield from check_layout(job, chosen.layout, facts.request.layout_settings)
            yield from _seam_cost(chosen, chosen.job in short)


def _seam_cost(chosen: ChosenLayout, is_short: bool) -> Iterator[Violation]:
    right = 0 if is_short else chosen.layout.seam_cost_pence
    if chosen.seam_cost_pence != right:
        found = f"seams are put at {money(chosen.seam_cost_pence)}; would be {money(right)}"
        yield Violation(Rule.LAYOUT, found, chosen.job)
