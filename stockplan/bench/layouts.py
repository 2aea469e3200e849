"""What choosing layouts together with the stock saves, and how fast lawns are laid out.

`python -m stockplan.bench.layouts` plans invented weeks of lawns three times, each time with as much work. `first`:
every job laid the way that takes the least grass, whatever lies in the yard. `chosen`: layout, batch and stock chosen
together, beginning from the plan of `first`, so that it can cost no more. `first, on`: the search of `first` goes on
as long; what `chosen` saves against it is due to the choice alone. Work is limited, and time only as a guard. It ends
with 1 when a plan is unsound or choosing costs more.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from random import Random

from stockplan.bench.lawns import curved_lawn_with_beds, lawns_for, random_lawn
from stockplan.bench.weeks import week
from stockplan.cutting import plan_cuts
from stockplan.cutting.strips import grass_of, job_layouts, most_layouts
from stockplan.domain.check import check
from stockplan.domain.jobs import Job
from stockplan.domain.layout import LayoutSettings
from stockplan.domain.pile import PileKind, PileWish
from stockplan.domain.plan import Plan
from stockplan.domain.request import PlanRequest, SearchLimits
from stockplan.domain.units import money

GUARD_SECONDS = 8.0  # for one plan; most end by work or by proof


@dataclass(frozen=True, slots=True)
class Compared:
    """One week planned three times; cost in pence, jobs short, and what the checker found.

    Parameters
    ----------
    seed, lawns
        Of the week, and how many lawns it has.
    first_pence, chosen_pence, first_on_pence
        Net costs.
    short
        Jobs short in the three plans.
    changed
        How many jobs `chosen` lays otherwise than the way that takes the least grass.
    faults
        What the checker found in any of them.
    seconds
        All three together.
    """

    seed: int
    lawns: int
    first_pence: int
    chosen_pence: int
    first_on_pence: int
    short: tuple[int, int, int]
    changed: int
    faults: tuple[str, ...]
    seconds: float

    @property
    def comparable(self) -> bool:
        """Whether all three cover the same number of jobs."""
        return len(set(self.short)) == 1


def laid_out(request: PlanRequest) -> PlanRequest:
    """The same week with as many layouts of every lawn as a plan weighs; jobs whose lawns have none are left out.

    Parameters
    ----------
    request
        A week of lawns.
    """
    grass = {product.code: grass_of(request, product.code) for product in request.products}
    most = most_layouts(len(request.jobs))

    def ways(job: Job) -> Job:
        cut_from = grass[job.product]
        if cut_from is None:
            return job
        return replace(job, layouts=job_layouts(job, cut_from, request.layout_settings, most))

    return replace(request, jobs=tuple(job for job in map(ways, request.jobs) if job.layouts))


def compare(seed: int, work: int) -> Compared:
    """Plan one week of lawns three times.

    Parameters
    ----------
    seed
        Of the week.
    work
        Given to each of the three plans.
    """
    began = time.perf_counter()
    request = laid_out(lawns_for(week("S", seed), Random(seed)))
    only_first = replace(request, jobs=tuple(replace(job, layouts=job.layouts[:1]) for job in request.jobs))
    limits = SearchLimits(GUARD_SECONDS, work)
    first = plan_cuts(only_first, limits)
    chosen = plan_cuts(replace(request, last=first), limits)
    on = plan_cuts(replace(only_first, last=first), limits)
    faults = [*check(only_first, first), *check(request, chosen), *check(only_first, on)]
    return Compared(
        seed,
        len(request.jobs),
        first.net_cost_pence,
        chosen.net_cost_pence,
        on.net_cost_pence,
        (_jobs_short(first), _jobs_short(chosen), _jobs_short(on)),
        sum(one.layout.label != "1" for one in chosen.layouts()),
        tuple(str(fault) for fault in faults),
        time.perf_counter() - began,
    )


def _jobs_short(plan: Plan) -> int:
    return len({short.job for short in plan.short()})


def costs_no_more(one: Compared) -> bool:
    """Whether choosing covers at least as many jobs, and where it covers as many costs no more."""
    if one.short[1] != one.short[0]:
        return one.short[1] < one.short[0]
    return one.chosen_pence <= one.first_pence


def show(weeks: Iterable[Compared], say: Callable[[str], None]) -> bool:
    """Print the comparison week by week, and return whether every plan is sound and choosing never cost more."""
    compared: list[Compared] = []
    heads = f"{'first':>10} {'first, on':>10} {'chosen':>10} {'saved':>7} {'laid otherwise':>14}"
    say(f"{'seed':>4} {'lawns':>5} {heads}")
    for one in weeks:
        compared.append(one)
        saved = 100 * (1 - one.chosen_pence / one.first_on_pence)
        told = f"{saved:6.2f}%" if one.comparable else f"short {one.short}"
        costs = f"{money(one.first_pence):>10} {money(one.first_on_pence):>10} {money(one.chosen_pence):>10}"
        say(f"{one.seed:>4} {one.lawns:>5} {costs} {told:>7} {one.changed:>14}")
        for fault in one.faults:
            say(f"     {fault}")
    alike = [one for one in compared if one.comparable]
    lawns = sum(one.lawns for one in compared)
    if alike:
        against = [1 - one.chosen_pence / one.first_pence for one in alike]
        on = [1 - one.chosen_pence / one.first_on_pence for one in alike]
        say(f"{lawns} lawns in {len(compared)} weeks, {len(alike)} of them comparable")
        say(f"mean saving {100 * _mean(against):.2f} % against first, {100 * _mean(on):.2f} % against first gone on")
    return all(costs_no_more(one) and not one.faults for one in compared)


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values)


def seconds_to_lay_out(lawns: int) -> tuple[float, float]:
    """Processor seconds for so many ordinary lawns, pile given, and for one of 200 corners and 10 beds."""
    request = week("S", 0)
    grass = grass_of(request, request.products[0].code)
    assert grass is not None
    pick = Random(0)
    pile = PileWish(PileKind.BEARING, bearing=0.0)
    one = replace(request.jobs[0], strips=(), pile=pile)
    jobs = [replace(one, lawns=(random_lawn(pick),)) for _ in range(lawns)]
    began = time.process_time()
    for job in jobs:
        job_layouts(job, grass, LayoutSettings())
    ordinary = time.process_time() - began
    hardest = replace(jobs[0], lawns=(curved_lawn_with_beds(200, 10),))
    began = time.process_time()
    job_layouts(hardest, grass, LayoutSettings())
    return ordinary, time.process_time() - began


def main(arguments: Sequence[str] | None = None) -> int:
    """Compare, or measure how fast lawns are laid out."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--weeks", type=int, default=25, help="weeks of eight lawns (default 25)")
    parser.add_argument("--work", type=int, default=60, help="work for each plan (default 60)")
    parser.add_argument("--speed", type=int, metavar="LAWNS", help="only lay out so many lawns, and one very hard one")
    asked = parser.parse_args(arguments)
    if asked.speed:
        ordinary, hardest = seconds_to_lay_out(asked.speed)
        print(f"{asked.speed} lawns: {ordinary:.1f} s; 200 corners and 10 beds: {hardest:.2f} s (processor)")
        return 0
    weeks = (compare(seed, asked.work) for seed in range(asked.weeks))
    return 0 if show(weeks, partial(print, flush=True)) else 1


if __name__ == "__main__":
    raise SystemExit(main())
