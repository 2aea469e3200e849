"""How long the program takes to start, and to list a large yard.

`python -m stockplan.bench.start_up` runs every command in a new process ten times and prints best and median of wall
time and of processor time. Files are in the system's cache after the first run; the median hides that one.

An empty Typer program, its help printed as plainly, stands beside `stockplan --help`: the difference is the program's
own.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median

from rich.console import Console
from rich.table import Table

from stockplan.bench.weeks import SIZES, week, write_folder

PROGRAM = ("-c", "from stockplan.__main__ import main; main()")
EMPTY_PROGRAM = ("-c", "import typer; app = typer.Typer(rich_markup_mode=None); app.command()(lambda: None); app()")
STORE_VARIABLE = "STOCKPLAN_STORE"
WIDEST = 120  # characters, of a table that is read from a file


@dataclass(frozen=True, slots=True)
class Run:
    """What one process took.

    Parameters
    ----------
    wall_seconds
        From start to end.
    cpu_seconds
        Processor time, user and system, of the process and what it waited for.
    """

    wall_seconds: float
    cpu_seconds: float


@dataclass(frozen=True, slots=True)
class Measured:
    """One line of the table.

    Parameters
    ----------
    name
        What was run.
    target
        What it ought to take, as text; empty when there is none.
    runs
        At least one.
    """

    name: str
    target: str
    runs: tuple[Run, ...]

    def cells(self) -> tuple[str, ...]:
        """The line as text: name, best and median wall time, best and median processor time, target."""
        wall = [run.wall_seconds for run in self.runs]
        cpu = [run.cpu_seconds for run in self.runs]
        figures = (min(wall), median(wall), min(cpu), median(cpu))
        return (self.name, *(f"{figure:.3f}" for figure in figures), self.target)


def print_table(title: str, lines: Sequence[Measured]) -> None:
    """Print what was measured, a line for each command."""
    table = Table(title=title)
    for heading in ("command", "wall, best", "wall, median", "processor, best", "processor, median", "target"):
        table.add_column(heading, justify="left" if heading in {"command", "target"} else "right")
    for line in lines:
        table.add_row(*line.cells())
    Console(width=max(WIDEST, Console().width)).print(table)


def run_once(arguments: Sequence[str], environment: Mapping[str, str]) -> Run:
    """Run this Python with some arguments in a new process and time it; its output is thrown away.

    Parameters
    ----------
    arguments
        After the interpreter's name.
    environment
        Added to this process's own.

    Raises
    ------
    RuntimeError
        When the process ends with anything but 0; the message holds what it wrote.
    """
    with tempfile.TemporaryFile() as output:
        began = time.perf_counter()
        process = subprocess.Popen(
            [sys.executable, *arguments],
            stdin=subprocess.DEVNULL,
            stdout=output,
            stderr=subprocess.STDOUT,
            env={**os.environ, **environment},
        )
        _, status, usage = os.wait4(process.pid, 0)
        wall = time.perf_counter() - began
        process.returncode = os.waitstatus_to_exitcode(status)
        if process.returncode != 0:
            output.seek(0)
            written = output.read().decode(errors="replace")
            raise RuntimeError(f"{' '.join(arguments)} ended with {process.returncode}:\n{written}")
    return Run(wall, usage.ru_utime + usage.ru_stime)


def measure(repeats: int, folder: Path) -> list[Measured]:
    """Time `--help` of an empty program and of this one, and `stock` on a yard of 2,000 items.

    Parameters
    ----------
    repeats
        How often to run each; at least 1.
    folder
        An empty folder for the yard's spreadsheets and store.
    """
    yard = {STORE_VARIABLE: str(folder / "yard.db")}
    write_folder(week("XL", 0), folder / "sheets")
    run_once([*PROGRAM, "import", str(folder / "sheets")], yard)
    commands = (
        ("empty Typer program --help", "", [*EMPTY_PROGRAM, "--help"]),
        ("stockplan --help", "wall under 0.3 s", [*PROGRAM, "--help"]),
        (f"stockplan stock, {SIZES['XL'].items:,} items", "processor under 1 s", [*PROGRAM, "stock"]),
    )
    return [
        Measured(name, target, tuple(run_once(arguments, yard) for _ in range(repeats)))
        for name, target, arguments in commands
    ]


def main(arguments: Sequence[str] | None = None) -> None:
    """Measure how long the program takes to start and to list a large yard, in seconds."""
    parser = argparse.ArgumentParser(prog="python -m stockplan.bench.start_up", description=main.__doc__)
    parser.add_argument("--repeats", type=int, default=10, help="runs of each command; default 10")
    given = parser.parse_args(arguments)
    if given.repeats < 1:
        parser.error("--repeats must be at least 1")
    with tempfile.TemporaryDirectory() as folder:
        lines = measure(given.repeats, Path(folder))
    print_table(f"seconds, {given.repeats} runs each, Python {sys.version.split()[0]}", lines)


if __name__ == "__main__":
    main()
