"""A real cluster on this machine: the same plan, though a worker is killed; and plain words where it cannot plan."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from importlib import import_module
from pathlib import Path

import pytest

from stockplan.actions import cluster
from stockplan.actions.cluster import Cluster, difference
from stockplan.actions.cluster_ready import make_workers_ready
from stockplan.actions.side_by_side import plan_products
from stockplan.bench.weeks import week_of
from stockplan.cutting import plan_cuts
from stockplan.domain.check import check
from stockplan.domain.plan import Plan
from stockplan.domain.request import Progress, SearchLimits
from stockplan.errors import StockplanError

REQUEST = week_of([8, 7, 6], 1)
BY_WORK = SearchLimits(seconds=60, work=30)
OURS = {"code": "c", "stockplan": "1", "ortools": "9", "numpy": "2"}
PROGRAM = str(Path(cluster.__file__).parents[2])  # where the package lies, so that workers run the very same
STRIPPED = """
import os, sys
sys.path[:] = [folder for folder in sys.path if not os.path.isfile(os.path.join(folder, "stockplan", "__init__.py"))]
"""


def timeless(plan: Plan) -> Plan:
    return replace(plan, products=tuple(replace(one, seconds=0.0) for one in plan.products))


class LocalCluster:
    """A scheduler and workers, each a process started as people start them."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.workers: list[subprocess.Popen[str]] = []
        without = folder / "without"
        without.mkdir()
        (without / "sitecustomize.py").write_text(STRIPPED, encoding="utf-8")
        asked = ("scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard")
        self.scheduler = self._start(*asked, PYTHONPATH=str(without))  # which needs Dask alone
        self.address = self._read(self.scheduler, r"Scheduler at:\s+(tcp://\S+)")

    def add_worker(self, paths: str = PROGRAM, **more: str) -> None:
        worker = self._start(
            "worker", self.address, "--no-nanny", "--nthreads", "1", "--no-dashboard", "--name", str(len(self.workers)),
            PYTHONPATH=paths, **more,
        )  # fmt: skip
        self.workers.append(worker)
        self._read(worker, r"(Registered) to:")

    def _start(self, *arguments: str, **more: str) -> subprocess.Popen[str]:
        code = "import sys; from dask.__main__ import main; sys.argv[0] = 'dask'; sys.exit(main())"
        environment = {"PATH": "/usr/bin:/bin", "HOME": str(self.folder), "PYTHONPATH": PROGRAM, **more}
        return subprocess.Popen(
            [sys.executable, "-c", code, *arguments],
            stderr=subprocess.PIPE, text=True, cwd=self.folder, env=environment,
        )  # fmt: skip

    @staticmethod
    def _read(process: subprocess.Popen[str], pattern: str) -> str:
        heard = []
        for line in process.stderr or ():
            heard.append(line)
            if found := re.search(pattern, line):
                return found[1]
        raise AssertionError("".join(heard))

    def close(self) -> None:
        for process in (*self.workers, self.scheduler):
            process.kill()
            process.communicate()


@pytest.fixture
def local(tmp_path: Path) -> Iterator[LocalCluster]:
    found = LocalCluster(tmp_path)
    yield found
    found.close()


@pytest.mark.slow
def test_same_plan_though_a_worker_is_killed_while_it_plans(local: LocalCluster) -> None:
    for _ in range(2):
        local.add_worker()
    told: list[str] = []
    begun: set[str] = set()

    def hear(progress: Progress) -> None:
        """Kill a worker once both plan something."""
        if progress.phase != "first plan":
            begun.add(progress.product)
        if len(begun) == 2:
            local.workers[0].kill()

    plan = plan_products(REQUEST, BY_WORK, Cluster(local.address), told.append, hear)
    assert local.workers[0].wait(10) == -9
    assert check(REQUEST, plan) == ()
    assert timeless(plan) == timeless(plan_cuts(REQUEST, BY_WORK))
    assert len(told) == 1
    assert "the worker that planned it is gone; it is planned again" in told[0]


@pytest.mark.slow
def test_a_machine_where_the_planner_is_new_is_made_ready_by_one_of_its_workers_and_once(
    local: LocalCluster, tmp_path: Path
) -> None:
    from distributed import Client  # noqa: PLC0415  not needed by the others

    for _ in range(2):
        local.add_worker(NUMBA_CACHE_DIR=str(tmp_path / "compiled"))
    told: list[str] = []
    with Client(local.address, set_as_default=False) as client:
        for _ in range(2):
            make_workers_ready(client, told.append, [partial(os.mkdir, tmp_path / "done")])
    assert told == ["1 machine of the cluster is made ready for the planner, once; that takes a minute or so."]
    assert (tmp_path / "done").is_dir()


