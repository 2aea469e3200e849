"""The commands for one thing in the yard: it comes, is measured, moved, held, written off; and a slip is undone."""

from __future__ import annotations

import sys
from collections.abc import Collection, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING, Annotated

import typer

from stockplan.cli.cautions import tell_alike_tag, tell_new_bay, tell_odd_condition, tell_odd_cost, tell_other_product
from stockplan.cli.options import LeastSize, StoreOption, read_date, read_size, whole
from stockplan.cli.saying import say
from stockplan.cli.weights import tell_weight
from stockplan.domain.as_typed import argument
from stockplan.domain.ledger_movements import CONDITIONS, SOUND, condition_word
from stockplan.domain.stock import StockForm, StockItem
from stockplan.domain.units import parse_money, size
from stockplan.errors import UnitError

if TYPE_CHECKING:
    from stockplan.actions.yard_work import Done

TagArgument = Annotated[str, typer.Argument(metavar="TAG", help="As written on the thing.", show_default=False)]
WhyOption = Annotated[str, typer.Option("--why", metavar="TEXT", help="A remark for the record.", show_default=False)]


def read_why(text: str) -> str:
    """Take a reason, or refuse an empty one as wrong usage."""
    if not text.strip():
        raise typer.BadParameter("it is empty; say why in a few words, for the record")
    return text


WhyNeeded = Annotated[
    str,
    typer.Option("--why", metavar="TEXT", parser=read_why, help="Why, for the record.", show_default=False),
]


def read_money(text: str) -> int:
    """Read an amount, or refuse it as wrong usage."""
    try:
        return parse_money(text)
    except UnitError as error:
        raise typer.BadParameter(str(error)) from error


SizeArgument = Annotated[
    LeastSize,
    typer.Argument(
        metavar="ACROSSxALONG",
        parser=read_size,
        help="As measured, in metres: across the pile by along it, such as 3.97x24.85.",
        show_default=False,
    ),
]


def receive(  # noqa: PLR0913, PLR0917 - one a fact about the thing
    context: typer.Context,
    tag: TagArgument,
    measured: SizeArgument,
    product: Annotated[str, typer.Option(help="Its product.", show_default=False)],
    bay: Annotated[str, typer.Option(help="Where it lies now.", show_default=False)],
    cost: Annotated[
        int, typer.Option(metavar="AMOUNT", parser=read_money, help="What was paid per m².", show_default=False)
    ],
    batch: Annotated[str, typer.Option(help="Its dye batch. Default: unknown.", show_default=False)] = "",
    form: Annotated[StockForm, typer.Option(help="How it lies there.")] = StockForm.ROLL,
    delivery: Annotated[str, typer.Option(help="Number of the delivery note.", show_default=False)] = "",
    as_typed: Annotated[bool, typer.Option("--as-typed", help="Across and along are not exchanged.")] = False,
    why: WhyOption = "",
    store: StoreOption = None,
) -> None:
    """Take a thing into the yard that no order announced."""
    from stockplan.actions.receiving import looks_turned  # noqa: PLC0415
    from stockplan.actions.receiving import receive as receive_item  # noqa: PLC0415

    size_mm = (measured.width_mm, measured.length_mm)
    if not as_typed and sys.stdin.isatty():
        size_mm, as_typed = _which_way(looks_turned(store or context.obj, product, size_mm), size_mm)
    item = StockItem(tag, product, batch, form, *size_mm, bay, cost)
    done = receive_item(store or context.obj, item, why, delivery, as_typed=as_typed)
    _tell(done, f"received, {_size(item)}, bay {bay}")
    tell_weight(store or context.obj, tag)
    tell_alike_tag(store or context.obj, tag)
    tell_new_bay(store or context.obj, bay, [tag])
    tell_other_product(store or context.obj, item)
    tell_odd_cost(store or context.obj, item)


