"""Starting the program, so that Ctrl-C ends it without a traceback from its first moment on."""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from typing import NoReturn

from stockplan.errors import StockplanError

INPUT_WRONG, INTERRUPTED = 1, 130


def main() -> None:
    """Load the command line and run it."""
    try:
        from stockplan import cli  # noqa: PLC0415  it takes a tenth of a second, in which Ctrl-C may be pressed

        cli.main()
    except KeyboardInterrupt:
        _end(INTERRUPTED)
    except SystemExit as end:
        _end(end.code)


def _end(status: str | int | None) -> NoReturn:
    """End the program with a status, at once when what was written has gone out.

    Python would take itself apart first. That takes as long as a quick command's work, and aborts the process where an
    engine that a search had to leave at work (`stockplan/cutting/beside.py`) comes back meanwhile.
    """
    if isinstance(status, str):
        sys.exit(status)
    with suppress(OSError, ValueError, AttributeError):  # no stream: Python says so in its own way
        try:
            sys.stdout.flush()
        except StockplanError as error:
            print(f"stockplan: {error}", file=sys.stderr)
            status = status or INPUT_WRONG
        sys.stderr.flush()
        os._exit(status or 0)
    sys.exit(status)


if __name__ == "__main__":
    main()
