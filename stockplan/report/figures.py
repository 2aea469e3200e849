"""The sums over a plan that the reports and the plan file share."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from stockplan.domain.plan import Plan, ProductPlan
from stockplan.domain.request import PlanRequest
from stockplan.domain.stock import StockForm, SupplyForm


@dataclass(frozen=True, slots=True)
class PlanFigures:
    """Money in pence and areas in mm² over every product of a plan.

    Parameters
    ----------
    net_pence, lower_bound_pence
        As the products state them, summed.
    order_pence, stock_pence, leftover_pence, cutting_pence, seam_pence
        The parts of the net cost: orders + stock used − leftovers kept + cutting + seams of the layouts picked.
    foreman_pence
        The foreman's plan; None when it is not known for every product.
    needed_mm2
        Every strip of every job of the request, short ones included, copies cut already left out.
    short_mm2
        What of it is left short.
    ordered_mm2
        Everything bought.
    from_stock_mm2
        Pieces cut from stock items.
    kept_mm2, binned_mm2
        Leftovers.
    source_mm2
        Every source that is cut, as it lies before cutting.
    offcuts_used, rolls_ordered
        How many stock items used are offcuts; how many orders are whole rolls.
    """

    net_pence: int
    lower_bound_pence: int
    order_pence: int
    stock_pence: int
    leftover_pence: int
    cutting_pence: int
    seam_pence: int
    foreman_pence: int | None
    needed_mm2: int
    short_mm2: int
    ordered_mm2: int
    from_stock_mm2: int
    kept_mm2: int
    binned_mm2: int
    source_mm2: int
    offcuts_used: int
    rolls_ordered: int

    @property
    def gap(self) -> float:
        """Share of the cost not proven necessary; 0 when the plan costs nothing."""
        return (self.net_pence - self.lower_bound_pence) / self.net_pence if self.net_pence > 0 else 0.0

    @property
    def waste_percent(self) -> Decimal:
        """Area binned ÷ (area of the sources used − area of leftovers kept) × 100, two decimals, half up."""
        consumed = self.source_mm2 - self.kept_mm2
        if consumed <= 0:
            return Decimal("0.00")
        return (Decimal(100 * self.binned_mm2) / consumed).quantize(Decimal("0.01"), ROUND_HALF_UP)


def plan_figures(request: PlanRequest, plan: Plan) -> PlanFigures:
    """Add up a plan.

    Parameters
    ----------
    request
        What the plan answers; gives the jobs' areas and the stock items' forms.
    plan
        The plan.
    """
    items = {item.tag: item for item in request.stock}
    foreman = [product.foreman_cost_pence for product in plan.products]
    known = [cost for cost in foreman if cost is not None]
    leftovers = list(plan.leftovers())
    needed_mm2 = sum(job.area_mm2 for job in request.jobs) - _cut_already_mm2(request)
    return PlanFigures(
        net_pence=plan.net_cost_pence,
        lower_bound_pence=plan.lower_bound_pence,
        order_pence=sum(order.price_pence for order in plan.orders()),
        stock_pence=sum(used.value_pence for used in plan.stock_used()),
        leftover_pence=sum(left.value_pence for left in leftovers if left.keep),
        cutting_pence=sum(product.cutting_cost_pence for product in plan.products),
        seam_pence=sum(product.seam_cost_pence for product in plan.products),
        foreman_pence=sum(known) if len(known) == len(foreman) else None,
        needed_mm2=needed_mm2,
        short_mm2=needed_mm2 - sum(piece.width_mm * piece.length_mm for piece in plan.pieces()),
        ordered_mm2=sum(order.width_mm * order.length_mm for order in plan.orders()),
        from_stock_mm2=sum(p.width_mm * p.length_mm for p in plan.pieces() if p.source in items),
        kept_mm2=sum(left.width_mm * left.length_mm for left in leftovers if left.keep),
        binned_mm2=sum(left.width_mm * left.length_mm for left in leftovers if not left.keep),
        source_mm2=sum(cuts.width_mm * cuts.length_mm for cuts in plan.cuts()),
        offcuts_used=sum(items[used.source].form is StockForm.OFFCUT for used in plan.stock_used()),
        rolls_ordered=sum(order.form is SupplyForm.ROLL for order in plan.orders()),
    )


def _cut_already_mm2(request: PlanRequest) -> int:
    sizes = {(job.code, strip.label): strip.width_mm * strip.length_mm for job in request.jobs for strip in job.strips}
    return sum(done.count * sizes.get((done.job, done.strip), 0) for done in request.cut_already)


@dataclass(frozen=True, slots=True)
class SourceMoney:
    """What one source brings into the net cost of a plan, pence.

    Parameters
    ----------
    source
        Its tag or order key.
    order_pence
        Its price where it is bought, else nothing.
    stock_pence
        What it is worth as it lies where it is not, else nothing.
    leftover_pence
        What is kept of it is worth.
    cutting_pence
        Its crosscuts and rips.
    """

    source: str
    order_pence: int
    stock_pence: int
    leftover_pence: int
    cutting_pence: int


def source_money(request: PlanRequest, product: ProductPlan) -> list[SourceMoney]:
    """Give the money of every source that a product's plan cuts, in the plan's order.

    Parameters
    ----------
    request
        What the plan answers; gives what a cut costs.
    product
        The plan of one product.
    """
    prices = {order.key: order.price_pence for order in product.orders}
    worth = {used.source: used.value_pence for used in product.stock_used}
    kept: dict[str, int] = {}
    for left in product.leftovers:
        if left.keep:
            kept[left.source] = kept.get(left.source, 0) + left.value_pence
    crosscut, rip = request.costs.crosscut_pence, request.costs.rip_pence
    return [
        SourceMoney(
            cuts.source,
            prices.get(cuts.source, 0),
            worth.get(cuts.source, 0),
            kept.get(cuts.source, 0),
            cuts.crosscuts * crosscut + cuts.rips * rip,
        )
        for cuts in product.cuts
    ]