def measure(
    context: typer.Context,
    tag: TagArgument,
    measured: Annotated[
        LeastSize | None,
        typer.Argument(
            metavar="ACROSSxALONG",
            parser=read_size,
            help="As measured, in metres: across the pile by along it, such as 3.97x24.85.",
            show_default=False,
        ),
    ] = None,
    cost: Annotated[
        int | None,
        typer.Option(metavar="AMOUNT", parser=read_money, help="What was really paid per m².", show_default=False),
    ] = None,
    as_typed: Annotated[bool, typer.Option("--as-typed", help="Across and along are not exchanged.")] = False,
    why: WhyOption = "",
    store: StoreOption = None,
) -> None:
    """Put right what is on record of a thing's size, or of what it cost."""
    from stockplan.actions.receiving import measure as measure_item  # noqa: PLC0415

    if measured is None and cost is None:
        raise typer.BadParameter("give what was measured, such as 3.97x24.85, or --cost")
    size_mm = (measured.width_mm, measured.length_mm) if measured else None
    if size_mm and not as_typed and sys.stdin.isatty():
        size_mm, as_typed = _asked(store or context.obj, tag, size_mm, cost)
    done = measure_item(store or context.obj, tag, size_mm, cost, why, as_typed=as_typed)
    if done.before is None or done.after is None or done.before == done.after:
        _tell(done, "is as recorded; seen today")
    elif cost is not None and size_mm is None:
        _tell(done, "has its new cost")
    else:
        _tell(done, f"was {_size(done.before)}, is {_size(done.after)} now")
        if done.plan is not None:
            tell_endangered(store or context.obj, [tag])
    if cost is not None and done.after is not None:
        tell_odd_cost(store or context.obj, done.after)


def tell_endangered(where: str | None, tags: list[str]) -> None:
    """Say which jobs cannot be cut as planned from things that were measured again."""
    from stockplan.actions.cutting_sheets import cannot_give  # noqa: PLC0415

    dangers = cannot_give(where, tags)
    for danger in dangers:
        say(f"ENDANGERED: {danger}.")
    if dangers:
        say("What to do: plan these days again; what is missing is then planned beside the rest.")


def tell_unsuited(where: str | None, jobs: Collection[str], tags: Collection[str] = ()) -> None:
    """Say what accepted plans cannot cut as they are for jobs, or from things, that were changed."""
    from stockplan.actions.unsuited import no_longer_suits  # noqa: PLC0415

    dangers = no_longer_suits(where, jobs, tags)
    for danger in dangers:
        say(f"ENDANGERED: {danger}.")
    if dangers:
        say("What to do: plan these days again; what no longer suits is then planned anew.")


def tell_lost(cut_from: Mapping[str, Sequence[str]]) -> None:
    """Say which jobs were to be cut from things that are written off, by the things."""
    for tag, jobs in cut_from.items():
        for code in jobs:
            say(f"ENDANGERED: {code}: {tag}, from which it was to be cut, is written off.")
    if any(cut_from.values()):
        say("What to do: plan these days again; what is missing is then planned beside the rest.")


def _asked(where: str | None, tag: str, size_mm: tuple[int, int], cost: int | None) -> tuple[tuple[int, int], bool]:
    """Ask which way round it is, where across and along look exchanged; say whether that was asked."""
    from stockplan.actions.receiving import exchanged_sides  # noqa: PLC0415

    return _which_way(exchanged_sides(where, tag, size_mm, cost), size_mm)


def _which_way(odd: str, size_mm: tuple[int, int]) -> tuple[tuple[int, int], bool]:
    """Ask which way round a thing is, where something is odd about it; say whether that was asked."""
    if not odd:
        return size_mm, False
    say(f"{odd[0].upper()}{odd[1:]}.")
    width_mm, length_mm = size_mm
    if typer.confirm(f"Is it {size(length_mm, width_mm)} m, across × along?", default=True, err=True):
        return (length_mm, width_mm), True
    return size_mm, True


def move(
    context: typer.Context,
    tag: TagArgument,
    bay: Annotated[str, typer.Argument(metavar="BAY", help="Where it lies now.", show_default=False)],
    why: WhyOption = "",
    store: StoreOption = None,
) -> None:
    """Say in which bay a thing lies now."""
    from stockplan.actions.yard import move as move_item  # noqa: PLC0415

    done = move_item(store or context.obj, tag, bay, why)
    before = done.before.bay if done.before is not None else ""
    _tell(done, f"lies in {bay}; seen today" if before == bay else f"moved from {before or 'nowhere'} to {bay}")
    tell_weight(store or context.obj, tag)
    tell_new_bay(store or context.obj, bay, [tag])


