"""The commands that keep copies of the store."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from stockplan.cli.options import StoreOption
from stockplan.cli.saying import say

if TYPE_CHECKING:
    from stockplan.actions.backing_up import Ending


def backup(
    context: typer.Context,
    folder: Annotated[
        Path | None,
        typer.Argument(help="Where to put the copy. Default: a folder `copies` beside the store.", show_default=False),
    ] = None,
    store: StoreOption = None,
) -> None:
    """Keep a checked copy of the store, named by date and time; others may go on working."""
    from stockplan.actions.backing_up import back_up  # noqa: PLC0415

    made = back_up(store or context.obj, folder)
    print(f"Wrote {made.path}, checked; it ends with {_words(made.ending)}.")
    say("A copy on the same disk is lost with that disk: keep one elsewhere too.")


def restore(
    context: typer.Context,
    copy: Annotated[Path, typer.Argument(metavar="FILE", help="The copy, as `backup` wrote it.", show_default=False)],
    store: StoreOption = None,
) -> None:
    """Put a copy in the place of the store; what was there is kept beside it."""
    from stockplan.actions.backing_up import put_back  # noqa: PLC0415

    done = put_back(store or context.obj, copy)
    print(f"The store {done.store} is that of {copy} now, checked; it ends with {_words(done.ending)}.")
    if done.kept is not None:
        was = f"it ended with {_words(done.kept_ending)}" if done.kept_ending else "it cannot be read"
        print(f"What was there before is kept as {done.kept}; {was}.")
    if not done.sure:
        say(f"{copy.name} has lost the check digits of its name, so a changed word in it would not have been noticed.")


def _words(ending: Ending) -> str:
    if ending.at is None:
        return "an empty ledger"
    from stockplan.report.words import here  # noqa: PLC0415

    return f"movement {ending.number} of {here(ending.at):%Y-%m-%d %H:%M}"
