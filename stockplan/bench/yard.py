"""How long yard commands take on a large yard with a long past.

`python -m stockplan.bench.yard` makes a store of 20,000 items and 500,000 movements and runs each yard command in a new
process several times, beside an empty Typer program. `--help` of both stands for what no command can do without.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from collections.abc import Iterator, Sequence
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from rich.console import Console
from rich.table import Table

from stockplan.bench.start_up import EMPTY_PROGRAM, PROGRAM, STORE_VARIABLE, Measured, run_once
from stockplan.domain.ledger import (
    CutPiece,
    Entry,
    Yard,
    binned,
    counted,
    cut,
    held,
    moved,
    received,
    reserved,
    returned,
)
from stockplan.domain.stock import Product, StockForm, StockItem

ITEMS, MOVEMENTS, BAYS = 20_000, 500_000, 200
TARGET = "under 0.4 s"
FIRST_DAY = datetime(2020, 1, 6, 7, tzinfo=UTC)
PRODUCTS = tuple(Product(f"G{number}", "grass", 2350) for number in range(20, 40))


def past(items: int, movements: int) -> Iterator[Entry]:
    """Invent a past: rolls come and are cut, what is left comes back, and the yard is counted and moved about.

    Parameters
    ----------
    items
        How many things lie in the yard in the end.
    movements
        How many movements there are in the end; at least 12 for each item.
    """
    written = 0
    for number in range(items):
        tag, product = f"R-{number:05}", PRODUCTS[number % len(PRODUCTS)].code
        roll = StockItem(tag, product, f"B{number % 300}", StockForm.ROLL, 4000, 25_000, f"F{number % BAYS}", 1060)
        piece = CutPiece(f"J{number % 5000}", "A", number // 5000 + 1, 4000, 12_000)
        child, size_mm = f"C-{number:05}", (4000, 6000 + number % 5000)
        rest = roll.area_mm2 - piece.area_mm2 - size_mm[0] * size_mm[1]
        yield received(roll, "delivered", delivery=f"D-{number // 8}")
        yield reserved(tag, number // 30 + 1, "accepted")
        yield cut(tag, [piece], "cut", number // 30 + 1)
        yield returned(child, tag, StockForm.OFFCUT, size_mm, roll.bay, "kept", number // 30 + 1)
        yield binned(tag, rest, "too small", number // 30 + 1)
        written += 5
    number = 0
    while written < movements - items // 10:
        tag = f"C-{number % items:05}"
        yield moved(tag, f"F{number % BAYS}", "tidied") if number % 5 == 0 else counted(tag, "stocktake")
        number, written = number + 1, written + 1
    for number in range(0, items, 10):
        tag = f"C-{number:05}"
        yield reserved(tag, 9000, "accepted") if number % 20 else held(tag, "Q-7", date(2099, 1, 1), "asked")


def make_store(where: str, items: int, movements: int) -> None:
    """Write a store with that past, by the thousand; the tables derived from it are brought up at the end."""
    from stockplan.store.derived_rows import write_derived  # noqa: PLC0415
    from stockplan.store.importing import import_contents  # noqa: PLC0415
    from stockplan.store.ledger_rows import append  # noqa: PLC0415
    from stockplan.store.session import open_store  # noqa: PLC0415
    from stockplan.store.sheets import SheetContents  # noqa: PLC0415

    yard, entered = Yard(), []
    with open_store(where, create=True) as store, store.unit_of_work() as work:
        import_contents(work, SheetContents(products=PRODUCTS), "bench")
        for number, entry in enumerate(past(items, movements), start=1):
            movement = entry.enter(number, FIRST_DAY + timedelta(minutes=6 * number), "bench")
            yard.apply(movement)
            entered.append(movement)
            if len(entered) == 10_000:
                append(work.rows, entered)
                entered = []
        append(work.rows, entered)
        write_derived(work.rows, Yard(), yard, yard.items.keys() | yard.gone.keys())
        work.commit()


Command = tuple[str, ...]


def commands(number: int) -> dict[str, Command]:
    """Name each yard command as typed, a little different each time so that each can happen.

    Parameters
    ----------
    number
        Which time; 0 or more, below 100.
    """
    tag, other, held_tag = f"C-{1001 + 10 * number:05}", f"C-{3001 + 10 * number:05}", f"C-{5000 + 20 * number:05}"
    return {
        "stock --bay F7": ("stock", "--bay", "F7"),
        "stock --product G25 --at-least 4x10 --oldest": (
            "stock", "--product", "G25", "--at-least", "4x10", "--oldest",
        ),
        "history": ("history", tag),
        "count BAY, the sheet": ("count", "F7"),
        "receive": ("receive", f"N-{number}", "4x24.85", "--product", "G25", "--bay", "F7", "--cost", "10.60"),
        "measure": ("measure", tag, f"3.98x6.{number:02}"),
        "move": ("move", tag, "F9"),
        "condition": ("condition", tag, "wet"),
        "hold": ("hold", tag, "Q-9", "--until", "2099-01-01"),
        "free": ("free", held_tag),
        "write-off": ("write-off", other, "--why", "flood"),
        "offcut": (
            "offcut", "--product", "G25", "--batch", "B5", "--length", "3", "--width", "2", "--bay", "F7",
        ),
        "labels": ("labels", tag, "--file", os.devnull),
        "count BAY TAG..., written": ("count", f"F{110 + number}", tag, "--yes"),
    }  # fmt: skip


def slow_lists() -> dict[str, Command]:
    """Name what prints the whole yard, which is more than a yard command is asked for."""
    return {"stock, all of it": ("stock",), "count --due 30, all of it": ("count", "--due", "30")}


def measure(repeats: int, folder: Path, items: int = ITEMS, movements: int = MOVEMENTS) -> list[Measured]:
    """Time each yard command, in a new process each time.

    Parameters
    ----------
    repeats
        How often to run each; 1 to 99.
    folder
        An empty folder for the store.
    items, movements
        How large the yard is, and how long its past.
    """
    where = str(folder / "yard.db")
    make_store(where, items, movements)
    yard = {STORE_VARIABLE: where}
    lines = [
        Measured(name, "", tuple(run_once([*program, "--help"], yard) for _ in range(repeats)))
        for name, program in (("empty Typer program --help", EMPTY_PROGRAM), ("stockplan --help", PROGRAM))
    ]
    runs: dict[str, list[Command]] = {}
    for number in range(repeats):
        for name, command in (commands(number) | slow_lists()).items():
            runs.setdefault(name, []).append(command)
    for name, typed in runs.items():
        target = "" if name in slow_lists() else TARGET
        lines.append(Measured(name, target, tuple(run_once([*PROGRAM, *command], yard) for command in typed)))
    return lines


def main(arguments: Sequence[str] | None = None) -> None:
    """Time every yard command on a large yard with a long past, in seconds."""
    parser = argparse.ArgumentParser(prog="python -m stockplan.bench.yard", description=main.__doc__)
    parser.add_argument("--repeats", type=int, default=10, help="runs of each command; default 10")
    parser.add_argument("--items", type=int, default=ITEMS, help=f"default {ITEMS:,}")
    parser.add_argument("--movements", type=int, default=MOVEMENTS, help=f"default {MOVEMENTS:,}")
    given = parser.parse_args(arguments)
    if not 1 <= given.repeats <= 99 or given.items < 8000 or given.movements < 12 * given.items:
        parser.error("--repeats from 1 to 99, at least 8,000 items, at least 12 movements for each")
    with tempfile.TemporaryDirectory() as folder:
        lines = measure(given.repeats, Path(folder), given.items, given.movements)
    size = f"{given.items:,} items, {given.movements:,} movements"
    table = Table(title=f"seconds on {size}, {given.repeats} runs each, Python {sys.version.split()[0]}")
    for heading in ("command", "wall, best", "wall, median", "processor, best", "processor, median", "target"):
        table.add_column(heading, justify="left" if heading in {"command", "target"} else "right")
    for line in lines:
        table.add_row(*line.cells())
    Console(width=max(120, Console().width)).print(table)


if __name__ == "__main__":
    main()
