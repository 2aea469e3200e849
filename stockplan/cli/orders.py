"""Orders on the command line: listed by urgency, placed, and taken in."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING, Annotated

import typer

from stockplan.cli.cautions import tell_new_bay, tell_odd_delivery, tell_other_product
from stockplan.cli.options import JsonFlag, StoreOption, read_date
from stockplan.cli.saying import fitted, room, say
from stockplan.cli.weights import tell_weight
from stockplan.cli.yard import SizeArgument
from stockplan.domain.as_typed import argument
from stockplan.domain.units import money, size

if TYPE_CHECKING:
    from stockplan.actions.ordering import OrderShown

DayOption = Annotated[
    date | None,
    typer.Option("--today", metavar="DATE", parser=read_date, help="Default: this machine's date.", show_default=False),
]
KeyArgument = Annotated[
    str, typer.Argument(metavar="KEY", help="Key of the order, as stockplan orders lists it.", show_default=False)
]


def orders(
    context: typer.Context,
    everything: Annotated[bool, typer.Option("--all", help="Also what has come in or was cancelled.")] = False,
    today: DayOption = None,
    as_json: JsonFlag = False,
    store: StoreOption = None,
) -> None:
    """List what is to be ordered, the most urgent first, and what is on its way, with the jobs each serves."""
    from stockplan.actions.ordering import list_orders  # noqa: PLC0415
    from stockplan.report.json_text import json_document  # noqa: PLC0415

    found = list_orders(store or context.obj, today or date.today(), everything=everything)
    if as_json:
        document = {"format": "stockplan-orders", "version": 1, "orders": [_record(one) for one in found]}
        print(json_document(document), end="")
    else:
        print(fitted(_listed(found)))


def _listed(found: Sequence[OrderShown]) -> str:
    from stockplan.report.columns import in_columns  # noqa: PLC0415
    from stockplan.report.handling import LIFT_KEY, lift_words  # noqa: PLC0415
    from stockplan.report.words import counted, form_words  # noqa: PLC0415

    if not found:
        return "No order is open."
    headings = (
        "order", "state", "order by", "due", "what, from whom", "about kg", "lift", "price", "for jobs (laid)", "",
    )  # fmt: skip
    rows = []
    for one in found:
        line = one.line
        what = f"{line.product} {form_words(line.form)} {size(line.width_mm, line.length_mm)}, {line.supplier}"
        jobs = ", ".join(f"{job.code} ({job.lay_on})" for job in one.jobs) or "none"
        late = [f"LATE: {one.overdue}"] if one.overdue else []
        state = f"in as {one.tag}" if one.tag else line.state.value
        rows.append(
            (
                line.key, state, str(line.order_by), str(line.arrives_on), what,
                "" if one.weight_kg is None else str(one.weight_kg), lift_words(one.weight_kg or 0),
                money(line.price_pence), jobs,
                "; ".join([*late, *(f"ENDANGERED: {danger}" for danger in one.dangers)]),
            )
        )  # fmt: skip
    coming = [one.line.price_pence for one in found if one.line.coming]
    together = f"{counted(len(coming), 'open order')}, {money(sum(coming))} together. Ask for one batch of each product"
    summary = f"{together} and plan." if coming else "No order is open."
    marked = f"\n{LIFT_KEY}\n" if any(one.weight_kg for one in found) else ""
    return f"{in_columns(headings, rows, ('about kg', 'price'), room())}\n{marked}\n{summary}"


def _record(one: OrderShown) -> dict[str, object]:
    from stockplan.report.json_text import amount  # noqa: PLC0415

    line = one.line
    return {
        "order": line.key,
        "plan": line.plan,
        "state": line.state.value,
        "product": line.product,
        "supplier": line.supplier,
        "form": line.form.value,
        "width_mm": line.width_mm,
        "length_mm": line.length_mm,
        "weight_kg": one.weight_kg,
        "price": amount(line.price_pence),
        "order_by": line.order_by.isoformat(),
        "arrives_on": line.arrives_on.isoformat(),
        "late": one.overdue,
        "jobs": [{"job": job.code, "lay_on": job.lay_on.isoformat()} for job in one.jobs],
        "endangered": [danger.job for danger in one.dangers],
        "tag": one.tag,
    }


def order(
    context: typer.Context,
    keys: Annotated[
        list[str], typer.Argument(metavar="KEY", help="Keys, as stockplan orders lists them.", show_default=False)
    ],
    promised: Annotated[
        date | None,
        typer.Option(
            metavar="DATE",
            parser=read_date,
            help="The day the supplier promises them for. Default: the day planned.",
            show_default=False,
        ),
    ] = None,
    today: DayOption = None,
    store: StoreOption = None,
) -> None:
    """Say that drafts have been ordered, or that what is ordered is promised for another day."""
    from stockplan.actions.ordering import place_orders  # noqa: PLC0415

    for one in place_orders(store or context.obj, keys, today or date.today(), promised):
        print(f"{one.line.key} is ordered from {one.line.supplier}, due on {one.line.arrives_on}.")
        for danger in one.dangers:
            say(f"ENDANGERED: {danger}.")
        if one.dangers:
            say("What to do: plan these days again, or agree on another day with supplier or customer.")


def receive_order(  # noqa: PLR0913, PLR0917 - one a fact about what came
    context: typer.Context,
    key: KeyArgument,
    measured: SizeArgument,
    batch: Annotated[str, typer.Option(help='Dye batch on the label; "" when there is none.', show_default=False)],
    bay: Annotated[str, typer.Option(help="Where it was put.", show_default=False)],
    tag: Annotated[str | None, typer.Option(help="The tag it is given. Default: the next one.")] = None,
    today: DayOption = None,
    store: StoreOption = None,
) -> None:
    """Take in what came for an order, as measured; says which jobs a short roll or another batch endangers."""
    from stockplan.actions.taking_in import Delivery  # noqa: PLC0415
    from stockplan.actions.taking_in import receive_order as take_in  # noqa: PLC0415
    from stockplan.report.words import form_words  # noqa: PLC0415

    came = Delivery(batch, measured.width_mm, measured.length_mm, bay, tag)
    done = take_in(store or context.obj, key, came, today or date.today())
    item = done.item
    ordered, found = (done.line.width_mm, done.line.length_mm), (item.width_mm, item.length_mm)
    told = (
        ""
        if ordered == found
        else f"; ordered was {size(*ordered)} m, and {size(*found)} m is planned with from now on"
    )
    print(
        f"{done.line.key} came in as {item.tag}: {form_words(item.form)} {size(*found)} m, batch {item.batch_key}, "
        f"bay {item.bay}{told}."
    )
    tell_odd_delivery(item, done.line.width_mm * done.line.length_mm)
    tell_weight(store or context.obj, item.tag)
    tell_other_product(store or context.obj, item)
    tell_new_bay(store or context.obj, bay, [item.tag])
    if done.line.plan is None:
        print("It was for no plan any more and is free.")
    else:
        cut = f"stockplan cut {argument(item.tag)}"
        jobs = "job" if len(done.jobs) == 1 else "jobs"
        print(f"Reserved for plan {done.line.plan}, {jobs} {', '.join(done.jobs)}; its cuts: {cut}")
    for danger in done.dangers:
        say(f"ENDANGERED: {danger}.")
    if done.dangers:
        again = f": stockplan plan --from {done.days.first} --to {done.days.last}" if done.days is not None else "."
        say(f"What to do: plan these days again; what is missing is then planned beside the rest{again}")
    for danger in done.mixing:
        say(f"OTHER BATCH, DO NOT CUT YET: {danger}.")
    if done.mixing:
        say("What to do: ask the supplier for the first batch, ask the customer, or plan these days again.")
