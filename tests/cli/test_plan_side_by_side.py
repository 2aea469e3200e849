"""`stockplan plan` with several products: the choices of where it is made, and Ctrl-C that all its processes see."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from typed_commands import Planner, fill, run

from stockplan.actions import cluster
from stockplan.bench.weeks import week_of
from stockplan.cli.progress import MOST_LINES, News, shown_progress
from stockplan.domain.request import Progress
from stockplan.store.repository import read_plans
from stockplan.store.session import open_store

FORTNIGHT = ("--from", "2026-11-30", "--to", "2026-12-11", "--today", "2026-11-26")
# Tells all it hears at once, not every ten seconds.
PROGRAM = """
import sys
from stockplan.cli import main, progress
progress.SECONDS_BETWEEN_LINES = 0.0
sys.argv[0] = "stockplan"
main()
"""


def test_one_product_is_planned_in_this_process(planner: Planner) -> None:
    assert run("plan", *FORTNIGHT[:2], "--to", "2026-12-04", "--today", "2026-11-23", "--workers", "4").exit_code == 0
    assert planner.limits.seconds == 30.0


@pytest.mark.parametrize(
    ("typed", "status", "words"),
    [
        (["--workers", "0"], 2, "'0' will not do; write a whole number from 1"),
        (["--workers", "2", "--engine", "tcp://127.0.0.1:1"], 2, "leave one of the two out"),
        (["--engine", "tcp://127.0.0.1:1"], 1, "no Dask scheduler answers at 'tcp://127.0.0.1:1'"),
        (["--engine", ""], 1, "no Dask scheduler answers at ''"),
    ],
)
@pytest.mark.usefixtures("planner")
def test_what_cannot_be_is_refused_and_nothing_stored(
    typed: list[str], status: int, words: str, store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cluster, "SECONDS_TO_CONNECT", 0.2)
    result = run("plan", *FORTNIGHT[:2], "--to", "2026-12-04", "--today", "2026-11-23", *typed)
    assert result.exit_code == status
    assert words in " ".join(result.stderr.split())
    with open_store(str(store)) as opened, opened.reading() as session:
        assert list(read_plans(session)) == []


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX systems")
def test_interrupted_as_a_terminal_does_it_every_product_has_the_best_plan_so_far(store: Path) -> None:
    fill(store, week_of([12, 10], 1))
    child = subprocess.Popen(
        [sys.executable, "-c", PROGRAM, "plan", *FORTNIGHT, "--workers", "2", "--seconds", "100", "--json", "-"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip
    improved = set()
    for line in child.stderr or ():
        if ": improving" in line:
            improved.add(line.partition(":")[0])
        if improved == {"G30", "G40"}:
            break
    os.killpg(child.pid, signal.SIGINT)  # to every process of the group, as a terminal does
    output, messages = child.communicate(timeout=40)
    assert child.returncode == 0, messages
    assert "Traceback" not in messages
    assert "planned again" not in messages
    plan = json.loads(output)
    assert {product["ended_by"] for product in plan["products"]} == {"interrupt"}


def told(product: str, seconds: float = 1.0) -> Progress:
    return Progress(product, "looking", None, None, seconds)


def test_without_a_terminal_each_product_with_news_has_a_line(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    clock: Iterator[float] = iter([0.0, 1.0, 2.0, 3.0, 11.0, 12.0, 22.0])
    monkeypatch.setattr("stockplan.cli.progress.time.monotonic", lambda: next(clock))
    with shown_progress() as report:
        for product, seconds in (("G30", 1), ("G40", 2), ("G30", 3), ("G30", 4), ("G40", 5), ("G40", 6)):
            report(told(product, seconds))
    assert capsys.readouterr().err == "G30: looking (4 s)\nG40: looking (2 s)\nG40: looking (6 s)\n"


def test_on_a_terminal_no_more_products_are_shown_than_fit() -> None:
    news = News()
    for number in range(MOST_LINES + 3):
        shown = news.latest(told(f"P{number:02d}"))
    assert [one.product for one in shown] == [f"P{number:02d}" for number in range(3, MOST_LINES + 3)]
    assert news.latest(told("P00"))[0].product == "P00"
