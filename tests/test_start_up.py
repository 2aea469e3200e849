"""What is slow to import stays away until a command needs it."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

HEAVY = ("pandas", "ortools", "sqlalchemy", "numba", "numpy", "alembic", "openpyxl", "shapely")
RUN = """
import sys
from stockplan.cli import main
sys.argv = ["stockplan", *sys.argv[1:]]
try:
    main()
except SystemExit as end:
    assert not end.code, end.code
print(" ".join(name for name in {heavy} if name in sys.modules), file=sys.stderr)
"""


def imported(*arguments: str) -> set[str]:
    """Which heavy packages a command has imported by its end."""
    command = [sys.executable, "-c", RUN.format(heavy=HEAVY), *arguments]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    return set(done.stderr.splitlines()[-1].split())


@pytest.fixture(scope="module")
def demo_store(tmp_path_factory: pytest.TempPathFactory) -> str:
    store = str(tmp_path_factory.mktemp("start-up") / "yard.db")
    sheets = Path(__file__).parent.parent / "demo_data"
    assert "pandas" in imported("--store", store, "import", str(sheets))
    return store


@pytest.mark.parametrize("arguments", [["--help"], ["--version"], ["plan", "--help"], ["stock", "--help"]])
def test_help_imports_nothing_heavy(arguments: list[str]) -> None:
    assert imported(*arguments) == set()


@pytest.mark.parametrize(
    "command",
    [
        ["stock", "--json"],
        ["receive", "N-1", "4x24", "--product", "K24", "--bay", "F1", "--cost", "9"],
        ["hold", "R-201", "Q-1", "--until", "2099-01-01"],
        ["count", "F1", "R-201", "--yes"],
    ],
    ids=lambda command: command[0],
)
def test_yard_commands_import_nothing_heavy(command: list[str], demo_store: str) -> None:
    assert imported("--store", demo_store, *command) == set()


def test_the_life_of_a_plan_imports_nothing_heavy(demo_store: str) -> None:
    week = ("--from", "2026-11-30", "--to", "2026-12-01", "--today", "2026-11-26", "--work", "1")
    subprocess.run([sys.executable, "-m", "stockplan", "--store", demo_store, "plan", *week], check=False)
    for command in (
        ["accept", "--today", "2026-11-26"],
        ["plans"],
        ["orders"],
        ["stock", "--product", "K2"],
        ["jobs"],
        ["withdraw", "1"],
    ):
        assert imported("--store", demo_store, *command) == set(), command


def test_verifying_imports_only_the_database(demo_store: str) -> None:
    assert imported("--store", demo_store, "verify") <= {"sqlalchemy"}


def test_help_is_quick() -> None:
    """The target is 0.3 s; processor time leaves out what else the machine is doing, and so does the best of five."""
    command = [sys.executable, "-c", "from stockplan.cli import main; main()", "--help"]
    best = 9.0
    for _ in range(5):
        before = os.times()
        subprocess.run(command, stdout=subprocess.DEVNULL, check=True)
        after = os.times()
        spent = after.children_user + after.children_system - before.children_user - before.children_system
        best = min(best, spent)
    assert best < 0.3
