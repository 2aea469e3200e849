"""A request taken apart is put together again, and the clock is shared so that no product starves."""

from __future__ import annotations

import pickle
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from stockplan.bench.weeks import week_of
from stockplan.cutting.parts import LEAST_SECONDS, Part, Sharing, joined, parts_of
from stockplan.cutting.planner import plan_cuts, plan_part
from stockplan.domain.check import check
from stockplan.domain.request import CutAlready, Pin, PlanRequest, Progress, SearchLimits

REQUEST = week_of([3, 2, 2], 3)
FAR = 1e12  # a clock reading that never comes


def of_sizes(*sizes: int) -> list[Part]:
    """Parts of so many jobs each."""
    jobs = REQUEST.jobs[:1]
    return [Part(replace(REQUEST, jobs=jobs * size), f"P{n:02d}", None, 0) for n, size in enumerate(sizes)]


def worked(sharing: Sharing, workers: int, seconds: float, early: float = 1.0) -> dict[str, tuple[float, float]]:
    """When each part is begun and must be done, where each takes a share of what it is given, from 0."""
    ready = [0.0] * workers
    spans: dict[str, tuple[float, float]] = {}
    open_workers = list(range(workers))
    while open_workers:
        worker = min(open_workers, key=lambda w: (ready[w], w))
        found = sharing.next_for(worker, ready[worker])
        if found is None:
            open_workers.remove(worker)
            continue
        part, until = found
        assert part.product not in spans
        assert until <= seconds + 1e-9
        spans[part.product] = (ready[worker], until)
        ready[worker] += early * (until - ready[worker])
    return spans


def test_a_part_knows_nothing_of_other_products() -> None:
    jobs = REQUEST.jobs
    pins = (Pin(jobs[0].code, "T"), Pin(jobs[-1].code, "U"))
    cut = (CutAlready(jobs[0].code, "A", 1, "B"),)
    held = tuple(replace(item, tag=f"H{item.tag}") for item in REQUEST.stock[:1])
    asked = replace(REQUEST, pins=pins, cut_already=cut, held=held, last=plan_cuts(REQUEST, SearchLimits(9, work=1)))
    parts = parts_of(asked, 7, 5)
    assert [part.product for part in parts] == sorted({job.product for job in jobs})
    for part in parts:
        mine = part.request
        assert (part.work, part.seed) == (7, 5)
        assert {one.product for one in (*mine.jobs, *mine.stock, *mine.supply, *mine.held)} <= {part.product}
        assert mine.last is not None
        assert [one.product for one in mine.last.products] == [part.product]
        codes = {job.code for job in mine.jobs}
        assert {one.job for one in (*mine.pins, *mine.cut_already)} <= codes
    for name in ("jobs", "stock", "supply", "pins", "cut_already", "held"):
        gathered = [one for part in parts for one in getattr(part.request, name)]
        assert sorted(map(repr, gathered)) == sorted(map(repr, getattr(asked, name)))


def test_plans_of_parts_in_any_order_and_process_are_the_plan() -> None:
    limits = SearchLimits(seconds=60, work=2)
    parts = parts_of(REQUEST, limits.work, limits.seed)
    plans = [plan_part(pickle.loads(pickle.dumps(part)), FAR) for part in reversed(parts)]
    plan = joined(REQUEST, [pickle.loads(pickle.dumps(one)) for one in plans])
    assert timeless(plan) == timeless(plan_cuts(REQUEST, limits))
    assert check(REQUEST, plan) == ()
    keys = [order.key for order in plan.orders()]
    assert keys == [f"new-{number}" for number in range(1, len(keys) + 1)]
    assert sum(1 for one in plan.products if one.orders) >= 2  # so that numbering on was needed


def timeless(plan: object) -> object:
    return replace(plan, products=tuple(replace(one, seconds=0.0) for one in plan.products))  # type: ignore[attr-defined,type-var]


def test_every_product_has_a_first_plan_before_the_first_is_improved() -> None:
    heard: list[Progress] = []
    plan_cuts(REQUEST, SearchLimits(seconds=60, work=2), heard.append)
    first = [told.product for told in heard[:3]]
    assert sorted(first) == sorted({job.product for job in REQUEST.jobs})
    assert all(told.best_pence is not None for told in heard[:3])


def test_one_worker_gives_each_its_share_and_later_ones_what_earlier_ones_left() -> None:
    spans = worked(Sharing(of_sizes(10, 30, 20), 1, 60.0), 1, 60.0)
    assert spans == {"P00": (0.0, 10.0), "P02": (10.0, 30.0), "P01": (30.0, 60.0)}
    early = worked(Sharing(of_sizes(10, 30, 20), 1, 60.0), 1, 60.0, early=0.5)
    assert early["P01"][1] == 60.0


def test_two_workers_and_three_alike() -> None:
    spans = worked(Sharing(of_sizes(5, 5, 5), 2, 60.0), 2, 60.0)
    assert sorted(until - begun for begun, until in spans.values()) == [30.0, 30.0, 60.0]


def test_a_worker_that_is_done_early_takes_the_largest_that_waits() -> None:
    sharing = Sharing(of_sizes(9, 4, 3, 1), 2, 60.0)  # lots: 9; 1, 3, 4
    first, _ = sharing.next_for(0, 0.0) or (None, 0)
    second, _ = sharing.next_for(1, 0.0) or (None, 0)
    assert (first and first.size, second and second.size) == (9, 1)
    stolen, until = sharing.next_for(0, 2.0) or (None, 0)
    assert (stolen and stolen.size, until) == (4, 60.0)


@given(
    sizes=st.lists(st.integers(1, 400), min_size=1, max_size=9),
    workers=st.integers(1, 5),
    early=st.floats(0.0, 1.0),
)
@settings(max_examples=200, deadline=None)
def test_every_part_is_planned_once_within_the_clock(sizes: list[int], workers: int, early: float) -> None:
    parts = of_sizes(*sizes)
    spans = worked(Sharing(parts, workers, 60.0), workers, 60.0, early)
    assert set(spans) == {part.product for part in parts}
    # no less than in proportion to its jobs, were all planned by one, but for what those with fewer need at least
    for part in parts:
        begun, until = spans[part.product]
        smaller = LEAST_SECONDS * sum(size < part.size for size in sizes)
        assert until - begun >= (60.0 - smaller) * part.size / sum(sizes) * (1 - 1e-9)


def test_a_few_jobs_among_many_have_the_seconds_they_need() -> None:
    spans = worked(Sharing(of_sizes(2, 58), 1, 10.0), 1, 10.0)
    assert spans == {"P00": (0.0, LEAST_SECONDS), "P01": (LEAST_SECONDS, 10.0)}
    many = worked(Sharing(of_sizes(*[1] * 20, 80), 1, 10.0), 1, 10.0)
    assert all(until - begun >= 10.0 / 21 - 1e-9 for begun, until in many.values())
    assert many["P20"][1] == 10.0


def request_of_no_jobs() -> PlanRequest:
    return replace(REQUEST, jobs=())


def test_nothing_to_plan_is_an_empty_plan() -> None:
    assert plan_cuts(request_of_no_jobs(), SearchLimits(seconds=1)).products == ()
