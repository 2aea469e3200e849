"""How soon the estimator has an answer: covers in a large yard, also beside a plan; a quote in a fortnight of 30 jobs.

`python -m stockplan.bench.estimator` makes the stores in a temporary folder, runs every command in new processes and
prints best and median of wall time and of processor time.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from stockplan.bench.start_up import PROGRAM, STORE_VARIABLE, Measured, print_table, run_once
from stockplan.bench.weeks import TODAY, large_yard, week, write_folder

ITEMS = 20_000
ASKED = ("--today", TODAY.isoformat())
COVERS = (
    ("cover, one size, one grass", "wall under 0.5 s", ("3.1x1.8", "--product", "G30")),
    ("cover, one size, any grass", "", ("3.1x1.8", "--any-product")),
    ("cover, with a seam or not at all", "", ("3.99x9.9", "--product", "G30")),
    ("cover, three sizes", "", ("3.1x1.8", "0.9x2.2", "1.2x3.0", "--product", "G30")),
    ("cover, a lawn", "", ("--lawn", "6.2 x 4.8", "--product", "G30")),
)
PROMISED = (
    ("cover beside a plan of 30 jobs, one size", "wall under 0.5 s", ("3.1x1.8", "--product", "G30")),
    ("cover beside a plan of 30 jobs, a long piece", "wall under 0.5 s", ("4x12", "--product", "G30")),
    ("cover beside a plan of 30 jobs, soon", "wall under 0.5 s", ("4x5", "--product", "G30", "--lay-on", "2026-11-28")),
)
QUOTE = ("quote", "3@4x6.2", "1.5x6.2", "--product", "G30", "--lay-on", "2026-12-03", *ASKED)
PLAN = ("plan", "--from", "2026-11-30", "--to", "2026-12-11", "--seconds", "6", *ASKED)


def measure(repeats: int, folder: Path, items: int = ITEMS) -> list[Measured]:
    """Time covers on a yard of so many items, and a quote in an invented fortnight.

    Parameters
    ----------
    repeats
        How often to run each; at least 1.
    folder
        An empty folder for spreadsheets and stores.
    items
        In the yard; at least 4.
    """
    yard, fortnight, promised = (
        {STORE_VARIABLE: str(folder / f"{name}.db")} for name in ("yard", "fortnight", "promised")
    )
    invented = large_yard(items, 0)
    more = tuple(replace(item, tag=f"Y-{item.tag}") for item in invented.stock)
    write_folder(invented, folder / "yard")
    write_folder(week("M", 0), folder / "fortnight")
    write_folder(replace(invented, stock=more, jobs=()), folder / "more")
    run_once([*PROGRAM, "import", str(folder / "yard")], yard)
    run_once([*PROGRAM, "import", str(folder / "fortnight")], fortnight)
    first, last = (("import", str(folder / name)) for name in ("fortnight", "more"))
    for arguments in (first, PLAN, ("accept", *ASKED), last):
        run_once([*PROGRAM, *arguments], promised)
    found = []
    for store, asked in ((yard, COVERS), (promised, PROMISED)):
        for name, target, sizes in asked:
            runs = tuple(run_once([*PROGRAM, "cover", *sizes, *ASKED], store) for _ in range(repeats))
            found.append(Measured(f"{name}, {items:,} items", target, runs))
    runs = tuple(run_once([*PROGRAM, *QUOTE], fortnight) for _ in range(max(1, repeats // 3)))
    return [*found, Measured("quote, fortnight of 30 jobs", "wall under 5 s", runs)]


def main(arguments: Sequence[str] | None = None) -> None:
    """Measure how long covers and quotes take, in seconds."""
    parser = argparse.ArgumentParser(prog="python -m stockplan.bench.estimator", description=main.__doc__)
    parser.add_argument("--repeats", type=int, default=9, help="runs of each cover, three times those of a quote; 9")
    parser.add_argument("--items", type=int, default=ITEMS, help="in the large yard; default 20000")
    given = parser.parse_args(arguments)
    if given.repeats < 1 or given.items < 4:
        parser.error("--repeats must be at least 1, --items at least 4")
    with tempfile.TemporaryDirectory() as folder:
        lines = measure(given.repeats, Path(folder), given.items)
    print_table(f"seconds, Python {sys.version.split()[0]}", lines)


if __name__ == "__main__":
    main()
