"""What is published of the best plans for instances, and which of it compares with the planner's.

Beside a folder of instances may stand `known_values.csv` with the columns family (the folder's name), instance,
objective_meaning, known_optimum_or_LB, UB, source.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from stockplan.bench.instances import Along, Instance

SIDES: tuple[Along, ...] = ("width", "height")


@dataclass(frozen=True, slots=True)
class Known:
    """What is published for a way of cutting that compares with the planner's.

    Parameters
    ----------
    lower, upper
        No plan costs less than the first, some plan costs the second; None where nothing is published.
    same_side
        Whether the second is known to have its first cut where the planner's plan has it, so that no bound of the
        planner's may be above it; default True.
    """

    lower: Fraction | None
    upper: Fraction | None
    same_side: bool = True

    def words(self) -> str:
        """The value, or the range it lies in."""
        if self.lower is not None and self.upper is not None and self.lower != self.upper:
            return f"{self.lower} to {self.upper}"
        if self.upper is not None:
            return f"{self.upper}" if self.lower is not None else f"at most {self.upper}"
        return "-" if self.lower is None else f"at least {self.lower}"


class KnownValues:
    """Published values of one family of instances.

    Parameters
    ----------
    rows
        Rows of `known_values.csv` that belong to the family.
    """

    def __init__(self, rows: Iterable[Mapping[str, str]]) -> None:
        self.rows = [dict(row) for row in rows]

    @classmethod
    def of(cls, folder: Path) -> KnownValues:
        """Read what stands beside a folder of instances; empty when there is no such file."""
        file = folder.resolve().parent / "known_values.csv"
        if not file.is_file():
            return cls([])
        with file.open(encoding="utf-8-sig", newline="") as opened:
            return cls(row for row in csv.DictReader(opened) if row["family"] == folder.resolve().name)

    def another_aim(self) -> str:
        """What the family asks for when it is not to cover every demand at the least cost; else empty."""
        aims = {row["objective_meaning"].split(";")[0] for row in self.rows}
        others = sorted(aim for aim in aims if not aim.startswith("min"))
        return others[0] if others and len(others) == len(aims) else ""

    def along(self, instance: Instance) -> Along:
        """Which side to run along the roll: the width, unless figures are published for a horizontal first cut only."""
        published = {side: self.known(instance, side).upper is not None for side in SIDES}
        return "height" if instance.flat and published["height"] and not published["width"] else "width"

    def known(self, instance: Instance, along: Along) -> Known:
        """What compares with the planner's three stages and a trim, the first cut across the roll.

        Plans in fewer stages can be cut in three, so their cost compares and their bound does not.
        """
        lowers, uppers, either = ([instance.optimum] if instance.optimum is not None else [] for _ in range(3))
        for row in self.rows:
            if row["instance"] != instance.name:
                continue
            if _compares(row, flat=instance.flat, along=along):
                if row["UB"]:
                    uppers.append(Fraction(row["UB"]))
                if row["known_optimum_or_LB"] and _bounds_ours(row, flat=instance.flat):
                    lowers.append(Fraction(row["known_optimum_or_LB"]))
            elif row["UB"] and _first_cut_is_free(row):
                either.append(Fraction(row["UB"]))
        upper = min(uppers, default=None)
        best = min([*uppers, *either], default=None)
        return Known(max(lowers, default=None), best, same_side=upper == best)


def _compares(row: Mapping[str, str], *, flat: bool, along: Along) -> bool:
    aim = row["objective_meaning"].lower()
    if not aim.startswith("min") or "non-guillotine" in aim:
        return False
    first_cut = "first cut " + ("vertical" if along == "width" else "horizontal")
    return not flat or first_cut in aim


def _first_cut_is_free(row: Mapping[str, str]) -> bool:
    aim = row["objective_meaning"].lower()
    return aim.startswith("min") and "non-guillotine" not in aim and "any first cut" in aim


def _bounds_ours(row: Mapping[str, str], *, flat: bool) -> bool:
    aim, source = row["objective_meaning"].lower(), row["source"].lower()
    three_stages = "3-stage non-exact" in aim and "homogenous" not in aim + source
    return not flat or three_stages
