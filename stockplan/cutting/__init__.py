"""From stock and jobs to a plan: pure functions over frozen data; no files, no database."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from stockplan.cutting.planner import plan_cuts

__all__ = ["plan_cuts"]


def __getattr__(name: str) -> Any:
    """Load the planner, and with it its solvers, only where it is asked for: laying a lawn out needs neither."""
    if name != "plan_cuts":
        raise AttributeError(name)
    from stockplan.cutting.planner import plan_cuts  # noqa: PLC0415

    return plan_cuts
