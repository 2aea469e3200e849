"""From stock and jobs to a plan: pure functions over frozen data; no files, no database."""

from stockplan.cutting.planner import plan_cuts

__all__ = ["plan_cuts"]