@pytest.mark.slow
def test_told_to_stop_and_left_alone(local: LocalCluster, monkeypatch: pytest.MonkeyPatch) -> None:
    local.add_worker()
    heard: set[str] = set()

    def hear(progress: Progress) -> None:
        if progress.phase == "improving":
            heard.add(progress.product)

    began = time.monotonic()
    plan = plan_products(REQUEST, SearchLimits(60), Cluster(local.address), print, hear, lambda: bool(heard))
    assert check(REQUEST, plan) == ()
    assert {one.ended_by for one in plan.products} <= {"interrupt", "proof"}
    assert time.monotonic() - began < 30
    monkeypatch.setattr(cluster, "SECONDS_TO_COME_BACK", 1.0)
    told: list[str] = []
    heard.clear()

    def kill(progress: Progress) -> None:
        if progress.phase != "first plan":
            local.workers[0].kill()

    plan = plan_products(REQUEST, SearchLimits(60, work=1), Cluster(local.address), told.append, kill)
    assert check(REQUEST, plan) == ()
    assert [words for words in told if "the cluster no longer answers; it is planned again in this process" in words]


@pytest.mark.slow
def test_a_scheduler_that_goes_while_an_answer_is_on_its_way(
    local: LocalCluster, monkeypatch: pytest.MonkeyPatch
) -> None:
    from distributed import Future  # noqa: PLC0415  not needed by the others

    local.add_worker()
    fetch = Future.result

    def too_late(future: Future) -> object:
        if local.scheduler.poll() is None:
            local.scheduler.kill()
            local.scheduler.wait(10)
            deadline = time.monotonic() + 10
            while future.client.status == "running" and time.monotonic() < deadline:
                time.sleep(0.05)
        return fetch(future)

    monkeypatch.setattr(Future, "result", too_late)
    monkeypatch.setattr(cluster, "SECONDS_TO_COME_BACK", 1.0)
    told: list[str] = []
    plan = plan_products(REQUEST, SearchLimits(60, work=1), Cluster(local.address), told.append)
    assert check(REQUEST, plan) == ()
    assert any("the cluster has lost it; it is planned again in this process" in words for words in told)


@pytest.mark.slow
def test_workers_that_run_something_else_are_refused(local: LocalCluster, tmp_path: Path) -> None:
    with pytest.raises(StockplanError, match="has no workers; start some with: dask worker"):
        plan_products(REQUEST, BY_WORK, Cluster(local.address), print)
    local.add_worker(str(tmp_path / "without"))
    (tmp_path / "other" / "stockplan").mkdir(parents=True)
    (tmp_path / "other" / "stockplan" / "__init__.py").write_text("", encoding="utf-8")
    local.add_worker(str(tmp_path / "other"))
    with pytest.raises(StockplanError) as refused:
        plan_products(REQUEST, BY_WORK, Cluster(local.address), print)
    lines = sorted(re.sub(r"tcp://\S+", "W", line) for line in str(refused.value).splitlines())
    assert lines[0] == "a cluster must run the same program as this machine"
    assert lines[1] == "worker W has no stockplan; install it there"
    assert re.fullmatch(r"worker W has other code of stockplan \S+; install the same there and restart it", lines[2])


@pytest.mark.slow
def test_a_worker_that_loaded_other_code_is_refused_though_ours_was_installed_since(
    local: LocalCluster, tmp_path: Path
) -> None:
    from distributed import Client  # noqa: PLC0415  not needed by the others

    copied = tmp_path / "copied" / "stockplan"
    shutil.copytree(Path(PROGRAM) / "stockplan", copied, ignore=shutil.ignore_patterns("__pycache__"))
    changed = copied / "domain" / "worth.py"
    ours = changed.read_text(encoding="utf-8")
    changed.write_text(f"{ours}# other\n", encoding="utf-8")
    local.add_worker(str(copied.parent))
    for _ in range(2):
        with pytest.raises(StockplanError, match="has other code of stockplan"):
            plan_products(REQUEST, BY_WORK, Cluster(local.address), print)
        with Client(local.address, set_as_default=False) as client:
            client.run(import_module, "stockplan.cutting")
        changed.write_text(ours, encoding="utf-8")


@pytest.mark.parametrize(
    ("theirs", "words"),
    [
        (OURS, None),
        ({}, "worker W has no stockplan; install it there"),
        ({**OURS, "code": "d"}, "worker W has other code of stockplan 1; install the same there and restart it"),
        ({**OURS, "ortools": "8", "numpy": "1"}, "worker W has ortools 8, not 9, numpy 1, not 2"),
        (KeyError("numpy"), "worker W cannot say what it runs: 'numpy'"),
    ],
)
def test_what_keeps_a_worker_from_planning_as_we_do(theirs: object, words: str | None) -> None:
    assert difference("W", theirs, OURS) == words


@pytest.mark.parametrize("address", ["127.0.0.1:1", "planner", "tcp://127.0.0.1:x", "carrier://pigeon:1", ""])
def test_an_address_where_nobody_answers(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster, "SECONDS_TO_CONNECT", 0.2)
    with pytest.raises(StockplanError, match="no Dask scheduler answers at"):
        plan_products(REQUEST, BY_WORK, Cluster(address), print)


def test_without_dask_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(StockplanError, match=r"needs Dask; install it with: pip install 'stockplan\[engine\]'"):
        plan_products(REQUEST, BY_WORK, Cluster("tcp://127.0.0.1:1"), print)
