"""Starting the program, so that Ctrl-C ends it without a traceback from its first moment on."""

from __future__ import annotations

import os
import sys
import threading
from typing import NoReturn

INTERRUPTED = 130


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
    """End the program with a status.

    An engine that a search had to leave at work (`stockplan/cutting/beside.py`) may come back while Python takes itself
    apart, which aborts the process. Then it ends at once, after what was written has gone out.
    """
    if isinstance(status, int) and any(t.daemon for t in threading.enumerate()):
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(status)
    sys.exit(status)


if __name__ == "__main__":
    main()
