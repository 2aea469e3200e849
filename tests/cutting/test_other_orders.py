"""What is told of the other orders of a plan where one of them is left out."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from small_problems import MONDAY, item, job, problem, rolls, sound_plan

from stockplan.cutting.why import NOTHING_BOUGHT, Inquiry
from stockplan.domain.plan import ProductPlan
from stockplan.domain.reasons import Instead, OrderReason, Sooner
from stockplan.domain.request import PlanRequest, SearchLimits

ROLL = rolls("4000x25000", 100_000)


def planned(request: PlanRequest) -> ProductPlan:
    return sound_plan(request, SearchLimits(seconds=20, work=60)).products[0]


def two_rolls() -> PlanRequest:
    """A large job on Monday and a smaller one on Wednesday, each of which takes most of a roll."""
    return problem([job("J1", "4000x4800*5"), job("J2", "4000x20000", day=2)], supply=[ROLL])


def by_first_job(plan: ProductPlan) -> tuple[OrderReason, OrderReason]:
    first, second = sorted(plan.order_reasons, key=lambda reason: reason.jobs)
    assert (first.jobs, second.jobs) == (("J1",), ("J2",))
    return first, second


def test_an_order_that_would_have_to_come_sooner_is_told_with_its_days() -> None:
    first, second = by_first_job(planned(two_rolls()))
    sunday = MONDAY - timedelta(days=1)
    assert first.short == ("J2",)
    assert first.instead == (Instead("J1", (second.order,)),)
    assert first.sooner == (Sooner(second.order, sunday - timedelta(days=3), sunday),)


def test_an_order_that_serves_as_it_does_in_the_plan_is_not_said_to_come_sooner() -> None:
    _, second = by_first_job(planned(two_rolls()))
    assert (second.short, second.instead, second.sooner) == (("J2",), (), ())


def test_an_order_that_comes_sooner_goes_by_its_new_key_beside_other_products() -> None:
    sooner = Sooner("new-2", MONDAY, MONDAY)
    told = OrderReason("new-1", ("J1",), True, sooner=(sooner,)).with_keys({"new-1": "new-4", "new-2": "new-5"})
    assert (told.order, told.sooner) == ("new-4", (replace(sooner, order="new-5"),))


def test_asked_about_an_order_the_same_is_told() -> None:
    request = two_rolls()
    plan = planned(request)
    first, second = by_first_job(plan)
    for reason in (first, second):
        (one,) = Inquiry(request, plan, 1.0).of_source(reason.order).otherwise
        assert (one.what, one.short) == (NOTHING_BOUGHT, ("J2",))
        assert (one.instead, one.sooner) == (reason.instead, reason.sooner)


def test_keys_of_what_an_answer_buys_are_never_taken_for_those_of_the_plan() -> None:
    # Without the wide roll for J2, both jobs could only be cut from what the other supplier sells, or from J1's roll.
    other = replace(ROLL, supplier="Ashcombe", price_pence=110_000)
    request = problem(
        [job("J1", "4000x24000"), job("J2", "4000x24000*2", day=2)],
        [item("C1", "1000x1000")],
        [ROLL, other],
    )
    plan = planned(request)
    kept = {order.key for order in plan.orders if order.supplier == ROLL.supplier}
    assert len(kept) == 3
    for order in plan.orders:
        found = Inquiry(request, plan, 1.0).of_source(order.key).otherwise
        assert {source for one in found for entry in one.instead for source in entry.sources} <= kept | {"a new roll"}
        elsewhere = next(one for one in found if one.what != NOTHING_BOUGHT)
        assert [set(entry.sources) - {"a new roll"} <= kept - {order.key} for entry in elsewhere.instead] == [True]
