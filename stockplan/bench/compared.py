"""Two runs of the same weeks side by side: saved at different times, or one of another commit made now.

For another commit its source is checked out into a folder of its own and each week is planned by the one and the other
in turn, by the same interpreter, so that both meet the same machine in the same mood.
"""

from __future__ import annotations

import subprocess
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from rich.table import Table

from stockplan.bench.memory import BYTES_PER_MIB
from stockplan.bench.plans import MISSING, WeeksRun, mebibytes, percent, seconds_text
from stockplan.bench.timing import Outcome
from stockplan.domain.units import money

Number = int | float | None


@contextmanager
def checked_out(commit: str) -> Iterator[Path]:
    """Check a commit out into a folder that is gone afterwards.

    Parameters
    ----------
    commit
        Whatever git takes for one.

    Raises
    ------
    ValueError
        When git knows no such commit, or this is no checkout of the project.
    """
    here = Path(__file__).parents[2]
    with tempfile.TemporaryDirectory(prefix="stockplan-bench-") as folder:
        tree = Path(folder) / "tree"
        _git(here, "worktree", "add", "--quiet", "--detach", str(tree), commit)
        try:
            yield tree
        finally:
            _git(here, "worktree", "remove", "--force", str(tree))


def _git(folder: Path, *arguments: str) -> None:
    try:
        subprocess.run(["git", "-C", str(folder), *arguments], check=True, capture_output=True, text=True)
    except FileNotFoundError as error:
        raise ValueError("comparing commits needs git") from error
    except subprocess.CalledProcessError as error:
        raise ValueError(f"git {arguments[0]}: {error.stderr.strip()}") from error


def comparison_tables(before: WeeksRun, after: WeeksRun, names: tuple[str, str]) -> tuple[Table, Table]:
    """Lay two runs out side by side, with what changed from the first to the second.

    Parameters
    ----------
    before, after
        The runs. Weeks of the second are shown; one that is not the same in both is not compared.
    names
        What to call them.

    Returns
    -------
    tuple
        What plans came to; times and memory.
    """
    title = f"{names[0]} ({before.limits.words()}, {before.machine}), then {names[1]} ({after.limits.words()})"
    what = _table(title, ("plan", "bound", "gap %"))
    how = _table("The same: times and memory", ("first plan s", "within 2 % s", "within 1 % s", "total s", "peak MiB"))
    for (size, seed), found in after.outcomes.items():
        old, name = before.outcomes.get((size, seed)), f"{size}{seed}"
        if old is None or old.digest != found.digest:
            why = "not run" if old is None else "another week"
            what.add_row(name, why)
            how.add_row(name, why)
            continue
        what.add_row(name, *_plan_cells(old, found))
        how.add_row(name, *_cost_cells(old, found))
    return what, how


def _table(title: str, headings: tuple[str, ...]) -> Table:
    table = Table(title=title)
    table.add_column("week")
    for heading in headings:
        table.add_column(heading, justify="right")
        table.add_column("then", justify="right")
        table.add_column("change", justify="right")
    return table


def _plan_cells(old: Outcome, new: Outcome) -> list[str]:
    cells = _cells(old.cost, new.cost, money, _share_of(old.cost))
    cells += _cells(old.bound, new.bound, money, _share_of(old.bound))
    return cells + _cells(old.gap, new.gap, percent, lambda change: f"{100 * change:+.2f}")


def _cost_cells(old: Outcome, new: Outcome) -> list[str]:
    cells: list[str] = []
    for name in ("first_plan", "rather_near", "near_bound", "seconds"):
        cells += _cells(getattr(old, name), getattr(new, name), seconds_text, lambda change: f"{change:+.1f}")
    return cells + _cells(old.peak_bytes, new.peak_bytes, mebibytes, lambda change: f"{change / BYTES_PER_MIB:+.0f}")


def _share_of(amount: int) -> Callable[[float], str]:
    """Print a change in per cent of an amount."""
    return lambda change: f"{100 * change / amount:+.2f} %" if amount else MISSING


def _cells(old: Number, new: Number, words: Callable[[Any], str], change: Callable[[float], str]) -> list[str]:
    both = [MISSING if one is None else words(one) for one in (old, new)]
    return [*both, MISSING if old is None or new is None else change(new - old)]
