"""Whole-number programs solved by HiGHS through MathOpt, in a thread beside that a search can leave at any time.

HiGHS knows no interruption, so it runs in a thread beside and is left alone when the search has to end. Costs are
passed in hundreds of pence, which keeps its tolerances below a penny.
"""

from __future__ import annotations

import atexit
import datetime
import threading
from collections.abc import Callable
from dataclasses import dataclass

from ortools.math_opt.python import mathopt

from stockplan.cutting.solution import Solution

PURCHASE_TIE_BREAK = 0.001
TOLERANCE = 0.5  # pence: above the tie-breaks and the engine's gap together, below the penny that plans cost
SCALE = 100.0
POLL_SECONDS = 0.05
LEAST_SECONDS = 0.05
SECONDS_TO_END = 10.0

_left: list[threading.Thread] = []


@atexit.register
def _wait_for_those_left() -> None:
    """A thread that comes back from HiGHS while Python is being taken down would have the system abort the process."""
    for thread in _left:
        thread.join(SECONDS_TO_END)


@dataclass(frozen=True)
class Effort:
    """How long a program may take.

    Parameters
    ----------
    seconds
        Clock guard.
    should_stop
        Asked all the time; True gives up at once.
    most_nodes
        Of the search tree; default no limit.
    """

    seconds: float
    should_stop: Callable[[], bool]
    most_nodes: int | None = None


@dataclass(frozen=True)
class Whole:
    """What came of it.

    Parameters
    ----------
    answer
        The best answer found, None when none was.
    bound
        No answer of the program costs less than this, penalties included, pence.
    proven
        Whether the search ended by itself: then there is no better answer than `answer`, or than the incumbent.
    nodes
        Nodes of the search tree.
    by_the_clock
        Whether the clock cut it short, so that another run may differ.
    """

    answer: Solution | None
    bound: float
    proven: bool
    nodes: int
    by_the_clock: bool = False


def settings(effort: Effort) -> mathopt.SolveParameters:
    """How HiGHS is to solve a program."""
    parameters = mathopt.SolveParameters(
        time_limit=datetime.timedelta(seconds=max(LEAST_SECONDS, effort.seconds)),
        relative_gap_tolerance=1e-7,
        absolute_gap_tolerance=0.004,
    )
    if effort.most_nodes is not None:
        parameters.highs.int_options["mip_max_nodes"] = max(1, effort.most_nodes)
    return parameters


def solve_beside(
    model: mathopt.Model,
    parameters: mathopt.SolveParameters,
    start: mathopt.ModelSolveParameters,
    should_stop: Callable[[], bool],
) -> mathopt.SolveResult | None:
    """Solve in a thread of its own; None when it has to be left before it ends."""
    ended: list[mathopt.SolveResult | BaseException] = []

    def solve() -> None:
        try:
            ended.append(mathopt.solve(model, mathopt.SolverType.HIGHS, params=parameters, model_params=start))
        except BaseException as error:  # noqa: BLE001 - raised again where it can be heard
            ended.append(error)

    thread = threading.Thread(target=solve, daemon=True, name="whole-number program")
    thread.start()
    while thread.is_alive():
        thread.join(POLL_SECONDS)
        if thread.is_alive() and should_stop():
            _left[:] = [one for one in (*_left, thread) if one.is_alive()]
            return None
    if isinstance(ended[0], BaseException):
        raise ended[0]
    return ended[0]
