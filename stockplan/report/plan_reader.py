"""Reading a plan file back: the plan, and as much of the request as a report needs.

`plan_to_json(read_request(text), read_plan(text))` gives `text` back. What was on offer and what lay unused in the yard
are not in the file, so a request read back is for reports, not for planning again.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Any, TypeVar

from stockplan.domain.jobs import BatchRule, Job, Strip, Window
from stockplan.domain.plan import (
    Drop,
    Lane,
    Order,
    Piece,
    Plan,
    PlannedLeftover,
    PlanStatus,
    ProductPlan,
    Shortfall,
    SourceCuts,
    StockUsed,
)
from stockplan.domain.request import CostSettings, CutAlready, Pin, PlanRequest
from stockplan.domain.stock import Product, StockForm, StockItem, SupplyForm
from stockplan.errors import StoreError
from stockplan.report.json_text import pence_of, whole_of
from stockplan.report.plan_file import FORMAT, VERSION
from stockplan.report.plan_layouts import read_lawns, read_layout
from stockplan.report.reasons import read_batch_reasons, read_order_reasons

Record = dict[str, Any]
Built = TypeVar("Built")


def read_plan(text: str) -> Plan:
    """Read a plan file back into the plan it was written from.

    Raises
    ------
    StoreError
        When the text is not a plan file of this version, or lacks something.
    """
    return _build(text, _plan)


def read_request(text: str) -> PlanRequest:
    """Read from a plan file what its reports need of the request: products, jobs, costs and the stock it cuts.

    Raises
    ------
    StoreError
        When the text is not a plan file of this version, or lacks something.
    """
    return _build(text, _request)


def _build(text: str, builder: Callable[[Record], Built]) -> Built:
    try:
        record = json.loads(text, parse_float=Decimal)
    except ValueError as fault:
        raise StoreError(f"this is not a plan file: {fault}") from fault
    if not isinstance(record, dict) or record.get("format") != FORMAT:
        raise StoreError(f'this is not a plan file: it should begin with "format": "{FORMAT}"')
    if record.get("version") != VERSION:
        raise StoreError(f"plan file version {record.get('version')!r} cannot be read; this program reads {VERSION}")
    try:
        return builder(record)
    except KeyError as fault:
        raise StoreError(f"the plan file is incomplete: {fault} is missing") from fault
    except (TypeError, ValueError, AttributeError, InvalidOperation) as fault:
        raise StoreError(f"the plan file is damaged: {fault}") from fault


def _plan(record: Record) -> Plan:
    window = record["window"]
    pieces: dict[str, list[Piece]] = {entry["source"]: [] for entry in record["cuts"]}
    for entry in record["pieces"]:
        if entry["source"] not in pieces:
            raise ValueError(f"a piece comes from {entry['source']!r}, which no cut names")
        pieces[entry["source"]].append(_piece(entry))
    cuts = [_cuts(entry, pieces[entry["source"]]) for entry in record["cuts"]]
    product_of = {entry.source: entry.product for entry in cuts}
    return Plan(
        window=_window(record),
        today=date.fromisoformat(window["today"]),
        currency=record["currency"],
        products=tuple(_product_plan(entry, record, cuts, product_of) for entry in record["products"]),
    )


def _product_plan(entry: Record, record: Record, cuts: list[SourceCuts], product_of: dict[str, str]) -> ProductPlan:
    code = entry["product"]
    foreman = entry["foreman_cost"]
    return ProductPlan(
        product=code,
        status=PlanStatus(entry["status"]),
        net_cost_pence=pence_of(entry["net_cost"]),
        lower_bound_pence=pence_of(entry["lower_bound"]),
        foreman_cost_pence=None if foreman is None else pence_of(foreman),
        orders=tuple(_order(order) for order in record["orders"] if order["product"] == code),
        cuts=tuple(one for one in cuts if one.product == code),
        stock_used=tuple(
            StockUsed(used["source"], pence_of(used["value"]))
            for used in record["stock_used"]
            if product_of[used["source"]] == code
        ),
        leftovers=tuple(_leftover(left) for left in record["leftovers"] if product_of[left["source"]] == code),
        short=tuple(
            Shortfall(short["job"], short["strip"], short["count"], short["reason"], short["remedy"])
            for short in record["short"]
            if short["product"] == code
        ),
        cutting_cost_pence=pence_of(entry["cutting_cost"]),
        work=entry["work"],
        seed=entry["seed"],
        ended_by=entry["ended_by"],
        seconds=float(entry["seconds"]),
        held_wanted=tuple(entry.get("held_wanted", ())),
        fingerprint=entry.get("fingerprint", ""),
        layouts=tuple(read_layout(one) for one in record.get("layouts", ()) if one["product"] == code),
        order_reasons=read_order_reasons(record.get("order_reasons", ()), code),
        batch_reasons=read_batch_reasons(record.get("batch_reasons", ()), code),
    )


def _order(entry: Record) -> Order:
    return Order(
        key=entry["order"],
        product=entry["product"],
        supplier=entry["supplier"],
        form=SupplyForm(entry["form"]),
        width_mm=entry["width_mm"],
        length_mm=entry["length_mm"],
        price_pence=pence_of(entry["price"]),
        order_by=date.fromisoformat(entry["order_by"]),
        arrives_on=date.fromisoformat(entry["arrives_on"]),
    )


def _cuts(entry: Record, pieces: list[Piece]) -> SourceCuts:
    drops = tuple(_drop(drop, pieces) for drop in entry["drops"])
    cuts = SourceCuts(
        source=entry["source"],
        product=entry["product"],
        batch=entry["batch"],
        width_mm=entry["width_mm"],
        length_mm=entry["length_mm"],
        drops=drops,
        crosscuts=entry["crosscuts"],
        rips=entry["rips"],
    )
    if list(cuts.pieces()) != pieces:
        raise ValueError(f"the pieces of {cuts.source!r} do not lie in its lanes in cutting order")
    return cuts


def _drop(entry: Record, pieces: list[Piece]) -> Drop:
    begin, end = entry["along_mm"], entry["along_mm"] + entry["length_mm"]
    inside = [piece for piece in pieces if begin <= piece.along_mm < end]
    lanes = []
    for lane in entry["lanes"]:
        left, right = lane["across_mm"], lane["across_mm"] + lane["width_mm"]
        lanes.append(Lane(left, lane["width_mm"], tuple(p for p in inside if left <= p.across_mm < right)))
    return Drop(begin, entry["length_mm"], tuple(lanes))


def _piece(entry: Record) -> Piece:
    return Piece(
        job=entry["job"],
        strip=entry["strip"],
        number=entry["number"],
        source=entry["source"],
        batch=entry["batch"],
        across_mm=entry["across_mm"],
        along_mm=entry["along_mm"],
        width_mm=entry["width_mm"],
        length_mm=entry["length_mm"],
    )


def _leftover(entry: Record) -> PlannedLeftover:
    return PlannedLeftover(
        source=entry["source"],
        across_mm=entry["across_mm"],
        along_mm=entry["along_mm"],
        width_mm=entry["width_mm"],
        length_mm=entry["length_mm"],
        becomes=StockForm(entry["becomes"]),
        keep=entry["keep"],
        value_pence=pence_of(entry["value"]),
        reason=entry["reason"],
    )


def _window(record: Record) -> Window:
    return Window(date.fromisoformat(record["window"]["from"]), date.fromisoformat(record["window"]["to"]))


def _request(record: Record) -> PlanRequest:
    costs = record["costs"]
    return PlanRequest(
        window=_window(record),
        today=date.fromisoformat(record["window"]["today"]),
        products=tuple(
            Product(entry["product"], entry["description"], whole_of(Decimal(entry["weight_kg_m2"]) * 1000))
            for entry in record["products"]
        ),
        supply=(),
        stock=tuple(_item(entry) for entry in record["stock_used"]),
        jobs=tuple(_job(entry) for entry in record["jobs"]),
        costs=CostSettings(
            crosscut_pence=pence_of(costs["crosscut"]),
            rip_pence=pence_of(costs["rip"]),
            leftovers_have_worth=costs["leftovers_have_worth"],
        ),
        currency=record["currency"],
        pins=tuple(Pin(entry["job"], entry["source"]) for entry in record.get("pins", ())),
        cut_already=tuple(
            CutAlready(entry["job"], entry["strip"], entry["count"], entry["batch"])
            for entry in record.get("cut_already", ())
        ),
    )


def _item(entry: Record) -> StockItem:
    return StockItem(
        tag=entry["source"],
        product=entry["product"],
        batch=entry["batch"],
        form=StockForm(entry["form"]),
        width_mm=entry["width_mm"],
        length_mm=entry["length_mm"],
        bay=entry["bay"],
        cost_pence_per_m2=pence_of(entry["cost_per_m2"]),
        arrives_on=date.fromisoformat(entry["arrives_on"]) if "arrives_on" in entry else None,
    )


def _job(entry: Record) -> Job:
    lawns, pile = read_lawns(entry)
    return Job(
        code=entry["job"],
        site=entry["site"],
        product=entry["product"],
        lay_on=date.fromisoformat(entry["lay_on"]),
        pile_towards=entry["pile_towards"],
        batch_rule=BatchRule(entry["batch_rule"]),
        strips=tuple(
            Strip(strip["strip"], strip["width_mm"], strip["length_mm"], strip["count"]) for strip in entry["strips"]
        ),
        lawns=lawns,
        pile=pile,
    )
