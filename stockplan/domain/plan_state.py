"""What becomes of plans."""

from __future__ import annotations

from enum import StrEnum


class PlanState(StrEnum):
    """How far a plan has come."""

    PROPOSED = "proposed"
    ACCEPTED = "accepted"  # its stock is reserved and its orders are drafted
    DONE = "done"  # nothing of it is left to cut
    WITHDRAWN = "withdrawn"


IN_FORCE = (PlanState.ACCEPTED, PlanState.DONE)  # people go by it
ENDED = (PlanState.DONE, PlanState.WITHDRAWN)  # nothing more is to be cut by it
