"""Plans of published instances, measured against what is known of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil
from pathlib import Path

from rich.table import Table

from stockplan.bench.instances import STEP, Along, Instance, NotStated, read_instances, state
from stockplan.bench.known_values import Known, KnownValues
from stockplan.bench.plans import MISSING, Limits, machine_words, mebibytes, percent, seconds_text
from stockplan.bench.timing import Outcome, time_plan
from stockplan.domain.plan import PlanStatus


@dataclass(frozen=True, slots=True)
class Measured:
    """One instance and what came of it.

    Parameters
    ----------
    instance
        The instance.
    along
        Which of its sides ran along the roll.
    known
        What is published.
    unit
        What a `STEP` of the outcome is in the instance's own units of cost.
    outcome
        None when it was not planned.
    why_not
        Why it was not planned; empty when it was.
    """

    instance: Instance
    along: Along
    known: Known
    unit: Fraction = Fraction(1)
    outcome: Outcome | None = None
    why_not: str = ""

    @property
    def cost(self) -> Fraction | None:
        """Cost of the plan in the instance's own units; None when there is no plan that covers all."""
        if self.outcome is None or self.outcome.status == PlanStatus.SHORT:
            return None
        return Fraction(self.outcome.cost, STEP) * self.unit

    @property
    def bound(self) -> Fraction | None:
        """Lower bound in the instance's own units, rounded up to whole sheets; None when a piece is short."""
        if self.outcome is None or self.outcome.status == PlanStatus.SHORT:
            return None
        return ceil(Fraction(self.outcome.bound, STEP)) * self.unit

    @property
    def gap(self) -> float | None:
        """Share of the cost that is not proven necessary; None when some piece is short."""
        return None if self.cost is None or self.bound is None else float((self.cost - self.bound) / self.cost)

    @property
    def status(self) -> str:
        """Optimal when the rounded bound meets the cost, else as the planner says."""
        if self.outcome is None:
            return self.why_not
        if self.outcome.short:
            return f"{self.outcome.status}: {self.outcome.short} pieces"
        return PlanStatus.OPTIMAL.value if self.cost == self.bound else self.outcome.status

    def faults(self) -> list[str]:
        """What cannot be right: violations, a bound above a known plan, a cost below a known bound."""
        found = list(self.outcome.violations) if self.outcome else []
        upper = self.known.upper if self.known.same_side else None
        if self.bound is not None and upper is not None and self.bound > upper:
            found.append(f"bound {self.bound} is above the published plan's {upper}")
        if self.cost is not None and self.known.lower is not None and self.cost < self.known.lower:
            found.append(f"cost {self.cost} is below the published bound {self.known.lower}")
        return found


def measure_folder(folder: Path, limits: Limits) -> Iterator[Measured]:
    """Plan every instance of a folder, each in a fresh process, in order of file name.

    Raises
    ------
    RuntimeError
        When a process fails.
    """
    values = KnownValues.of(folder)
    for file in sorted(folder.glob("*.json")):
        for instance in read_instances(file):
            yield _measure(file, instance, values, limits)


def _measure(file: Path, instance: Instance, values: KnownValues, limits: Limits) -> Measured:
    along = values.along(instance)
    known = values.known(instance, along)
    aim = values.another_aim()
    if aim:
        return Measured(instance, along, known, why_not=f"not stated: {aim}")
    try:
        stated = state(instance, along)
    except NotStated as reason:
        return Measured(instance, along, known, why_not=f"not stated: {reason}")
    outcome = time_plan(
        ["--instance", str(file), "--name", instance.name, "--along", along, "--step", str(STEP), *limits.arguments()],
    )
    return Measured(instance, along, known, stated.unit, outcome)


def published_table(folder: Path, measured: Sequence[Measured], limits: Limits) -> Table:
    """Lay the outcomes out, an instance a row; costs in the instance's own units, times in seconds."""
    table = Table(title=f"{folder.resolve().name}, {limits.words()} each, {machine_words()}")
    columns = "instance,along,pieces,known,plan,over known,bound,gap %,status,total s,peak MiB,violations"
    for heading in columns.split(","):
        table.add_column(heading, justify="left" if heading in {"instance", "along", "status"} else "right")
    for one in measured:
        table.add_row(*_cells(one))
    if measured:
        table.caption = _caption(measured)
    return table


def _caption(measured: Sequence[Measured]) -> str:
    planned = [one for one in measured if one.outcome is not None]
    compared = [one for one in planned if one.cost is not None and one.known.upper is not None]
    reached = sum(one.cost <= one.known.upper for one in compared if one.cost and one.known.upper)
    proven = sum(one.status == PlanStatus.OPTIMAL for one in planned)
    return f"{reached} of {len(compared)} at or below the best known; {proven} of {len(planned)} proven best"


def _cells(one: Measured) -> list[str]:
    along = one.along if one.instance.flat else MISSING
    cells = [one.instance.name, along, str(one.instance.pieces), one.known.words()]
    found = one.outcome
    if found is None:
        return [*cells, MISSING, MISSING, MISSING, MISSING, one.status]
    over = None if one.cost is None or one.known.upper is None else one.cost - one.known.upper
    return [
        *cells,
        MISSING if one.cost is None else str(one.cost),
        MISSING if over is None else f"{'+' if over > 0 else ''}{over}",
        MISSING if one.bound is None else str(one.bound),
        percent(one.gap),
        one.status,
        seconds_text(found.seconds),
        mebibytes(found.peak_bytes),
        str(len(found.violations)),
    ]
