"""An import in a process of its own, which begins when it is told to and says when everything is stored."""

from __future__ import annotations

import multiprocessing
import time
from contextlib import suppress
from dataclasses import replace
from multiprocessing.connection import Connection
from pathlib import Path

from small_yard import G30, OFFCUT, take_in

import stockplan.store.migrate  # noqa: F401  loaded before it is told to begin
from stockplan.store.session import open_store
from stockplan.store.sheets import SheetContents

ITEMS = 2000
# What is slow to load is loaded once, by the process that all the others are split off from.
CONTEXT = multiprocessing.get_context("forkserver" if "forkserver" in multiprocessing.get_all_start_methods() else None)
CONTEXT.set_forkserver_preload(["stockplan.store.migrate", "stockplan.store.importing"])


def many() -> SheetContents:
    """An import that takes a moment."""
    return SheetContents(
        products=(G30,), stock=tuple(replace(OFFCUT, tag=f"C-{n}", product="G30") for n in range(ITEMS))
    )


def import_when_told(path: str, talk: Connection) -> None:
    contents = many()
    talk.send("ready")
    talk.recv()
    with open_store(path, create=True) as store:
        take_in(store, contents)
    talk.send("stored")


class Child:
    """A process that will import when told to."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.talk, theirs = CONTEXT.Pipe()
        self.process = CONTEXT.Process(target=import_when_told, args=(str(path), theirs), daemon=True)
        self.process.start()
        theirs.close()  # so that its end is seen here

    def begin(self) -> None:
        assert self.talk.recv() == "ready"
        self.talk.send("go")

    def seconds(self) -> float:
        """Let it import, and time that."""
        self.begin()
        began = time.monotonic()
        assert self.talk.recv() == "stored"
        took = time.monotonic() - began
        self.process.join()
        assert self.process.exitcode == 0
        return took

    def kill_after(self, seconds: float) -> bool:
        """Kill it in the middle, and say whether it had said that the import was stored."""
        self.begin()
        time.sleep(seconds)
        self.process.kill()
        self.process.join()
        with suppress(EOFError, ConnectionResetError):  # killed before it said anything, or before it heard anything
            return bool(self.talk.recv() == "stored")
        return False
