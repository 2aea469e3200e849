"""How fast, and in how much memory, a large folder of spreadsheets is read.

`python -m stockplan.bench.sheets --rows 100000` writes an invented folder of that many rows to a temporary place, reads
it and prints the time and the most memory this process ever held, start-up and libraries included.
"""

from __future__ import annotations

import argparse
import csv
import tempfile
import time
from collections.abc import Iterable, Sequence
from pathlib import Path
from random import Random

from stockplan.bench.memory import peak_bytes
from stockplan.store.sheets import SheetContents, read_folder

BYTES_PER_MB = 1_000_000


def write_large_folder(path: Path, rows: int, seed: int = 0) -> None:
    """Write a sound folder of about the given number of rows: half stock, a quarter each jobs and strips.

    Parameters
    ----------
    path
        The folder; it must exist.
    rows
        Rows over all sheets; at least 4.
    seed
        Same rows and seed, same folder; default 0.
    """
    draw = Random(seed)
    quarter = max(1, rows // 4)
    products = [f"G{number}" for number in range(20, 60)]
    _write(path / "products.csv", "product description weight_kg_m2", ((code, "grass", "2.4") for code in products))
    _write(
        path / "supply.csv",
        "product supplier form width_m length_m price lead_days",
        ((code, "Fernholt Mills", "roll", "4", "25", "1100.00", "5") for code in products),
    )
    _write(
        path / "stock.csv",
        "tag product batch form width_m length_m bay cost_per_m2",
        (
            (
                f"T-{number:06d}",
                draw.choice(products),
                f"B{draw.randrange(500)}",
                "offcut",
                f"{draw.randrange(500, 4001) / 1000:.3f}",
                f"{draw.randrange(1000, 8001) / 1000:.3f}",
                f"A{draw.randrange(40)}",
                f"{draw.randrange(900, 1500) / 100:.2f}",
            )
            for number in range(rows - 2 * quarter)
        ),
    )
    _write(
        path / "jobs.csv",
        "job site product lay_on pile_towards batch_rule",
        (
            (
                f"J{number}",
                f"{number} Alder Row",
                draw.choice(products),
                f"2026-12-{draw.randint(1, 28):02d}",
                "house",
                "",
            )
            for number in range(quarter)
        ),
    )
    _write(
        path / "strips.csv",
        "job strip width_m length_m count",
        ((f"J{number}", "A", "4", f"{draw.randrange(1000, 12001) / 1000:.3f}", "1") for number in range(quarter)),
    )


def _write(path: Path, header: str, rows: Iterable[Sequence[str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(header.split())
        writer.writerows(rows)


def measure(rows: int) -> tuple[SheetContents, float]:
    """Write and read a folder of the given size; give what was read and the seconds that reading took."""
    with tempfile.TemporaryDirectory() as folder:
        write_large_folder(Path(folder), rows)
        began = time.perf_counter()
        contents = read_folder(Path(folder))
        return contents, time.perf_counter() - began


def main(arguments: Sequence[str] | None = None) -> None:
    """Measure how a large folder of spreadsheets is read."""
    parser = argparse.ArgumentParser(prog="python -m stockplan.bench.sheets", description=main.__doc__)
    parser.add_argument("--rows", type=int, default=100_000, help="rows over all sheets, at least 4; default 100000")
    given = parser.parse_args(arguments)
    if given.rows < 4:
        parser.error("--rows must be at least 4")
    contents, seconds = measure(given.rows)
    peak = peak_bytes()
    memory = f"{peak / BYTES_PER_MB:.0f} MB at most" if peak is not None else "memory not known on this system"
    things = f"{len(contents.stock)} stock items, {len(contents.jobs)} jobs"
    print(f"{given.rows} rows ({things}) read in {seconds:.2f} s, {memory}")


if __name__ == "__main__":
    main()
