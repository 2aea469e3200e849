"""The stop-watch tells the truth; the figures themselves are for a person to read."""

from __future__ import annotations

import pytest

from stockplan.bench.start_up import EMPTY_PROGRAM, Measured, Run, run_once


def test_waiting_takes_wall_time_and_no_processor_time() -> None:
    run = run_once(["-c", "import time; time.sleep(0.3)"], {})
    assert run.wall_seconds >= 0.3
    assert run.cpu_seconds < run.wall_seconds


def test_work_takes_processor_time() -> None:
    work = "import time\nwhile time.process_time() < 0.3: pass"
    assert run_once(["-c", work], {}).cpu_seconds >= 0.3


def test_environment_reaches_the_process() -> None:
    run_once(["-c", "import os; assert os.environ['YARD'] == 'x'"], {"YARD": "x"})


def test_a_process_that_fails_is_no_measurement() -> None:
    with pytest.raises(RuntimeError, match=r"ended with 3:\nnot today"):
        run_once(["-c", "import sys; print('not today'); sys.exit(3)"], {})


def test_empty_program_runs() -> None:
    assert run_once([*EMPTY_PROGRAM, "--help"], {}).wall_seconds > 0


def test_best_is_least_and_median_is_middle() -> None:
    line = Measured("x", "none", (Run(3.0, 0.3), Run(1.0, 0.1), Run(1.5, 0.2)))
    assert line.cells() == ("x", "1.000", "1.500", "0.100", "0.200", "none")
