"""Telling people things beside the answer, on standard error."""

from __future__ import annotations

import sys

from stockplan.store.stored import STORED

INPUT_WRONG, SHORT, INTERRUPTED = 1, 3, 130  # exit statuses, beside 0 done and 2 wrong usage


def say(text: str) -> None:
    """Print on standard error."""
    print(text, file=sys.stderr, flush=True)


def room() -> int | None:
    """Give how wide lists may be: as the terminal that shows them; None in a file or a pipe, which take any width."""
    if not sys.stdout.isatty():
        return None
    import shutil  # noqa: PLC0415

    return shutil.get_terminal_size().columns


def fitted(text: str) -> str:
    """Break lines between words where they are wider than the terminal that shows them; elsewhere leave them."""
    width = room()
    if width is None or all(len(line) <= width for line in text.split("\n")):
        return text
    from textwrap import fill  # noqa: PLC0415

    return "\n".join(
        line
        if len(line) <= width
        else fill(line, width, subsequent_indent="    ", break_long_words=False, break_on_hyphens=False)
        for line in text.split("\n")
    )


def stored_words() -> str:
    """Tell whoever is stopped by something what is stored all the same."""
    if STORED.plan is not None:
        return f"plan {STORED.plan} is stored; show it with: stockplan show {STORED.plan}"
    return "what was done up to then is stored." if STORED.anything else "nothing was stored."
