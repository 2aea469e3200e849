"""The words and facts that every report shares: labels, dates, what a source is and where it lies."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from typing import TYPE_CHECKING

from stockplan.domain.jobs import BatchRule
from stockplan.domain.stock import StockForm, StockItem, SupplyForm

if TYPE_CHECKING:  # lists of the yard need no plans
    from stockplan.domain.jobs import Job
    from stockplan.domain.plan import Order, Piece, Plan, ProductPlan
    from stockplan.domain.request import PlanRequest

LEFT_TO_RIGHT = "\u200e"
_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_STOCK_FORMS = {StockForm.ROLL: "roll", StockForm.PART_ROLL: "part roll", StockForm.OFFCUT: "offcut"}
_SUPPLY_FORMS = {SupplyForm.ROLL: "roll", SupplyForm.CUT_LENGTH: "cut length"}


def printable(text: str) -> str:
    """Replace every character that would not print (line breaks, escapes, controls) by a question mark.

    What people typed into a sheet must not move a cursor, colour a terminal or break a drawing.
    """
    if text.isprintable():
        return text
    return "".join(one if one.isprintable() or one == LEFT_TO_RIGHT else "?" for one in text)


def before_figures(name: str) -> str:
    """Print a name so that figures may follow it.

    After letters that are written from right to left, as Hebrew and Arabic are, a screen that knows about them would
    set `1.25 × 3.30` from right to left too: along before across. An invisible mark keeps that from happening.
    """
    ways = [way for way in map(unicodedata.bidirectional, name) if way in ("L", "R", "AL")]
    return name + LEFT_TO_RIGHT if ways and ways[-1] != "L" else name


def day(moment: date) -> str:
    """Print a day as `Mon 30 Nov`, in English whatever the machine's settings."""
    return f"{_WEEKDAYS[moment.weekday()]} {moment.day} {_MONTHS[moment.month - 1]}"


def dated(moment: date) -> str:
    """Print a day with its year as `Mon 30 Nov 2026`, where it may be far from the day of asking."""
    return f"{day(moment)} {moment.year}"


def here(moment: datetime, zone: tzinfo | None = None) -> datetime:
    """Give a moment by a clock on the wall; by that of UTC where the other would run past the last year there is.

    Parameters
    ----------
    moment
        When; with its zone.
    zone
        Whose clock; default this machine's.
    """
    try:
        return moment.astimezone(zone)
    except OverflowError:
        return moment


def form_words(form: StockForm | SupplyForm) -> str:
    """Print how grass lies or is sold, in words."""
    return _STOCK_FORMS[form] if isinstance(form, StockForm) else _SUPPLY_FORMS[form]


def counted(number: int, one: str, many: str = "") -> str:
    """Print a number with its noun: `1 roll`, `3 rolls`.

    Parameters
    ----------
    number
        How many.
    one
        The noun for one of them.
    many
        For several; default the first with an s.
    """
    return f"{number} {one if number == 1 else many or one + 's'}"


def percent(share: float) -> str:
    """Print a share as a percentage with one decimal, or two where one would show nothing."""
    value = share * 100
    return f"{value:.2f} %" if 0 < abs(value) < 0.1 else f"{value:.1f} %"


@dataclass(frozen=True, slots=True)
class SourceFacts:
    """What a reader needs to know of a source before cutting it.

    Parameters
    ----------
    key
        Stock tag or order key.
    what
        Its form in words: `part roll`, `roll to order`.
    where
        Batch and bay, or the supplier and the days of an order.
    batch
        Batch as it is matched.
    width_mm, length_mm
        Across and along the pile.
    weight_g_m2
        Of its product.
    condition
        The word for the condition it is in by the record; empty when it is sound.
    """

    key: str
    what: str
    where: str
    batch: str
    width_mm: int
    length_mm: int
    weight_g_m2: int
    condition: str = ""


def unsound_words(condition: str) -> str:
    """Say what to look at before something is cut that is on record as wet, damaged or the like."""
    heavier = ", so heavier than is said here" if condition == "wet" else ""
    return f"it is {condition}{heavier}: cut it only when it is fit to be laid"


def source_facts(
    request: PlanRequest, plan: ProductPlan, conditions: Mapping[str, str] | None = None
) -> dict[str, SourceFacts]:
    """Facts of every source that a product's plan cuts, by key.

    Parameters
    ----------
    request
        What the plan answers.
    plan
        The plan of one product.
    conditions
        By tag the word for the condition of what is not sound; default all is.

    Raises
    ------
    KeyError
        When the plan cuts a source, or is for a product, that the request does not know.
    """
    weights = {product.code: product.weight_g_m2 for product in request.products}
    items = {item.tag: item for item in request.stock}
    orders = {order.key: order for order in plan.orders}
    facts = {}
    for cuts in plan.cuts:
        order = orders.get(cuts.source)
        what, where = _of_order(order) if order else _of_item(items[cuts.source])
        facts[cuts.source] = SourceFacts(
            key=printable(cuts.source),
            what=what,
            where=printable(where),
            batch=printable(cuts.batch),
            width_mm=cuts.width_mm,
            length_mm=cuts.length_mm,
            weight_g_m2=weights[plan.product],
            condition=printable((conditions or {}).get(cuts.source, "")),
        )
    return facts


def _of_order(order: Order) -> tuple[str, str]:
    where = f"from {order.supplier}, order by {day(order.order_by)}, here {day(order.arrives_on)}"
    return f"{form_words(order.form)} to order", where


def _of_item(item: StockItem) -> tuple[str, str]:
    if item.arrives_on is not None:
        return f"{form_words(item.form)} still to come", f"batch {item.batch_key}, here {day(item.arrives_on)} at best"
    bay = f"bay {item.bay}" if item.bay else "bay not recorded"
    return form_words(item.form), f"batch {item.batch_key}, {bay}"


def mixed_suppliers(request: PlanRequest, plan: Plan) -> dict[str, list[str]]:
    """Give the suppliers of each job that wants one batch and is cut from what several of them are to send."""
    supplier = {order.key: order.supplier for order in plan.orders()}
    wants_one = {job.code for job in request.jobs if job.batch_rule is BatchRule.ONE}
    found: dict[str, set[str]] = {}
    for piece in plan.pieces():
        if piece.job in wants_one and piece.source in supplier:
            found.setdefault(piece.job, set()).add(supplier[piece.source])
    return {code: sorted(names) for code, names in sorted(found.items()) if len(names) > 1}


class PieceLabels:
    """Labels pieces as `J101 A`, with the copy's number where a strip has several.

    Parameters
    ----------
    jobs
        The jobs whose pieces are labelled.
    """

    def __init__(self, jobs: tuple[Job, ...]) -> None:
        self._several = {(job.code, strip.label) for job in jobs for strip in job.strips if strip.count > 1}

    def of(self, piece: Piece) -> str:
        """Label of one piece."""
        number = f" ({piece.number})" if (piece.job, piece.strip) in self._several else ""
        return before_figures(printable(f"{piece.job} {piece.strip}")) + number
