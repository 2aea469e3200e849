"""Cutting on the command line: the sheet of one roll, the record of what came off, and the cheapest mend."""

from __future__ import annotations

import re
import shlex
import sys
from collections.abc import Collection
from typing import TYPE_CHECKING, Annotated, NamedTuple

import typer

from stockplan.cli.cautions import tell_new_bay, tell_small
from stockplan.cli.options import LeastSize, StoreOption, TodayOption, read_size, whole, with_decimals
from stockplan.cli.saying import say
from stockplan.cli.weights import tell_heavy
from stockplan.domain.units import parse_length, size
from stockplan.errors import UnitError

if TYPE_CHECKING:
    from stockplan.actions.cutting_sheets import CutDone, Sheet
    from stockplan.domain.came_off import CameOff, PieceName
    from stockplan.domain.plan import PlannedLeftover

BIN = "bin"


class TypedPiece(NamedTuple):
    """A piece as it is named."""

    job: str
    strip: str
    number: int


class TypedLeftover(NamedTuple):
    """A leftover's number and true size, mm."""

    number: int
    width_mm: int
    length_mm: int


def read_piece(text: str) -> TypedPiece:
    """Read a piece such as J104/A/1: job, strip and number; without a number the first.

    Jobs and strips may have slashes in their names; where one ends is then seen by what is on the sheet.
    """
    name, _, number = text.strip().rpartition("/")
    if "/" not in name or not re.fullmatch(r"[0-9]{1,9}", number):
        name, number = text.strip(), "1"
    job, _, strip = name.rpartition("/")
    if not job or not strip:
        raise typer.BadParameter(f"{text!r} is not a piece; write job/strip/number, such as J104/A/1")
    return TypedPiece(job, strip, int(number))


def read_pieces(answer: str, names: Collection[PieceName]) -> list[PieceName]:
    """Read pieces as somebody typed them one after another, parted by commas or blanks, which names may have too."""
    from stockplan.domain.came_off import named, piece_words  # noqa: PLC0415

    whole = {piece_words(name) for name in names}
    typed: list[str] = []
    for part in [answer] if answer.strip() in whole else answer.split(","):
        typed += [part] if part.strip() in whole else part.split()
    found = [named(read_piece(word), names) for word in typed]
    for piece in found:
        if piece not in names:
            there = ", ".join(map(piece_words, sorted(names)))
            raise typer.BadParameter(f"no piece {piece_words(piece)} is on this sheet; it has {there}")
    return found


def read_leftover(text: str) -> TypedLeftover:
    """Read the number and true size of a leftover such as 2=1.2x3.4."""
    number, equals, measured = text.partition("=")
    if not equals or not re.fullmatch(r"[0-9]{1,9}", number.strip()):
        raise typer.BadParameter(f"{text!r} is not a leftover; write number=across x along, such as 2=1.2x3.4")
    found = read_size(measured)
    return TypedLeftover(int(number), found.width_mm, found.length_mm)


def read_metres(text: str) -> int:
    """Read a length, or refuse it as wrong usage."""
    try:
        return parse_length(text)
    except UnitError as error:
        raise typer.BadParameter(str(error)) from error


def cut(  # noqa: PLR0913, PLR0917 - one a thing that may come off other than planned
    context: typer.Context,
    tag: Annotated[str, typer.Argument(metavar="TAG", help="What is cut.", show_default=False)],
    done: Annotated[
        bool, typer.Option("--done", help="Record it as cut; what is not named came off as planned.")
    ] = False,
    spoiled: Annotated[
        list[TypedPiece] | None,
        typer.Option(
            metavar="JOB/STRIP/NO", parser=read_piece, help="A piece that came out unfit.", show_default=False
        ),
    ] = None,
    leftover: Annotated[
        list[TypedLeftover] | None,
        typer.Option(
            metavar="NO=ACROSSxALONG", parser=read_leftover, help="True size of a leftover.", show_default=False
        ),
    ] = None,
    discard: Annotated[
        list[int] | None,
        typer.Option(
            "--bin", metavar="NO", parser=whole(1, 999), help="A leftover not worth keeping.", show_default=False
        ),
    ] = None,
    tail: Annotated[
        int | None,
        typer.Option(metavar="METRES", parser=read_metres, help="True length left on the roll.", show_default=False),
    ] = None,
    keep: Annotated[
        list[LeastSize] | None,
        typer.Option(
            metavar="ACROSSxALONG",
            parser=read_size,
            help="A further piece to keep, such as what is left of a spoiled one.",
            show_default=False,
        ),
    ] = None,
    bay: Annotated[
        str, typer.Option(help="Where what is kept lies now. Default: where the roll lay.", show_default=False)
    ] = "",
    as_typed: Annotated[
        bool, typer.Option("--as-typed", help="Across and along of leftovers are not exchanged.")
    ] = False,
    mend_seconds: Annotated[
        float,
        typer.Option("--seconds", metavar="SECONDS", parser=with_decimals(0.1), help="How long to look for a mend."),
    ] = 5.0,
    today: TodayOption = None,
    store: StoreOption = None,
) -> None:
    """Show what is cut from one roll, part roll or offcut; with --done record it as cut."""
    from stockplan.actions.cutting_sheets import read_sheet, record_cut  # noqa: PLC0415
    from stockplan.domain.came_off import CameOff  # noqa: PLC0415

    where = store or context.obj
    numbers = [true.number for true in leftover or ()]
    if twice := sorted({number for number in numbers if numbers.count(number) > 1}):
        raise typer.BadParameter(f"given twice: {', '.join(map(str, twice))}", param_hint="--leftover")
    off = CameOff(
        spoiled=frozenset((piece.job, piece.strip, piece.number) for piece in spoiled or ()),
        sizes={true.number: (true.width_mm, true.length_mm) for true in leftover or ()},
        binned=frozenset(discard or ()),
        tail_mm=tail,
        more=tuple((found.width_mm, found.length_mm) for found in keep or ()),
        as_typed=as_typed,
    )
    seen = None
    if not done:
        sheet = read_sheet(where, tag)
        _show(sheet)
        if not _someone_answers():
            if off != CameOff() or bay:
                raise typer.BadParameter("what came off is recorded with --done; nothing was stored")
            return
        asked = _ask(sheet, off)
        if asked is None:
            print("Nothing was recorded.")
            return
        off, seen = asked, sheet.standing
    found = record_cut(where, tag, off, bay, seen)
    _tell(where, found)
    if bay and found.back:
        tell_new_bay(where, bay, [item.tag for item in found.back])
    if found.missing:
        from stockplan.cli.mends import tell_mend  # noqa: PLC0415

        tell_mend(where, found.missing, mend_seconds, today)


