"""Printing to a reader who may stop reading, as `| head` does, and past whom no library prints."""

from __future__ import annotations

import codecs
import os
import sys
from typing import Any, TextIO, cast

from stockplan.cli.saying import stored_words
from stockplan.errors import StockplanError

ESCAPED = "stockplan.escaped"
LOSING = ("strict", "surrogateescape")  # how Python begins; neither prints × where there is only ASCII


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
            raise self._lost(error) from error

    def flush(self) -> None:
        """Send on what was printed, or drop what nobody reads."""
        try:
            self._stream.flush()
        except BrokenPipeError:
            self._drop()
        except OSError as error:
            raise self._lost(error) from error

    def _lost(self, error: OSError) -> StockplanError:
        self._drop()
        return StockplanError(f"what is printed cannot be written: {error.strerror}; {stored_words()}")

    def _drop(self) -> None:
        """Let all that is printed from here on, and what still waits to be sent, go nowhere."""
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, self._stream.fileno())
        os.close(nowhere)


def print_alone() -> None:
    """Give Python's standard output a descriptor of its own, and let what libraries write to the old one go nowhere.

    HiGHS prints a line now and then whatever it is told, which would spoil a plan file on standard output. Letters that
    the output's encoding lacks are printed as their numbers, so that what was stored is told all the same.
    """
    try:
        shared = sys.stdout.fileno()
    except (AttributeError, OSError, ValueError):  # there is none, or it is no file
        return
    sys.stdout.flush()
    nowhere = os.open(os.devnull, os.O_WRONLY)
    codecs.register_error(ESCAPED, _escape)
    lost = ESCAPED if sys.stdout.errors in LOSING else sys.stdout.errors
    own = open(os.dup(shared), "w", encoding=sys.stdout.encoding, errors=lost)  # noqa: SIM115
    os.dup2(nowhere, shared)
    os.close(nowhere)
    sys.stdout = sys.__stdout__ = own  # type: ignore[misc]  # the latter tells how wide the terminal is


def _escape(error: UnicodeError) -> tuple[str, int]:
    """Write letters as JSON may write them, such as \\u00d7 for ×, so that JSON stays what it was."""
    import json  # noqa: PLC0415 - only where letters are lacking

    if not isinstance(error, UnicodeEncodeError):
        raise error
    return json.dumps(error.object[error.start : error.end])[1:-1], error.end


def stand_in_for_closed_streams() -> None:
    """Let nothing be read from a standard stream that was closed, and what is printed on one go nowhere."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            stream = open(os.devnull, mode)  # noqa: SIM115 - as long as the program runs
            setattr(sys, name, stream)
            setattr(sys, f"__{name}__", stream)


def expect_readers_to_leave() -> None:
    """Make standard output and standard error patient."""
    sys.stdout = cast(TextIO, PatientStream(sys.stdout))
    sys.stderr = cast(TextIO, PatientStream(sys.stderr))
