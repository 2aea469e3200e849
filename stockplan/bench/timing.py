"""Holding the watch over one plan in a fresh process, from outside: start-up and imports count, the checker does not.

The watch starts just before the process does and reads the time at which each line arrives.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

NEAR, RATHER_NEAR = 0.01, 0.02

Stamped = tuple[float, dict[str, Any]]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one plan came to and how long that took; money in pence, times in seconds from the start of its process.

    Parameters
    ----------
    digest
        Of the whole problem: equal when the same thing was planned.
    pieces, items
        How many pieces were asked for, and stock items at hand.
    foreman
        Net cost of the foreman's plan; None when he left something short that the plan covers.
    cost, bound
        Net cost of the plan and its lower bound.
    status, ended_by
        As in `ProductPlan`, over all products.
    short, ordered
        Pieces left short, and rolls and cut lengths ordered.
    work
        Work units spent.
    first_plan
        When every product had a plan.
    near_bound
        From when on the best plan was within 1 % of the final bound; None when it never was.
    seconds
        When the plan was made.
    peak_bytes
        Most memory held until then; None where the system does not tell.
    violations
        What the independent checker found.
    rather_near
        From when on the best plan was within 2 % of the final bound; None when it never was.
    """

    digest: str
    pieces: int
    items: int
    foreman: int | None
    cost: int
    bound: int
    status: str
    ended_by: str
    short: int
    ordered: int
    work: int
    first_plan: float
    near_bound: float | None
    seconds: float
    peak_bytes: int | None
    violations: tuple[str, ...]
    rather_near: float | None = None

    @property
    def gap(self) -> float:
        """Share of the cost that is not proven necessary; 0 when the plan costs nothing."""
        return (self.cost - self.bound) / self.cost if self.cost > 0 else 0.0

    @property
    def saving(self) -> float | None:
        """Share of the foreman's cost that the plan saves."""
        return (self.foreman - self.cost) / self.foreman if self.foreman else None


def time_plan(arguments: Sequence[str], checkout: Path | None = None) -> Outcome:
    """Plan in a fresh process and time it.

    Parameters
    ----------
    arguments
        For `python -m stockplan.bench.fresh`.
    checkout
        Folder of the source to run, such as that of another commit; default the source that runs now.

    Raises
    ------
    RuntimeError
        When the process ends with anything but 0; the message holds the end of what it wrote on standard error.
    """
    with tempfile.TemporaryFile(mode="w+", encoding="utf-8", errors="replace") as complaints:
        began = time.perf_counter()
        with subprocess.Popen(
            [sys.executable, "-m", "stockplan.bench.fresh", *arguments],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=complaints,
            text=True,
            cwd=checkout,
            env=None if checkout is None else {**os.environ, "PYTHONPATH": str(checkout)},
        ) as process:
            assert process.stdout is not None
            lines = [(time.perf_counter() - began, json.loads(line)) for line in process.stdout]
        if process.returncode != 0:
            complaints.seek(0)
            written = complaints.read()[-2000:]
            raise RuntimeError(f"{' '.join(arguments)} ended with {process.returncode}:\n{written}")
    return outcome_of(lines)


def outcome_of(lines: Sequence[Stamped]) -> Outcome:
    """Put together what a process told, each record with the time at which it came."""
    products = next(record["products"] for _, record in lines if record["step"] == "start")
    seconds, made = next(line for line in lines if line[1]["step"] == "plan")
    judged = next(record for _, record in lines if record["step"] == "checked")
    totals = [*_totals(lines, products), (seconds, made["cost"])]
    return Outcome(
        **{name: value for name, value in made.items() if name != "step"},
        first_plan=totals[0][0],
        near_bound=_near_from(totals, made["bound"], NEAR),
        rather_near=_near_from(totals, made["bound"], RATHER_NEAR),
        seconds=seconds,
        violations=tuple(judged["violations"]),
    )


def _totals(lines: Iterable[Stamped], products: Sequence[str]) -> list[tuple[float, int]]:
    """Cost of the best plans together at each change, from when every product has one."""
    best: dict[str, int] = {}
    totals = []
    for seconds, record in lines:
        if record["step"] == "progress" and record["best"] is not None:
            best[record["product"]] = record["best"]
            if len(best) == len(products):
                totals.append((seconds, sum(best.values())))
    return totals


def _near_from(totals: Sequence[tuple[float, int]], bound: int, share: float) -> float | None:
    """When the cost came near the bound for good; a plan that leaves more short may cost less than the bound."""
    since: float | None = None
    for seconds, cost in totals:
        near = abs(cost - bound) <= share * cost
        since = (seconds if since is None else since) if near else None
    return since