def _someone_answers() -> bool:
    """Whether somebody reads the sheet and can answer; one that goes to a printer or a file is not cut yet."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def _show(sheet: Sheet) -> None:
    from stockplan.report.cut_sheet import SheetFacts, cut_sheet  # noqa: PLC0415

    print(cut_sheet(sheet.standing, SheetFacts(sheet.jobs, sheet.weight_g_m2, sheet.warnings)))


def _ask(sheet: Sheet, off: CameOff) -> CameOff | None:
    """Ask what came off, one question a leftover; None when it is not to be recorded."""
    from dataclasses import replace  # noqa: PLC0415

    from stockplan.domain.came_off import numbered, piece_words  # noqa: PLC0415
    from stockplan.report.steps import leftover_words  # noqa: PLC0415

    if not typer.confirm("\nIs it cut?", default=False):
        return None
    names = {(piece.job, piece.strip, piece.number) for piece in sheet.standing.cuts.pieces()}

    question = f"Spoiled pieces, such as {piece_words(min(names, default=('J104', 'A', 1)))} (none: Enter)"
    answer = typer.prompt(question, default="", show_default=False, value_proc=lambda text: read_pieces(text, names))
    spoiled, as_typed = {*off.spoiled, *answer}, off.as_typed
    sizes, binned = dict(off.sizes), set(off.binned)
    for number, left in numbered(sheet.standing):
        if number in sizes or number in binned:
            continue
        question = f"{number}: {leftover_words(left)} (as planned: Enter; else its size, or bin)"
        answer = typer.prompt(question, default="", show_default=False, value_proc=_size_or_bin)
        if answer == BIN:
            binned.add(number)
        elif answer:
            sizes[number], meant = _which_way(left, answer)
            as_typed = as_typed or meant
    return replace(off, spoiled=frozenset(spoiled), sizes=sizes, binned=frozenset(binned), as_typed=as_typed)


def _which_way(left: PlannedLeftover, typed: tuple[int, int]) -> tuple[tuple[int, int], bool]:
    """Ask which way round a leftover is, where it looks typed along before across; whether it is meant as typed."""
    from stockplan.domain.came_off import looks_turned  # noqa: PLC0415

    odd, turned = looks_turned(left, typed), typed[::-1]
    if not odd:
        return typed, False
    say(f"{odd[0].upper()}{odd[1:]}.")
    if typer.confirm(f"Is it {size(*turned)} m, across × along?", default=True):
        return turned, False
    return typed, True


def _size_or_bin(answer: str) -> tuple[int, int] | str:
    """Read what is said of a leftover: its size, bin, or nothing; a word that is neither is asked for again."""
    if answer.strip().lower() in {"", BIN}:
        return answer.strip().lower()
    true = read_size(answer)
    return true.width_mm, true.length_mm


def _tell(where: str | None, found: CutDone) -> None:
    from stockplan.report.cut_sheet import missing_words  # noqa: PLC0415
    from stockplan.report.words import counted, form_words  # noqa: PLC0415

    sound = [piece for piece in found.outcome.pieces if not piece.spoiled]
    print(f"{found.standing.item.tag} is cut: {counted(len(sound), 'piece')}.")
    for item in found.back:
        print(
            f"Write {item.tag} on the {form_words(item.form)} of {size(item.width_mm, item.length_mm)} m, "
            f"batch {item.batch_key}, {f'bay {item.bay}' if item.bay else 'bay not recorded'}."
        )
        tell_small(item)
    tell_heavy(where, [item.tag for item in found.back])
    if found.back and found.condition:
        was = f"{found.standing.item.tag} was {found.condition}, and so is what is kept of it by the record"
        print(f"{was}; where it is not: stockplan condition TAG sound")
    if found.back:
        tags = shlex.join(item.tag for item in found.back)
        whose = "Its label" if len(found.back) == 1 else "Their labels"
        print(f"{whose}: stockplan labels {tags} --file labels.pdf")
    if found.outcome.binned_mm2:
        from stockplan.domain.units import square_metres  # noqa: PLC0415

        print(f"Binned: {square_metres(found.outcome.binned_mm2)} m².")
    for told in found.useless:
        say(f"CAREFUL: {told}")
    for code in found.finished:
        print(f"{code} is cut in full.")
    if found.plan_done:
        print(f"Plan {found.standing.plan} is done.")
    for code, missing in found.missing.items():
        say(f"SHORT: {missing_words(code, missing)}.")
