"""The life of a plan on the command line: accepted, withdrawn; and what people pin."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from stockplan.cli.options import JsonFlag, StoreOption, TodayOption, whole
from stockplan.cli.saying import INPUT_WRONG, room, say
from stockplan.domain.request import Pin

if TYPE_CHECKING:
    from stockplan.actions.planning import ShownPlan
    from stockplan.errors import PlanOutdated

HELD_TOLD = 20  # of things held; more would only hide what else is told


def read_pin(text: str) -> Pin:
    """Read a pin such as J104=R-014."""
    job, equals, tag = (part.strip() for part in text.partition("="))
    if not (job and equals and tag):
        raise typer.BadParameter(f"{text!r} is not a pin; write job=tag, such as J104=R-014")
    return Pin(job, tag)


PinsOption = Annotated[
    list[Pin] | None,
    typer.Option(
        "--pin",
        metavar="JOB=TAG",
        parser=read_pin,
        help="Cut this job from this thing in the yard, now and in plans to come; may be given several times.",
        show_default=False,
    ),
]
AgainOption = Annotated[
    bool,
    typer.Option("--again", help="Plan anew also what accepted plans are still to cut. Default: it stays with them."),
]
PlanArgument = Annotated[
    int, typer.Argument(metavar="PLAN", parser=whole(1), help="The plan's number.", show_default=False)
]


_FIRST_WORDS = ("what ", "look ")  # other notes begin with a tag or a code, which is told as it is spelt


def _begun(note: str) -> str:
    """Begin a note with a capital where it begins with a word."""
    return note[0].upper() + note[1:] if note.startswith(_FIRST_WORDS) else note


def tell_changes(shown: ShownPlan) -> None:
    """Say what a new plan leaves to earlier ones and what it does differently."""
    for note in (*shown.notes, *shown.left_over):
        say(f"{_begun(note)}.")
    planned = {job.product for job in shown.request.jobs}
    held = [item.tag for item in shown.request.held if item.product in planned]
    if held:
        more = f" and {len(held) - HELD_TOLD} more" if len(held) > HELD_TOLD else ""
        say(f"Left out, as held for a quote: {', '.join(held[:HELD_TOLD])}{more}.")
    _tell_differences(shown)
    if shown.against is not None:
        tell_refusal(shown.against)


def tell_refusal(refused: PlanOutdated) -> None:
    """Say of a plan that is shown what stands against accepting it, and which days to plan again."""
    say(f"Plan {refused.number} cannot be accepted as it is; what stands against it:")
    for change in refused.changes:
        say(f"  {change}")
    say(f"Plan again with: stockplan plan --from {refused.first} --to {refused.last}")


def _tell_differences(shown: ShownPlan) -> None:
    if shown.last is None:
        return
    if not shown.changes:
        say(f"Nothing is planned differently from {shown.last}.")
        return
    say(f"Different from {shown.last}:")
    for change in shown.changes:
        say(f"  {change}")


def accept(
    context: typer.Context,
    number: Annotated[
        int | None,
        typer.Argument(
            metavar="PLAN", parser=whole(1), help="The plan's number. Default: the last one made, if no other waits."
        ),
    ] = None,
    today: TodayOption = None,
    store: StoreOption = None,
) -> None:
    """Accept a plan: its stock is reserved and its orders are drafted, if nothing it touches has changed."""
    from stockplan.actions.accepting import accept_plan  # noqa: PLC0415
    from stockplan.errors import PlanOutdated  # noqa: PLC0415

    where = store or context.obj
    try:
        done = accept_plan(where, number, today)
    except PlanOutdated as outdated:
        say(f"stockplan: {outdated}")
        say(f"Plan again with: stockplan plan --from {outdated.first} --to {outdated.last}")
        raise typer.Exit(INPUT_WRONG) from None
    print(f"Plan {done.number} is accepted{'; nothing is to be cut by it, so it is done' if done.done else ''}.")
    if done.given_back:
        told = ", ".join(f"{tag} (plan {plan})" for tag, plan in done.given_back)
        print(f"It takes the place of what earlier plans were to cut: {told}.")
    for ended in done.ended:
        print(f"Plan {ended} has nothing left to cut.")
    print(f"Reserved: {', '.join(done.reserved) or 'nothing'}.")
    for note in done.notes:
        say(f"{_begun(note)}.")
    if done.short:
        say(f"SHORT: nothing covers {', '.join(done.short)}; why, and what would: stockplan show {done.number}")
    if done.kept_for_short:
        told = ", ".join(f"{tag} (plan {plan})" for tag, plan in done.kept_for_short)
        say(f"Earlier plans keep for what is short: {told}; to give it up: stockplan withdraw PLAN")
    for line in done.drafts:
        print(f"To order by {line.order_by}: {line.key}; see: stockplan orders")


def plans(context: typer.Context, as_json: JsonFlag = False, store: StoreOption = None) -> None:
    """List the plans made so far, and what has become of each."""
    from stockplan.actions.plan_states import list_plans  # noqa: PLC0415
    from stockplan.domain.units import money  # noqa: PLC0415
    from stockplan.report.columns import in_columns  # noqa: PLC0415
    from stockplan.report.json_text import amount, json_document  # noqa: PLC0415

    found = list_plans(store or context.obj)
    if as_json:
        records = [
            {
                "plan": one.number,
                "state": one.state.value,
                "from": one.window.first.isoformat(),
                "to": one.window.last.isoformat(),
                "today": one.today.isoformat(),
                "net_cost": amount(one.net_cost_pence),
                "to_cut": one.to_cut,
            }
            for one in found
        ]
        print(json_document({"format": "stockplan-plans", "version": 1, "plans": records}), end="")
        return
    headings = ("plan", "days", "made", "net cost", "state", "still to cut")
    rows = [
        (
            str(one.number), f"{one.window.first} to {one.window.last}", str(one.today), money(one.net_cost_pence),
            one.state, str(one.to_cut) if one.to_cut else "",
        )
        for one in found
    ]  # fmt: skip
    right = ("plan", "net cost", "still to cut")
    print(in_columns(headings, rows, right, room()) if rows else "No plan has been made.")


def withdraw(context: typer.Context, number: PlanArgument, store: StoreOption = None) -> None:
    """Withdraw a plan: what it was still to cut is free again, and orders only drafted are dropped."""
    from stockplan.actions.accepting import withdraw_plan  # noqa: PLC0415

    done = withdraw_plan(store or context.obj, number)
    print(f"Plan {done.number} is withdrawn.")
    print(f"Free again: {', '.join(done.released) or 'nothing'}.")
    if done.cancelled:
        print(f"No longer to order: {', '.join(done.cancelled)}.")
    if done.coming:
        print(f"Ordered, and still on the way for no plan: {', '.join(done.coming)}.")


def pins(context: typer.Context, as_json: JsonFlag = False, store: StoreOption = None) -> None:
    """List which jobs people decided to cut from what."""
    from stockplan.actions.pinning import list_pins  # noqa: PLC0415
    from stockplan.report.json_text import json_document  # noqa: PLC0415

    found = list_pins(store or context.obj)
    if as_json:
        records = [{"job": pin.job, "source": pin.source} for pin in found]
        print(json_document({"format": "stockplan-pins", "version": 1, "pins": records}), end="")
        return
    for pin in found:
        print(f"{pin.job}={pin.source}")
    if not found:
        print("No job is pinned.")


def unpin(
    context: typer.Context,
    names: Annotated[list[str], typer.Argument(metavar="JOB[=TAG]", help="Jobs, or single pins.", show_default=False)],
    store: StoreOption = None,
) -> None:
    """Take pins out: plans to come cut these jobs from what is best."""
    from stockplan.actions.pinning import remove_pins  # noqa: PLC0415

    for pin in remove_pins(store or context.obj, names):
        print(f"{pin.job} is no longer pinned to {pin.source}.")


def cancel_job(
    context: typer.Context,
    codes: Annotated[list[str], typer.Argument(metavar="JOB", help="Codes of the jobs.", show_default=False)],
    store: StoreOption = None,
) -> None:
    """Take jobs out of the schedule; what accepted plans were to cut for them is planned anew next time."""
    from stockplan.actions.cancelling import cancel_jobs  # noqa: PLC0415
    from stockplan.domain.misfits import logged_by  # noqa: PLC0415

    for one in cancel_jobs(store or context.obj, codes):
        print(f"{one.job} is out of the schedule.")
        told = ", ".join(f"{tag} (plan {plan})" for tag, plan in one.still_to_cut)
        if told:
            first = f" before you order {', '.join(one.drafted)}" if one.drafted else ""
            print(f"Do not cut for it: {told}; plan these days again{first}.")
        if one.free:
            print(f"Free again, as nothing else is cut from it: {', '.join(one.free)}.")
        if one.dropped:
            print(f"No longer to order: {', '.join(one.dropped)}.")
        if one.coming:
            print(f"Ordered, and still on the way for no plan: {', '.join(one.coming)}.")
        if one.cut:
            print(f"{len(one.cut)} of its pieces {'is' if len(one.cut) == 1 else 'are'} cut already.")
            for command in dict.fromkeys(map(logged_by, one.cut)):
                print(f"What of them lies whole in the yard can be logged as an offcut: {command}")
