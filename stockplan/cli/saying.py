"""Telling people things beside the answer, on standard error."""

from __future__ import annotations

import sys

INPUT_WRONG, SHORT, INTERRUPTED = 1, 3, 130  # exit statuses, beside 0 done and 2 wrong usage


def say(text: str) -> None:
    """Print on standard error."""
    print(text, file=sys.stderr, flush=True)
