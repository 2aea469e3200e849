"""Printing to a reader who may stop reading, as `| head` does, and past whom no library prints."""

from __future__ import annotations

import os
import sys
from typing import Any, TextIO, cast

from stockplan.errors import StockplanError


class PatientStream:
    """A stream that lets the program finish its work when nobody reads what it prints any more.

    Parameters
    ----------
    stream
        Standard output or standard error. Once its reader has gone, what is printed on it is dropped.
    """

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)

    def write(self, text: str) -> int:
        """Print, or drop what nobody reads."""
        try:
            return self._stream.write(text)
        except BrokenPipeError:
            self._drop()
            return len(text)
        except OSError as error:
            self._drop()
            raise StockplanError(f"what is printed cannot be written: {error.strerror}") from error

    def flush(self) -> None:
        """Send on what was printed, or drop what nobody reads."""
        try:
            self._stream.flush()
        except BrokenPipeError:
            self._drop()

    def _drop(self) -> None:
        """Let all that is printed from here on, and what still waits to be sent, go nowhere."""
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, self._stream.fileno())
        os.close(nowhere)


def print_alone() -> None:
    """Give Python's standard output a descriptor of its own, and let what libraries write to the old one go nowhere.

    HiGHS prints a line now and then whatever it is told, which would spoil a plan file on standard output.
    """
    try:
        shared = sys.stdout.fileno()
    except (AttributeError, OSError, ValueError):  # there is none, or it is no file
        return
    sys.stdout.flush()
    nowhere = os.open(os.devnull, os.O_WRONLY)
    own = open(os.dup(shared), "w", encoding=sys.stdout.encoding, errors=sys.stdout.errors)  # noqa: SIM115
    os.dup2(nowhere, shared)
    os.close(nowhere)
    sys.stdout = sys.__stdout__ = own  # type: ignore[misc]  # the latter tells how wide the terminal is


def expect_readers_to_leave() -> None:
    """Make standard output and standard error patient."""
    sys.stdout = cast(TextIO, PatientStream(sys.stdout))
    sys.stderr = cast(TextIO, PatientStream(sys.stderr))
