"""What makes the planner ready uses every part that is compiled, and a planner told to stop compiles nothing."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from stockplan.cutting import ready

INTERRUPTED = """
from numba.core.dispatcher import Dispatcher
import gc
from dataclasses import replace
from stockplan.cutting import plan_cuts, ready
from stockplan.domain.request import SearchLimits

request = ready.small_week()
held = replace(request, stock=request.stock[1:], held=request.stock[:1])
for asked in (request, held):
    plan = plan_cuts(asked, SearchLimits(5.0), lambda told: None, lambda: True)
    print(plan.products[0].ended_by, len(plan.products[0].orders) + len(plan.products[0].cuts) > 0)
print(sum(bool(one.signatures) for one in gc.get_objects() if isinstance(one, Dispatcher)))
"""

AFTERWARDS = """
from numba.core.dispatcher import Dispatcher
import gc
from stockplan.bench.weeks import week
import time
from stockplan.cutting import plan_cuts, ready
from stockplan.cutting.parts import parts_of
from stockplan.cutting.planner import bound_part
from stockplan.domain.request import SearchLimits

def compiled():
    functions = [one for one in gc.get_objects() if isinstance(one, Dispatcher)]
    return {f"{one.py_func.__module__}.{one.__name__} {given}" for one in functions for given in one.signatures}

ready.plan_a_little()
before = compiled()
for size, seed, seconds in (("S", 1, 3.0), ("S", 2, 3.0), ("M", 1, 5.0)):
    plan_cuts(week(size, seed), SearchLimits(seconds))
bound_part(parts_of(week("M", 1), None, 0)[0], time.monotonic() + 20.0, lambda _: None, lambda *_: None, lambda: False)
print(sorted(one for one in compiled() - before if one.startswith("stockplan")))
"""


@pytest.mark.slow
def test_nothing_is_left_to_compile_for_weeks_of_other_sizes() -> None:
    done = subprocess.run([sys.executable, "-c", AFTERWARDS], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"


def test_the_small_week_is_planned_in_every_way() -> None:
    """It must go through the proof by sets and the walks within one batch, or these are compiled in a first plan."""
    ready.plan_a_little()
    from stockplan.cutting.beam_kernels import children  # noqa: PLC0415
    from stockplan.cutting.led_kernels import led_sets  # noqa: PLC0415
    from stockplan.cutting.load_kernels import extend  # noqa: PLC0415
    from stockplan.cutting.recursions import fill_source  # noqa: PLC0415
    from stockplan.cutting.source_kernels import source_sets  # noqa: PLC0415
    from stockplan.cutting.trials import steps  # noqa: PLC0415
    from stockplan.cutting.trie_kernels import least_loads  # noqa: PLC0415
    from stockplan.cutting.walks import walk  # noqa: PLC0415

    for function in (steps, extend, walk, fill_source, children, led_sets, source_sets, least_loads):
        assert getattr(function, "signatures"), function  # noqa: B009  numba's


def test_a_planner_told_to_stop_before_it_begins_gives_a_plan_without_what_is_compiled(tmp_path: Path) -> None:
    """Compiling it would take seconds in which Ctrl-C is not heard."""
    environment = {**os.environ, "NUMBA_CACHE_DIR": str(tmp_path)}
    done = subprocess.run(
        [sys.executable, "-c", INTERRUPTED], env=environment, capture_output=True, text=True, check=True
    )
    assert done.stdout.split("\n")[:3] == ["interrupt True", "interrupt True", "0"]
