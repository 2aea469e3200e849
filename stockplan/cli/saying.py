"""Telling people things beside the answer, on standard error."""

from __future__ import annotations

import sys


def say(text: str) -> None:
    """Print on standard error."""
    print(text, file=sys.stderr, flush=True)