def condition(
    context: typer.Context,
    tag: TagArgument,
    word: Annotated[
        str, typer.Argument(metavar="WORD", help=f"A word such as {', '.join(CONDITIONS)}.", show_default=False)
    ],
    why: WhyOption = "",
    store: StoreOption = None,
) -> None:
    """Say in what condition a thing is."""
    from stockplan.actions.yard import set_condition  # noqa: PLC0415

    done, said = set_condition(store or context.obj, tag, word, why), condition_word(word)
    _tell(done, f"is {said}")
    tell_odd_condition(word, [tag])
    if done.plan is not None and said != SOUND:
        say(f"CAREFUL: plan {done.plan} is to cut it; its sheet: stockplan cut {argument(tag)}")


def write_off(context: typer.Context, tag: TagArgument, why: WhyNeeded, store: StoreOption = None) -> None:
    """Say that a thing is gone for good: ruined, lost, given away."""
    from stockplan.actions.cutting_sheets import jobs_cut_from  # noqa: PLC0415
    from stockplan.actions.yard import write_off as write_off_item  # noqa: PLC0415

    where = store or context.obj
    cut_from = jobs_cut_from(where, [tag])
    done = write_off_item(where, tag, why)
    lost = f"; plan {done.plan} had it reserved" if done.plan is not None else ""
    if done.hold is not None:
        lost += f"; it was held for {done.hold.quote} until {done.hold.until}"
    _tell(done, f"{_size(done.before) if done.before else ''} written off{lost}")
    tell_lost(cut_from)


def hold(
    context: typer.Context,
    tag: TagArgument,
    quote: Annotated[str, typer.Argument(metavar="QUOTE", help="The quote it is kept for.", show_default=False)],
    until: Annotated[
        date,
        typer.Option(metavar="DATE", parser=read_date, help="The last day it is kept; then it is free by itself."),
    ],
    why: WhyOption = "",
    store: StoreOption = None,
) -> None:
    """Keep a thing for a quote up to a day, so that no plan takes it."""
    from stockplan.actions.yard import hold as hold_item  # noqa: PLC0415

    _tell(hold_item(store or context.obj, tag, quote, until, why), f"held for {quote} until {until}")


def free(context: typer.Context, tag: TagArgument, why: WhyOption = "", store: StoreOption = None) -> None:
    """Keep a thing no longer for its quote."""
    from stockplan.actions.yard import free as free_item  # noqa: PLC0415

    _tell(free_item(store or context.obj, tag, why), "held no longer")


def reverse(
    context: typer.Context,
    number: Annotated[
        int,
        typer.Argument(
            metavar="NUMBER", parser=whole(1), help="Of the movement, as `history` shows it.", show_default=False
        ),
    ],
    why: WhyNeeded,
    store: StoreOption = None,
) -> None:
    """Undo a movement made by mistake, a cut with all that came off it, while nothing later of it stands."""
    from stockplan.actions.reversing import reverse as reverse_movement  # noqa: PLC0415
    from stockplan.actions.unsuited import too_many  # noqa: PLC0415

    done = reverse_movement(store or context.obj, number, why)
    written = ", ".join(map(str, done.numbers))
    kind = done.movement.kind.value.replace("_", " ")
    print(f"{done.movement.tag}: movement {number} ({kind}) reversed (movement {written}).")
    came_off = dict.fromkeys(one.tag for one in reversed(done.others) if one.tag != done.movement.tag)
    if came_off:
        print(f"Take these tags off again, they are void: {', '.join(came_off)}.")
    if done.plan is not None:
        print(f"It is reserved for plan {done.plan} again.")
        for many in too_many(store or context.obj, done.movement.tag):
            say(f"CAREFUL: {many}; plan its days again before cutting for it.")
    if done.lost is not None:
        print(f"It is reserved for plan {done.lost} no longer, which was to cut it: plan its days again.")
    if done.movement.kind.value == "corrected":
        tell_endangered(store or context.obj, [done.movement.tag])
    if done.order:
        print(f"Order {done.order} is to come again; see: stockplan orders --all")


def _tell(done: Done, what: str) -> None:
    numbers = ", ".join(map(str, done.numbers))
    print(f"{done.tag}: {what} (movement {numbers}).")


def _size(item: StockItem) -> str:
    return f"{size(item.width_mm, item.length_mm)} m"
