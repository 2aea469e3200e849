"""Why a plan is as it is, in words and in the plan file."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from stockplan.domain.plan import NEW_BATCH, Plan
from stockplan.domain.reasons import BatchGround, BatchReason, Instead, OrderReason, Sooner
from stockplan.domain.units import money, size
from stockplan.report.json_text import amount, pence_of
from stockplan.report.words import day

Record = dict[str, Any]


def order_words(reason: OrderReason) -> str:
    """Say what would happen without an order and with nothing bought in its place."""
    if not reason.worked_out:
        return "not worked out"
    parts = []
    if reason.short:
        parts.append(f"{listed(reason.short)} would be short")
    parts += [f"{one.job} from {listed(one.sources)}" for one in reason.instead]
    if reason.extra_pence is not None:
        parts.append(f"net cost {_more(reason.extra_pence)}")
    if reason.sooner:
        parts.append(sooner_words(reason.sooner))
    return "; ".join(parts)


def sooner_words(orders: Sequence[Sooner]) -> str:
    """Say which orders must come sooner than planned."""
    first, *others = ((one.order, day(one.order_by)) for one in orders)
    return f"needs {listed([f'{first[0]} ordered by {first[1]}', *(f'{key} by {by}' for key, by in others)])}"


def batch_words(reason: BatchReason) -> str:
    """Say why a job is cut from its batch, or why it mixes several."""
    mixes = len(reason.batches) > 1
    other = "batch in the yard" if reason.batches == (NEW_BATCH,) else "other batch"
    match reason.ground:
        case BatchGround.PINNED:
            return "pinned by hand"
        case BatchGround.BEGUN:
            return "begun in it; the rest is of the same batch"
        case BatchGround.ONLY:
            if mixes:
                return "no one batch could hold all of it in time"
            if reason.lacking_mm is not None:
                return f"no {other} has {size(*reason.lacking_mm)} in one piece"
            return f"no {other} could hold it in time"
        case BatchGround.NO_ROOM:
            return f"no room was found {'for all of it in one' if mixes else 'in another'} beside the other jobs"
        case BatchGround.CHEAPEST:
            batches = listed(["new grass" if name == NEW_BATCH else name for name in reason.instead])
            return f"{'all of it' if mixes else 'instead'} from {batches}: {_more(reason.extra_pence or 0)}"
        case BatchGround.NOT_WORKED_OUT:
            return "not worked out"


def listed(names: Sequence[str]) -> str:
    """Names with commas and a last `and`."""
    return f"{', '.join(names[:-1])} and {names[-1]}" if len(names) > 1 else "".join(names)


def _more(pence: int) -> str:
    return f"at most {money(pence)} more" if pence > 0 else "no more"


def reason_records(plan: Plan) -> dict[str, list[Record]]:
    """Reasons as the plan file states them; nothing where there are none, as in files of older versions."""
    orders = [_order_record(one, part.product) for part in plan.products for one in part.order_reasons]
    batches = [_batch_record(one, part.product) for part in plan.products for one in part.batch_reasons]
    found = {"order_reasons": orders, "batch_reasons": batches}
    return {name: records for name, records in found.items() if records}


def _order_record(reason: OrderReason, product: str) -> Record:
    return {
        "order": reason.order,
        "product": product,
        "jobs": list(reason.jobs),
        "worked_out": reason.worked_out,
        "short_without": list(reason.short),
        "instead": [{"job": one.job, "sources": list(one.sources)} for one in reason.instead],
        "extra_cost": amount(reason.extra_pence),
        **sooner_records(reason.sooner),
        "reason": order_words(reason),
    }


def sooner_records(orders: Sequence[Sooner]) -> Record:
    """Orders that must come sooner, as files state them; nothing where there are none."""
    found = [
        {"order": one.order, "order_by": one.order_by.isoformat(), "arrives_on": one.arrives_on.isoformat()}
        for one in orders
    ]
    return {"sooner": found} if found else {}


def _batch_record(reason: BatchReason, product: str) -> Record:
    width, length = reason.lacking_mm or (None, None)
    return {
        "job": reason.job,
        "product": product,
        "batches": list(reason.batches),
        "ground": reason.ground.value,
        "instead": list(reason.instead),
        "extra_cost": amount(reason.extra_pence),
        **({"lacking": {"width_mm": width, "length_mm": length}} if reason.lacking_mm else {}),
        "reason": batch_words(reason),
    }


def read_order_reasons(records: Sequence[Record], product: str) -> tuple[OrderReason, ...]:
    """Read back what `reason_records` wrote of a product's orders."""
    return tuple(
        OrderReason(
            order=one["order"],
            jobs=tuple(one["jobs"]),
            worked_out=one["worked_out"],
            short=tuple(one["short_without"]),
            instead=tuple(Instead(entry["job"], tuple(entry["sources"])) for entry in one["instead"]),
            extra_pence=_extra_pence(one),
            sooner=tuple(
                Sooner(entry["order"], date.fromisoformat(entry["order_by"]), date.fromisoformat(entry["arrives_on"]))
                for entry in one.get("sooner", ())
            ),
        )
        for one in records
        if one["product"] == product
    )


def read_batch_reasons(records: Sequence[Record], product: str) -> tuple[BatchReason, ...]:
    """Read back what `reason_records` wrote of a product's jobs."""
    return tuple(
        BatchReason(
            job=one["job"],
            batches=tuple(one["batches"]),
            ground=BatchGround(one["ground"]),
            instead=tuple(one["instead"]),
            extra_pence=_extra_pence(one),
            lacking_mm=(one["lacking"]["width_mm"], one["lacking"]["length_mm"]) if "lacking" in one else None,
        )
        for one in records
        if one["product"] == product
    )


def _extra_pence(record: Record) -> int | None:
    stated = record["extra_cost"]
    return None if stated is None else pence_of(stated)
