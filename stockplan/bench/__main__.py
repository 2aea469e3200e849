"""How good the plans are, and how fast they come: generated weeks, or published instances.

`python -m stockplan.bench --weeks S,M --seeds 0-4 --seconds 20 --save FILE.json` plans weeks, each in a fresh process;
`--compare FILE.json` sets an earlier run beside them. `python -m stockplan.bench --instances FOLDER` plans the
published instances in a folder; `instances.py` says in what form, and how they are stated.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from rich.console import Console

from stockplan.bench.plans import (
    Limits,
    Week,
    WeeksRun,
    comparison_table,
    load,
    machine_words,
    plan_week,
    save,
    weeks_table,
)
from stockplan.bench.published import Measured, measure_folder, published_table
from stockplan.bench.timing import Outcome
from stockplan.bench.weeks import SIZES

WIDEST = 175


def read_sizes(text: str) -> list[str]:
    """Read sizes such as `S,M`."""
    sizes = [size.strip().upper() for size in text.split(",")]
    if unknown := [size for size in sizes if size not in SIZES]:
        raise argparse.ArgumentTypeError(f"{unknown[0]!r} is not one of {', '.join(SIZES)}")
    return sizes


def read_seeds(text: str) -> list[int]:
    """Read seeds such as `0-4` or `0,2,7-9`."""
    seeds: list[int] = []
    for part in text.split(","):
        first, _, last = part.strip().partition("-")
        if not first.isdecimal() or (last and not last.isdecimal()) or part.strip().endswith("-"):
            raise argparse.ArgumentTypeError(f"{part!r} is no seed; write 0-4 or 0,2,7")
        if int(last or first) < int(first):
            raise argparse.ArgumentTypeError(f"{part!r} ends before it begins")
        seeds += range(int(first), int(last or first) + 1)
    return list(dict.fromkeys(seeds))


def read_seconds(text: str) -> float:
    """Read a positive number of seconds."""
    seconds = float(text)
    if not 0 < seconds < float("inf"):
        raise argparse.ArgumentTypeError("must be positive")
    return seconds


def run_weeks(weeks: Sequence[Week], limits: Limits, save_to: Path | None) -> tuple[WeeksRun, bool]:
    """Plan weeks one after another, saving after each; give what came of them and whether all went well."""
    outcomes: dict[Week, Outcome] = {}
    run = WeeksRun(limits, machine_words(), outcomes)
    sound = True
    for size, seed in weeks:
        try:
            found = plan_week((size, seed), limits)
        except RuntimeError as failure:
            complain(f"{size}{seed}", [str(failure)])
            sound = False
            continue
        outcomes[size, seed] = found
        complain(f"{size}{seed}", found.violations)
        sound = sound and not found.violations
        if save_to is not None:
            save(run, save_to)
    return run, sound


def run_instances(folder: Path, limits: Limits, console: Console) -> bool:
    """Plan published instances and print the table; give whether all went well."""
    measured: list[Measured] = []
    failed = False
    try:
        for one in measure_folder(folder, limits):
            complain(one.instance.name, one.faults())
            measured.append(one)
    except RuntimeError as failure:
        complain(folder.name, [str(failure)])
        failed = True
    console.print(published_table(folder, measured, limits))
    return not failed and not any(one.faults() for one in measured)


def complain(name: str, faults: Sequence[str]) -> None:
    """Print what is wrong on standard error."""
    for fault in faults:
        print(f"{name}: {fault}", file=sys.stderr, flush=True)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m stockplan.bench",
        description="Measure plans: cost, gap, time and memory. Exit status 1 when a plan is unsound or there is none.",
    )
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("--weeks", type=read_sizes, metavar="SIZES", help="generated weeks: S, M, L, XL, or S,M")
    what.add_argument("--instances", type=Path, metavar="FOLDER", help="published instances in a folder of JSON files")
    parser.add_argument(
        "--seeds", type=read_seeds, default=[0], metavar="SEEDS", help="of weeks: 0-4 or 0,2; default 0"
    )
    parser.add_argument("--seconds", type=read_seconds, default=20.0, help="clock guard of each; default 20")
    parser.add_argument("--work", type=int, help="work limit for each product; default none")
    parser.add_argument("--save", type=Path, metavar="FILE.json", help="keep the figures of weeks")
    parser.add_argument("--compare", type=Path, metavar="FILE.json", help="set figures of weeks kept earlier beside")
    return parser


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure plans; give the exit status."""
    parser = _parser()
    given = parser.parse_args(arguments)
    console = Console(width=max(WIDEST, Console().width))
    limits = Limits(given.seconds, given.work)
    if given.instances is not None:
        if given.save or given.compare:
            parser.error("--save and --compare are for weeks")
        if not any(given.instances.glob("*.json")):
            parser.error(f"{given.instances} holds no JSON file")
        return 0 if run_instances(given.instances, limits, console) else 1
    try:
        earlier = load(given.compare) if given.compare else None
    except (OSError, ValueError) as fault:
        parser.error(str(fault))
    weeks = [(size, seed) for size in given.weeks for seed in given.seeds]
    run, sound = run_weeks(weeks, limits, given.save)
    console.print(weeks_table(run))
    if earlier is not None:
        console.print(comparison_table(earlier, run))
    return 0 if sound else 1


if __name__ == "__main__":
    sys.exit(main())
