"""The cheapest mend for jobs that a cut left short, on the command line."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from datetime import date
from typing import TYPE_CHECKING

import typer

from stockplan.cli.plans import tell_refusal
from stockplan.cli.saying import INTERRUPTED, SHORT, say
from stockplan.domain.units import money, size
from stockplan.errors import StockplanError

if TYPE_CHECKING:
    from stockplan.actions.planning import ShownPlan


def tell_mend(where: str | None, missing: Collection[str], seconds: float, today: date | None) -> None:
    """Look for the cheapest way to make up for what is missing, everything else as it is."""
    from stockplan.actions.making_ready import make_ready  # noqa: PLC0415
    from stockplan.actions.mending import days_around, mend  # noqa: PLC0415

    try:
        make_ready(say)
        shown = mend(where, list(missing), seconds, today)
    except StockplanError as error:
        say(f"stockplan: no mend was found: {error}\nThe cut is recorded.")
        raise typer.Exit(SHORT) from None
    except KeyboardInterrupt:
        say("\nStopped looking for a mend; the cut is recorded.")
        raise typer.Exit(INTERRUPTED) from None
    _tell(shown)
    if shown.is_short:
        window = days_around(where, list(missing))
        print(
            "Planning these days again may find one, as it moves other work too: "
            f"stockplan plan --from {window.first} --to {window.last}"
        )
        raise typer.Exit(SHORT)


def _tell(shown: ShownPlan) -> None:
    sources = {cuts.source: cuts for cuts in shown.plan.cuts()}
    orders = {order.key: order for order in shown.plan.orders()}
    pieces = list(shown.plan.pieces())
    if pieces:
        cost = f"{money(shown.plan.net_cost_pence)} {shown.plan.currency}"
        print(f"Cheapest mend found, {cost} net, as plan {shown.number}:")
    alike = Counter((one.source, one.batch, one.job, one.strip, size(one.width_mm, one.length_mm)) for one in pieces)
    for (source, batch, job, strip, measured), count in alike.items():
        order, cuts = orders.get(source), sources[source]
        what = f"{source}, {size(cuts.width_mm, cuts.length_mm)} m, batch {batch}"
        if order is not None:
            what = (
                f"{source}, a new {order.form.value.replace('_', ' ')} of {size(order.width_mm, order.length_mm)} m "
                f"from {order.supplier}, {money(order.price_pence)}, to order by {order.order_by}"
            )
        print(f"  {f'{count} × ' if count > 1 else ''}{job} {strip}, {measured} m: from {what}")
    for one in shown.plan.short():
        remedy = f"; would mend it: {one.remedy}" if one.remedy else ""
        print(f"No mend for {one.job} {one.strip} with all else as it is: {one.reason}{remedy}")
    for note in shown.left_over:
        print(f"{note}.")
    if shown.against is not None:
        tell_refusal(shown.against)
    elif pieces:
        print(f"Take it with: stockplan accept {shown.number}")
