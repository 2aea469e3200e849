"""What a plan comes to, in one sentence for each product and one for the whole."""

from __future__ import annotations

from stockplan.domain.plan import Plan, PlanStatus, ProductPlan
from stockplan.domain.units import money
from stockplan.report.words import counted, percent


def headlines(plan: Plan) -> list[str]:
    """Sentences that say cost, saving against the foreman's plan, and how much of the cost is proven necessary.

    Parameters
    ----------
    plan
        The plan; with several products a sentence for the whole comes first.
    """
    if not plan.products:
        return ["No jobs in this window: nothing to order, nothing to cut."]
    sentences = [_product(product) for product in plan.products]
    return sentences if len(sentences) == 1 else [_whole(plan), *sentences]


def _product(product: ProductPlan) -> str:
    parts = [
        f"{product.product}: net cost {money(product.net_cost_pence)}",
        _against(product.net_cost_pence, product.foreman_cost_pence),
        _proof(product),
    ]
    ended = {"clock": "the search ran out of time", "interrupt": "the search was stopped by hand"}
    if product.status is not PlanStatus.OPTIMAL and product.ended_by in ended:
        parts.append(ended[product.ended_by])
    return _sentence(parts)


def _whole(plan: Plan) -> str:
    known = [p.foreman_cost_pence for p in plan.products if p.foreman_cost_pence is not None]
    foreman = sum(known) if len(known) == len(plan.products) else None
    parts = [f"Whole plan: net cost {money(plan.net_cost_pence)}"]
    if foreman is not None:
        parts.append(_against(plan.net_cost_pence, foreman))
    short = sum(short.count for short in plan.short())
    if short:
        parts.append(f"{counted(short, 'piece')} short, see below")
    if all(product.status is PlanStatus.OPTIMAL for product in plan.products):
        parts.append("proven the cheapest")
    else:
        bound = _could_save(plan.net_cost_pence, plan.lower_bound_pence)
        parts.append(f"for the rest {bound}" if short else bound)
    return _sentence(parts)


def _sentence(parts: list[str]) -> str:
    return f"{'; '.join(part for part in parts if part)}."


def _against(net: int, foreman: int | None) -> str:
    if foreman is None:
        return "the foreman's plan leaves short a job that this one covers"
    if foreman == net:
        return "the same as the foreman's plan"
    share = f" ({percent(abs(foreman - net) / foreman)})" if foreman > 0 else ""
    return f"{money(abs(foreman - net))}{share} {'less' if net < foreman else 'more'} than the foreman's plan"


def _proof(product: ProductPlan) -> str:
    if product.status is PlanStatus.OPTIMAL:
        return "proven the cheapest"
    bound = _could_save(product.net_cost_pence, product.lower_bound_pence)
    if product.status is PlanStatus.SHORT:
        pieces = counted(sum(short.count for short in product.short), "piece")
        return f"{pieces} short, see below; for the rest {bound}"
    return bound


def _could_save(net: int, bound: int) -> str:
    if net <= bound:
        return "proven the cheapest"
    if bound <= 0:
        return "the search was too short to tell how much could still be saved"
    share = f" ({percent((net - bound) / net)})" if net > 0 else ""
    return f"no plan can save more than {money(net - bound)}{share}"
