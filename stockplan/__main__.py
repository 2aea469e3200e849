"""Starting the program, so that Ctrl-C ends it without a traceback from its first moment on."""

from __future__ import annotations

import sys

INTERRUPTED = 130


def main() -> None:
    """Load the command line and run it."""
    try:
        from stockplan import cli  # noqa: PLC0415  it takes a tenth of a second, in which Ctrl-C may be pressed

        cli.main()
    except KeyboardInterrupt:
        sys.exit(INTERRUPTED)


if __name__ == "__main__":
    main()
