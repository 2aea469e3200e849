"""The small yard of the checker's tests, a job cut off one roll, and what the checker says of a plan."""

from __future__ import annotations

from dataclasses import replace

from breaking import put
from builders import Case, build, read_cuts, small_request

from stockplan.domain.check import check

REQUEST = small_request()
ALL_OF_J1 = ("3000: J1.A1", "2000: J1.B1 | J1.B2")


def broken(case: Case) -> set[str]:
    return {violation.rule for violation in check(case.request, case.plan)}


def said(case: Case) -> str:
    return "\n".join(str(violation) for violation in check(case.request, case.plan))


def swap(case: Case, old: object, *new: object) -> Case:
    return replace(case, plan=put(case.plan, old, *new))


#   0      1.5      3.0  4.0
#   +--------+--------+---+ 0
#   |        J1 A1        |
#   +--------+--------+---+ 3
#   | J1 B1  | J1 B2  | / |
#   +--------+--------+---+ 5
#   |        tail         |
#   +---------------------+ 10
def whole_job() -> Case:
    """Job J1 off R-1: two drops, two lanes and a leftover beside them, a tail that stays on the core."""
    return build(REQUEST, {"R-1": read_cuts(REQUEST, *ALL_OF_J1)})
