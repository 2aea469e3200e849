"""Rules about money and dates: orders and arrival, leftovers, money adds up, bound."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from stockplan.domain.check_facts import Facts, Rule, Source, Violation, rectangle
from stockplan.domain.plan import Order, Piece, PlannedLeftover, PlanStatus, ProductPlan
from stockplan.domain.stock import (
    CUT_LENGTH_LEAST_MM,
    CUT_LENGTH_STEP_MM,
    StockForm,
    SupplyForm,
    SupplyOption,
)
from stockplan.domain.units import money, size
from stockplan.domain.worth import Leftover, big_enough, leftover_worth, stock_worth


def orders(facts: Facts) -> Iterator[Violation]:
    """Every order is on offer at its price, can be placed in time, serves something; what is laid is there before."""
    served: dict[str, list[Piece]] = {}
    for cuts in facts.plan.cuts():
        served.setdefault(cuts.source, []).extend(cuts.pieces())
    for key, times in Counter(order.key for order in facts.plan.orders()).items():
        if times > 1:
            yield Violation(Rule.ORDERS, f"names {times} orders; keys are unique", key)
        if key in facts.items:
            yield Violation(Rule.ORDERS, "is an order's key and a stock tag as well", key)
    for order in facts.plan.orders():
        yield from _offer(facts, order)
        if order.order_by < facts.request.today:
            message = f"is to be placed by {order.order_by}, before today, {facts.request.today}"
            yield Violation(Rule.ORDERS, message, order.key)
        if not served.get(order.key):
            yield Violation(Rule.ORDERS, "is bought but serves nothing", order.key)
    arrivals = {item.tag: item.arrives_on for item in facts.items.values() if item.arrives_on is not None}
    arrivals |= {key: order.arrives_on for key, order in facts.orders.items()}
    for key, arrives_on in arrivals.items():
        for code in sorted({piece.job for piece in served.get(key, ())} & facts.jobs.keys()):
            if facts.jobs[code].lay_on <= arrives_on:
                found = f"arrives on {arrives_on}; {code} is laid on {facts.jobs[code].lay_on}"
                yield Violation(Rule.ORDERS, f"{found}; would arrive the day before or sooner", key)


def _offer(facts: Facts, order: Order) -> Iterator[Violation]:
    kind = (order.product, order.supplier, order.form, order.width_mm)
    options = [
        option
        for option in facts.request.supply
        if (option.product, option.supplier, option.form, option.width_mm) == kind and _sells(option, order.length_mm)
    ]
    days = (order.arrives_on - order.order_by).days
    if not options:
        found = f"{order.form} {size(order.width_mm, order.length_mm)} of {order.product} from {order.supplier}"
        yield Violation(Rule.ORDERS, f"{found} is not on offer", order.key)
    elif (order.price_pence, days) not in {(o.price_of(order.length_mm), o.lead_days) for o in options}:
        offered = ", or ".join(f"{money(o.price_of(order.length_mm))} in {o.lead_days} days" for o in options)
        yield Violation(Rule.ORDERS, f"{money(order.price_pence)} in {days} days; on offer for {offered}", order.key)


def _sells(option: SupplyOption, length_mm: int) -> bool:
    if option.form is SupplyForm.ROLL:
        return length_mm == option.length_mm
    return CUT_LENGTH_LEAST_MM <= length_mm <= option.length_mm and length_mm % CUT_LENGTH_STEP_MM == 0


def leftovers(facts: Facts) -> Iterator[Violation]:
    """Leftovers and stock used are what they are said to be and worth what they are said to be worth."""
    for leftover in facts.plan.leftovers():
        source = facts.sources.get(leftover.source)
        if source is not None:
            yield from _leftover(facts, leftover, source)
    cut = {cuts.source for cuts in facts.plan.cuts()} & facts.items.keys()
    listed = Counter(used.source for used in facts.plan.stock_used())
    for tag in sorted(cut | listed.keys()):
        if listed[tag] != (tag in cut):
            message = f"is listed {listed[tag]} times among stock used; would be {int(tag in cut)}"
            yield Violation(Rule.LEFTOVERS, message, tag)
    for used in facts.plan.stock_used():
        item = facts.items.get(used.source)
        if item is None:
            continue
        worth = stock_worth(item, facts.request.widest_mm(item.product))
        if used.value_pence != worth:
            message = f"is valued at {money(used.value_pence)} as it lies; is worth {money(worth)}"
            yield Violation(Rule.LEFTOVERS, message, used.source)


def _leftover(facts: Facts, leftover: PlannedLeftover, source: Source) -> Iterator[Violation]:
    place = rectangle(leftover)
    tail = (place.across_mm, place.width_mm, place.end_mm) == (0, source.width_mm, source.length_mm)
    becomes = StockForm.PART_ROLL if tail and source.rolled else StockForm.OFFCUT
    where = f"{source.key}, {place}"
    if leftover.becomes is not becomes:
        yield Violation(Rule.LEFTOVERS, f"is said to become {leftover.becomes}; becomes {becomes}", where)
    if source.cost is None:
        return
    on_core = becomes is StockForm.PART_ROLL
    shape = Leftover(leftover.width_mm, leftover.length_mm, on_core, facts.request.widest_mm(source.product))
    worth = leftover_worth(shape, source.cost)
    counted = facts.request.costs.leftovers_have_worth
    value = worth if counted else 0
    if leftover.value_pence != value:
        yield Violation(Rule.LEFTOVERS, f"is valued at {money(leftover.value_pence)}; is worth {money(value)}", where)
    if leftover.keep != big_enough(shape):
        found, right = ("kept", "binned") if leftover.keep else ("binned", "kept")
        yield Violation(Rule.LEFTOVERS, f"is {found}; would be {right}", where)


def money_adds_up(facts: Facts) -> Iterator[Violation]:
    """Net cost is orders + stock used − leftovers + cutting + seams; cutting is what the cuts counted cost."""
    costs = facts.request.costs
    for planned in facts.plan.products:
        cutting = sum(cuts.crosscuts * costs.crosscut_pence + cuts.rips * costs.rip_pence for cuts in planned.cuts)
        if planned.cutting_cost_pence != cutting:
            message = f"cutting is put at {money(planned.cutting_cost_pence)}; the cuts cost {money(cutting)}"
            yield Violation(Rule.MONEY, message, planned.product)
        bought = sum(order.price_pence for order in planned.orders)
        used = sum(item.value_pence for item in planned.stock_used)
        left = sum(leftover.value_pence for leftover in planned.leftovers)
        seams = sum(chosen.seam_cost_pence for chosen in planned.layouts)
        net = bought + used - left + planned.cutting_cost_pence + seams
        if planned.net_cost_pence != net:
            parts = f"{money(bought)} + {money(used)} - {money(left)} + {money(planned.cutting_cost_pence)}"
            parts += f" + {money(seams)} for seams" if planned.layouts else ""
            message = f"net cost is put at {money(planned.net_cost_pence)}; {parts} is {money(net)}"
            yield Violation(Rule.MONEY, message, planned.product)


def bound(facts: Facts) -> Iterator[Violation]:
    """The bound lies between nothing and the cost, the status says what is proven, the foreman is not cheaper."""
    for planned in facts.plan.products:
        net, lower = planned.net_cost_pence, planned.lower_bound_pence
        if not 0 <= lower <= net:
            message = f"lower bound {money(lower)} does not lie between 0 and the net cost, {money(net)}"
            yield Violation(Rule.BOUND, message, planned.product)
        status = _status(planned)
        if planned.status is not status:
            message = f"is called {planned.status}; cost {money(net)} and bound {money(lower)} make it {status}"
            yield Violation(Rule.BOUND, message, planned.product)
        if planned.foreman_cost_pence is not None and planned.foreman_cost_pence < net:
            message = f"costs {money(net)}, more than the foreman's {money(planned.foreman_cost_pence)}"
            yield Violation(Rule.BOUND, message, planned.product)


def _status(planned: ProductPlan) -> PlanStatus:
    if planned.short:
        return PlanStatus.SHORT
    net, lower = planned.net_cost_pence, planned.lower_bound_pence
    proven = net == lower or (net - lower) * 1_000_000 < net
    return PlanStatus.OPTIMAL if proven else PlanStatus.FEASIBLE
