"""The plan file: a plan as JSON, the contract between the program and everyone else.

Keys and units are fixed and only ever grow; `plan.schema.json` beside this file states them all. Lengths are whole
millimetres, money has two decimals in the file's one currency, areas are square metres with six decimals (exact, since
sizes are whole millimetres). The file stands on its own: `plan_reader` gives back the plan and as much of the request
as a report needs.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from stockplan.domain.jobs import Job
from stockplan.domain.plan import Order, Piece, Plan, PlannedLeftover, ProductPlan, SourceCuts, StockUsed
from stockplan.domain.request import PlanRequest
from stockplan.domain.stock import Product, StockItem
from stockplan.report.figures import plan_figures
from stockplan.report.json_text import amount, area, json_document
from stockplan.report.plan_layouts import lawn_records, layout_record
from stockplan.report.reasons import reason_records

FORMAT = "stockplan-plan"
VERSION = 1

Record = dict[str, object]


def plan_to_json(request: PlanRequest, plan: Plan) -> str:
    """Print a plan as its file, the same text for the same plan, ending with a newline.

    Parameters
    ----------
    request
        What the plan answers.
    plan
        The plan.
    """
    products = {product.code: product for product in request.products}
    items = {item.tag: item for item in request.stock}
    document = {
        "format": FORMAT,
        "version": VERSION,
        "window": {
            "from": plan.window.first.isoformat(),
            "to": plan.window.last.isoformat(),
            "today": plan.today.isoformat(),
        },
        "currency": plan.currency,
        "products": [_product(part, products[part.product]) for part in plan.products],
        "orders": [_order(order) for order in plan.orders()],
        "pieces": [_piece(piece) for piece in plan.pieces()],
        "cuts": [_cuts(cuts) for cuts in plan.cuts()],
        "stock_used": [_stock_used(used, items[used.source]) for used in plan.stock_used()],
        "leftovers": [_leftover(leftover) for leftover in plan.leftovers()],
        "short": list(_short(plan)),
        "jobs": [job_record(job) | lawn_records(job) for job in request.jobs],
        "costs": {
            "crosscut": amount(request.costs.crosscut_pence),
            "rip": amount(request.costs.rip_pence),
            "leftovers_have_worth": request.costs.leftovers_have_worth,
        },
        "totals": _totals(request, plan),
        **_layouts(plan),
        **reason_records(plan),
    } | _settled(request)
    return json_document(document)


def _layouts(plan: Plan) -> Record:
    """The layouts picked; nothing where strips were given, as in files of older versions."""
    found = [layout_record(chosen, part.product) for part in plan.products for chosen in part.layouts]
    return {"layouts": found} if found else {}


def _settled(request: PlanRequest) -> Record:
    """What was settled before the plan was made; nothing where nothing was, as in files of older versions."""
    pins = [{"job": pin.job, "source": pin.source} for pin in request.pins]
    cut = [
        {"job": done.job, "strip": done.strip, "count": done.count, "batch": done.batch} for done in request.cut_already
    ]
    return {name: records for name, records in (("pins", pins), ("cut_already", cut)) if records}


def _places(number: float, places: int) -> Decimal:
    return Decimal(f"{number:.{places}f}")


def _product(part: ProductPlan, product: Product) -> Record:
    return {
        "product": part.product,
        "status": part.status.value,
        "net_cost": amount(part.net_cost_pence),
        "lower_bound": amount(part.lower_bound_pence),
        "gap": _places(part.gap, 6),
        "foreman_cost": amount(part.foreman_cost_pence),
        "cutting_cost": amount(part.cutting_cost_pence),
        "ended_by": part.ended_by,
        "work": part.work,
        "seed": part.seed,
        "seconds": _places(part.seconds, 3),
        "description": product.description,
        "weight_kg_m2": Decimal(product.weight_g_m2).scaleb(-3),
        **({"held_wanted": list(part.held_wanted)} if part.held_wanted else {}),
        **({"fingerprint": part.fingerprint} if part.fingerprint else {}),
        **({"seam_cost": amount(part.seam_cost_pence)} if part.layouts else {}),
    }


def _order(order: Order) -> Record:
    return {
        "order": order.key,
        "product": order.product,
        "supplier": order.supplier,
        "form": order.form.value,
        "width_mm": order.width_mm,
        "length_mm": order.length_mm,
        "price": amount(order.price_pence),
        "order_by": order.order_by.isoformat(),
        "arrives_on": order.arrives_on.isoformat(),
    }


def _piece(piece: Piece) -> Record:
    return {
        "job": piece.job,
        "strip": piece.strip,
        "number": piece.number,
        "source": piece.source,
        "batch": piece.batch,
        "across_mm": piece.across_mm,
        "along_mm": piece.along_mm,
        "width_mm": piece.width_mm,
        "length_mm": piece.length_mm,
    }


def _cuts(cuts: SourceCuts) -> Record:
    return {
        "source": cuts.source,
        "product": cuts.product,
        "batch": cuts.batch,
        "width_mm": cuts.width_mm,
        "length_mm": cuts.length_mm,
        "crosscuts": cuts.crosscuts,
        "rips": cuts.rips,
        "drops": [
            {
                "along_mm": drop.along_mm,
                "length_mm": drop.length_mm,
                "lanes": [{"across_mm": lane.across_mm, "width_mm": lane.width_mm} for lane in drop.lanes],
            }
            for drop in cuts.drops
        ],
    }


def _stock_used(used: StockUsed, item: StockItem) -> Record:
    return {
        "source": used.source,
        "value": amount(used.value_pence),
        "product": item.product,
        "batch": item.batch,
        "form": item.form.value,
        "width_mm": item.width_mm,
        "length_mm": item.length_mm,
        "bay": item.bay,
        "cost_per_m2": amount(item.cost_pence_per_m2),
        **({"arrives_on": item.arrives_on.isoformat()} if item.arrives_on else {}),
    }


def _leftover(leftover: PlannedLeftover) -> Record:
    return {
        "source": leftover.source,
        "across_mm": leftover.across_mm,
        "along_mm": leftover.along_mm,
        "width_mm": leftover.width_mm,
        "length_mm": leftover.length_mm,
        "becomes": leftover.becomes.value,
        "keep": leftover.keep,
        "value": amount(leftover.value_pence),
        "reason": leftover.reason,
    }


def _short(plan: Plan) -> Iterator[Record]:
    for product in plan.products:
        for short in product.short:
            yield {
                "job": short.job,
                "strip": short.strip,
                "count": short.count,
                "reason": short.reason,
                "remedy": short.remedy,
                "product": product.product,
            }


def job_record(job: Job) -> Record:
    """A job with its strips, as plan files and lists of jobs state it."""
    return {
        "job": job.code,
        "site": job.site,
        "product": job.product,
        "lay_on": job.lay_on.isoformat(),
        "pile_towards": job.pile_towards,
        "batch_rule": job.batch_rule.value,
        "strips": [
            {
                "strip": strip.label,
                "width_mm": strip.width_mm,
                "length_mm": strip.length_mm,
                "count": strip.count,
            }
            for strip in job.strips
        ],
    }


def _totals(request: PlanRequest, plan: Plan) -> Record:
    figures = plan_figures(request, plan)
    return {
        "net_cost": amount(figures.net_pence),
        "order_cost": amount(figures.order_pence),
        "stock_value": amount(figures.stock_pence),
        "leftover_value": amount(figures.leftover_pence),
        "cutting_cost": amount(figures.cutting_pence),
        "lower_bound": amount(figures.lower_bound_pence),
        "gap": _places(figures.gap, 6),
        "area_needed_m2": area(figures.needed_mm2),
        "area_ordered_m2": area(figures.ordered_mm2),
        "area_from_stock_m2": area(figures.from_stock_mm2),
        "area_kept_m2": area(figures.kept_mm2),
        "area_binned_m2": area(figures.binned_mm2),
        "waste_percent": figures.waste_percent,
        "offcuts_used": figures.offcuts_used,
        "rolls_ordered": figures.rolls_ordered,
        **({"seam_cost": amount(figures.seam_pence)} if any(True for _ in plan.layouts()) else {}),
    }
