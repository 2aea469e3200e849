"""Wrong usage: everything that is wrong with what was typed after a command's name, all of it at once."""

from __future__ import annotations

from typing import Any

import typer
from typer.core import TyperCommand

from stockplan.errors import StockplanError, StoreDamaged


class _Several(typer.BadParameter):
    """Several things that are wrong, each a line."""

    def format_message(self) -> str:
        """Give the lines as they are."""
        return self.message


class Command(TyperCommand):
    """A command that reads all that was typed before it refuses any of it."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Read what was typed after the command's name."""
        typed = list(args)
        try:
            return super().parse_args(ctx, args)
        except typer.BadParameter as first:
            told = [first.format_message(), *self._refusals(ctx, typed)]
            if len(dict.fromkeys(told)) == 1:
                raise
            raise _Several("\n".join(dict.fromkeys(told)), ctx) from first

    def invoke(self, ctx: Any) -> Any:
        """Do what the command does; where it fails on a store that is damaged, that is told and no traceback shown."""
        try:
            return super().invoke(ctx)
        except (StockplanError, OSError, UnicodeEncodeError, typer.Abort, typer.BadParameter, typer.Exit):
            raise
        except Exception as error:
            from stockplan.actions.looking import damage  # noqa: PLC0415

            if found := damage(ctx.params.get("store") or ctx.obj):
                raise StoreDamaged(found) from error
            raise  # the program is wrong, not the store

    def _refusals(self, ctx: Any, typed: list[str]) -> list[str]:
        """Say what each argument and option has against what was typed for it."""
        values, _, _ = self.make_parser(ctx).parse_args(args=typed)
        found = []
        for parameter in self.get_params(ctx):
            if parameter.is_eager:  # such as --help, which does something at once
                continue
            try:
                parameter.handle_parse_result(ctx, values, [])
            except typer.BadParameter as error:
                found.append(error.format_message())
        return found
