"""How good the plans are, and how fast they come: generated weeks, or published instances.

`python -m stockplan.bench --weeks S,M --seeds 0-4 --seconds 20 --save FILE.json` plans weeks, each in a fresh process,
with `--lawns` of lawns that may be laid in several ways, with `--yard L` in the yard of a larger week.
`--compare FILE.json` sets an earlier run beside them, `--against COMMIT` another commit, which plans the same weeks in
turn; `--compare OLD.json NEW.json` alone sets two saved runs side by side. `--chart FILE.svg` draws how time and memory
grow, of weeks planned now or, with `--saved FILE.json`, before.
`python -m stockplan.bench --instances FOLDER` plans the published instances in a folder; `instances.py` says in what
form, and how they are stated.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from rich.console import Console

from stockplan.actions.engines import usable_processors
from stockplan.actions.making_ready import make_ready
from stockplan.bench.compared import checked_out, comparison_tables
from stockplan.bench.plans import Limits, Week, WeeksRun, load, machine_words, plan_week, save, weeks_table
from stockplan.bench.published import Measured, measure_folder, published_table
from stockplan.bench.scaling import draw_scaling
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


def run_weeks(
    weeks: Sequence[Week], limits: Limits, save_to: Path | None, checkout: Path | None = None
) -> tuple[WeeksRun, WeeksRun, bool]:
    """Plan weeks one after another, saving after each.

    Parameters
    ----------
    weeks, limits
        What to plan, and for how long.
    save_to
        File to keep the figures in; None keeps none.
    checkout
        Source of another commit, which plans each week first; None for none.

    Returns
    -------
    tuple
        What came of them here, what came of them there, and whether all went well.
    """
    here, there = (WeeksRun(limits, machine_words(), {}) for _ in range(2))
    sound = True
    for week in weeks:
        if checkout is not None:
            sound = _run(week, there, checkout) and sound
        sound = _run(week, here) and sound
        if save_to is not None and here.outcomes:
            save(here, save_to)
    return here, there, sound


def _run(week: Week, run: WeeksRun, checkout: Path | None = None) -> bool:
    """Plan a week and note what came of it; give whether it went well."""
    name = f"{week[0]}{week[1]}" + (" of the other commit" if checkout else "")
    try:
        found: Outcome = plan_week(week, run.limits, checkout)
    except RuntimeError as failure:
        complain(name, [str(failure)])
        return False
    run.outcomes[week] = found
    complain(name, found.violations)
    return not found.violations


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
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--weeks", type=read_sizes, metavar="SIZES", help="generated weeks: S, M, L, XL, or S,M")
    what.add_argument("--instances", type=Path, metavar="FOLDER", help="published instances in a folder of JSON files")
    what.add_argument("--saved", type=Path, nargs="+", metavar="FILE.json", help="weeks kept earlier, for --chart")
    parser.add_argument(
        "--seeds", type=read_seeds, default=[0], metavar="SEEDS", help="of weeks: 0-4 or 0,2; default 0"
    )
    parser.add_argument("--lawns", action="store_true", help="of lawns that may be laid in several ways, not of strips")
    parser.add_argument("--yard", choices=tuple(SIZES), help="size of the weeks whose yard it is; default their own")
    parser.add_argument("--seconds", type=read_seconds, default=20.0, help="clock guard of each; default 20")
    parser.add_argument("--work", type=int, help="work limit for each product; default none")
    processors = usable_processors()
    parser.add_argument(
        "--workers", type=int, default=processors, help="processes that plan a week; default as many as processors"
    )
    parser.add_argument("--save", type=Path, metavar="FILE.json", help="keep the figures of weeks")
    parser.add_argument(
        "--compare", type=Path, nargs="+", metavar="FILE.json",
        help="set figures kept earlier beside those of weeks; two files are set side by side without --weeks",
    )  # fmt: skip
    parser.add_argument("--against", metavar="COMMIT", help="plan the weeks by another commit as well, and compare")
    parser.add_argument("--chart", type=Path, metavar="FILE.svg", help="draw time and memory against pieces")
    return parser


def _refuse(parser: argparse.ArgumentParser, given: argparse.Namespace) -> None:
    """End with what is wrong with what was typed, where something is."""
    compared = len(given.compare or ())
    if given.weeks is None and given.instances is None and compared != 2 and not (given.saved and given.chart):
        parser.error("say what to measure: --weeks, --instances, two files to --compare, or --saved with --chart")
    if given.instances is not None:
        if given.save or given.compare or given.against or given.chart or given.lawns or given.yard:
            parser.error("--save, --compare, --against, --chart, --lawns and --yard are for weeks")
        if not any(given.instances.glob("*.json")):
            parser.error(f"{given.instances} holds no JSON file")
    if given.saved and not given.chart:
        parser.error("--saved is for --chart; name a file to draw to")
    if given.weeks is None and (given.save or given.against):
        parser.error("--save and --against need --weeks")
    if compared > (1 if given.weeks else 2):
        parser.error("--compare takes one file beside --weeks, and two files without")
    if given.workers < 1:
        parser.error(f"--workers {given.workers}: at least 1")


@contextmanager
def _other_commit(commit: str | None) -> Iterator[Path | None]:
    if commit is None:
        yield None
        return
    with checked_out(commit) as folder:
        yield folder


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure plans; give the exit status."""
    parser = _parser()
    given = parser.parse_args(arguments)
    _refuse(parser, given)
    console = Console(width=max(WIDEST, Console().width))
    limits = Limits(given.seconds, given.work, given.workers, given.lawns, given.yard)
    if given.instances is not None or given.weeks is not None:
        make_ready(lambda told: print(told, file=sys.stderr))
    if given.instances is not None:
        return 0 if run_instances(given.instances, limits, console) else 1
    try:
        earlier = [load(path) for path in given.compare or ()]
        drawn = [load(path) for path in given.saved or ()]
        sound = True
        if given.weeks is None:
            if earlier:
                names = given.compare[0].name, given.compare[1].name
                console.print(*comparison_tables(earlier[0], earlier[1], names))
        else:
            weeks = [(size, seed) for size in given.weeks for seed in given.seeds]
            with _other_commit(given.against) as checkout:
                here, there, sound = run_weeks(weeks, limits, given.save, checkout)
            drawn.append(here)
            console.print(weeks_table(here))
            if earlier:
                console.print(*comparison_tables(earlier[0], here, (given.compare[0].name, "now")))
            if given.against:
                console.print(*comparison_tables(there, here, (given.against, "now")))
        if given.chart:
            given.chart.write_text(draw_scaling(drawn), encoding="utf-8")
    except (OSError, ValueError) as fault:
        parser.error(str(fault))
    return 0 if sound else 1


if __name__ == "__main__":
    sys.exit(main())
