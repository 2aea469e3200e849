"""The command that holds a weight against the guidelines on lifting."""

from __future__ import annotations

from typing import Annotated

import typer

from stockplan.cli.options import StoreOption, whole, with_decimals
from stockplan.domain.lifting import HOURS, Grasp


def lift(  # noqa: PLR0913, PLR0917 - the equation's own
    context: typer.Context,
    tag: Annotated[str, typer.Argument(metavar="TAG", help="A thing in the yard.", show_default=False)],
    reach: Annotated[
        float, typer.Option(metavar="CM", parser=with_decimals(0), help="Hands before the ankles.")
    ] = 40.0,
    begins: Annotated[
        float, typer.Option("--from", metavar="CM", parser=with_decimals(0), help="Height of the hands at first.")
    ] = 15.0,
    ends: Annotated[float, typer.Option("--to", metavar="CM", parser=with_decimals(0), help="And at the end.")] = 75.0,
    turn: Annotated[
        float, typer.Option(metavar="DEGREES", parser=with_decimals(0), help="How far the body twists.")
    ] = 0.0,
    a_minute: Annotated[float, typer.Option(metavar="NUMBER", parser=with_decimals(0), help="Lifts a minute.")] = 0.2,
    hours: Annotated[int, typer.Option(metavar="1|2|8", parser=whole(1, 8), help="For how many hours, at most.")] = 1,
    grasp: Annotated[Grasp, typer.Option(help="How well hands hold it.")] = Grasp.POOR,
    store: StoreOption = None,
) -> None:
    """Hold a thing's weight against published guidelines on lifting: guidance, not clearance."""
    from stockplan.actions.labelling import Wanted, find_labels  # noqa: PLC0415
    from stockplan.errors import StockplanError  # noqa: PLC0415
    from stockplan.report.lift_text import Lift, lift_text  # noqa: PLC0415

    if hours not in HOURS:
        raise typer.BadParameter(f"{hours} is not in the table; give 1, 2 or 8", param_hint="--hours")
    (facts,) = find_labels(store or context.obj, Wanted((tag,))).facts
    if facts.weight_kg is None:
        raise StockplanError(f"what {facts.product} weighs is not on record; find out before lifting {tag}")
    print(
        lift_text(facts.code, facts.weight_kg, Lift(reach, begins, ends, turn, a_minute, hours, grasp), facts.condition)
    )
