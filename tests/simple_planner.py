"""A planner simple enough to trust: jobs in order of day, each from the first batch that holds all of it.

Every piece is a drop of its own. It keeps pins, leaves out what is cut, stays in the batch a job was begun in, waits
for what is on its way, and buys rolls for what is left. Plans are put together by `builders.build`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import timedelta

from builders import DropSpec, Want, build

from stockplan.domain.jobs import BatchRule, Job
from stockplan.domain.plan import Order, Plan, Shortfall
from stockplan.domain.request import PlanRequest, SearchLimits
from stockplan.domain.stock import SupplyForm


@dataclass
class Bench:
    request: PlanRequest
    used: Counter[str] = field(default_factory=Counter)
    specs: dict[str, list[DropSpec]] = field(default_factory=dict)
    orders: list[Order] = field(default_factory=list)

    def from_stock(self, job: Job, wants: list[Want], batches: set[str] | None) -> dict[str, list[Want]] | None:
        """Lay all pieces on things of one batch, or of any where any will do."""
        pinned = {pin.source for pin in self.request.pins if pin.job == job.code}
        items = [
            item
            for item in self.request.stock
            if item.product == job.product
            and (not pinned or item.tag in pinned)
            and (item.arrives_on is None or item.arrives_on < job.lay_on)
            and (batches is None or item.batch_key in batches)
        ]
        one = job.batch_rule is BatchRule.ONE
        for batch in sorted({item.batch_key for item in items}) if one else [""]:
            laid: dict[str, list[Want]] = {}
            used = self.used.copy()
            for want in wants:
                for item in items:
                    fits = item.width_mm >= want.width_mm and item.length_mm - used[item.tag] >= want.length_mm
                    if fits and (not one or item.batch_key == batch):
                        laid.setdefault(item.tag, []).append(want)
                        used[item.tag] += want.length_mm
                        break
            if sum(map(len, laid.values())) == len(wants):
                return laid
        return None

    def bought(self, job: Job, wants: list[Want]) -> dict[str, list[Want]] | None:
        """Lay all pieces on rolls bought for them or before."""
        arrives = job.lay_on - timedelta(days=1)
        offers = [s for s in self.request.supply if s.product == job.product and s.form is SupplyForm.ROLL]
        offers = [offer for offer in offers if self.request.today + timedelta(days=offer.lead_days) <= arrives]
        pinned = any(pin.job == job.code for pin in self.request.pins)
        if not offers or pinned or any(want.width_mm > offers[0].width_mm for want in wants):
            return None
        offer, laid = offers[0], {}
        for want in wants:
            rolls = (o for o in self.orders if o.product == job.product and o.arrives_on <= arrives)
            roll = next((o for o in rolls if o.length_mm - self.used[o.key] >= want.length_mm), None)
            if roll is None:
                key = f"new-{len(self.orders) + 1}"
                ordered = arrives - timedelta(days=offer.lead_days)
                roll = Order(
                    key, offer.product, offer.supplier, offer.form, offer.width_mm, offer.length_mm,
                    offer.price_pence, ordered, arrives,
                )  # fmt: skip
                self.orders.append(roll)
            laid.setdefault(roll.key, []).append(want)
            self.used[roll.key] += want.length_mm
        return laid

    def lay(self, laid: dict[str, list[Want]], *, count: bool) -> None:
        for source, wants in laid.items():
            for want in wants:
                self.specs.setdefault(source, []).append((want.length_mm, [(want.width_mm, [want])]))
                if count:
                    self.used[source] += want.length_mm


def wanted(request: PlanRequest, job: Job) -> Iterator[Want]:
    for strip in job.strips:
        done = sum(c.count for c in request.cut_already if (c.job, c.strip) == (job.code, strip.label))
        for number in range(done + 1, strip.count + 1):
            yield Want(strip.width_mm, strip.length_mm, job.code, strip.label, number)


def simple_plan(request: PlanRequest, limits: SearchLimits, progress: object, should_stop: object) -> Plan:
    bench, short = Bench(request), []
    for job in sorted(request.jobs, key=lambda job: (job.lay_on, job.code)):
        wants = list(wanted(request, job))
        begun = {c.batch for c in request.cut_already if c.job == job.code}
        held_to = begun if begun and job.batch_rule is BatchRule.ONE else None
        if (laid := bench.from_stock(job, wants, held_to)) is not None:
            bench.lay(laid, count=True)
        elif held_to is None and (laid := bench.bought(job, wants)) is not None:
            bench.lay(laid, count=False)
        else:
            lacks = Counter(want.strip for want in wants)
            short += [Shortfall(job.code, strip, count, "nothing holds it") for strip, count in lacks.items()]
    return build(request, bench.specs, bench.orders, short).plan
