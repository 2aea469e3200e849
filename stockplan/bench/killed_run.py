"""One command in a process of its own, which says when it writes and can be killed at any moment."""

from __future__ import annotations

import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from pathlib import Path

# The program, which also says when it begins to write and when it has written.
PROGRAM = """
import sys
import stockplan.store.quick, stockplan.store.session

def telling(do, word):
    def done(self, **said):
        result = do(self, **said)
        print(word, file=sys.stderr, flush=True)
        return result
    return done

for work in (stockplan.store.quick.QuickWork, stockplan.store.session.UnitOfWork):
    work.__enter__ = telling(work.__enter__, "begun")
    work.commit = telling(work.commit, "committed")
from stockplan.__main__ import main
main()
"""


class Run:
    """One command in a process of its own.

    Parameters
    ----------
    store
        Path of the store.
    arguments
        As typed after the store.
    """

    def __init__(self, store: Path, arguments: Sequence[str]) -> None:
        self.began = time.monotonic()
        self.process = subprocess.Popen(
            [sys.executable, "-c", PROGRAM, "--store", str(store), *arguments],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        self.told = "Stored:" if "count" in arguments else ""  # it tells what differs before it writes
        self.output = ""
        self.messages = ""
        self.begun = threading.Event()
        self.begun_at = self.committed_at = 0.0
        self.readers = [threading.Thread(target=read) for read in (self._read_output, self._read_messages)]
        for reader in self.readers:  # a full pipe would hold the program up
            reader.start()

    def _read_output(self) -> None:
        self.output = self.process.stdout.read() if self.process.stdout else ""

    def _read_messages(self) -> None:
        for line in self.process.stderr or ():
            if line == "begun\n":
                self.begun_at = self.begun_at or time.monotonic()
                self.begun.set()
            elif line == "committed\n":
                self.committed_at = time.monotonic()
            else:
                self.messages += line
        self.begun.set()

    def end(self) -> int:
        """Wait for the end and give the exit status."""
        status = self.process.wait(timeout=120)
        for reader in self.readers:
            reader.join()
        for pipe in (self.process.stdout, self.process.stderr):
            if pipe is not None:
                pipe.close()
        return status

    def kill_after(self, seconds: float, of_writing: bool) -> bool:
        """Kill it so long after its start, or after it began to write; say whether it had told its result by then."""
        if of_writing:
            self.begun.wait(timeout=120)
            time.sleep(seconds)
        else:
            time.sleep(max(0.0, self.began + seconds - time.monotonic()))
        self.process.kill()
        self.end()
        return self.told in self.output if self.told else bool(self.output.strip())
