"""What a wheel carries, and that the lock file holds for every machine."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


@pytest.mark.slow
def test_a_wheel_carries_the_program_its_migrations_and_the_demo(tmp_path: Path) -> None:
    subprocess.run(
        [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--wheel-dir", tmp_path, ROOT], check=True
    )
    (wheel,) = tmp_path.glob("stockplan-*.whl")
    with zipfile.ZipFile(wheel) as archive:
        carried = set(archive.namelist())
    expected = {path.relative_to(ROOT).as_posix() for path in (ROOT / "stockplan").rglob("*.py")}
    for folder, kind in ("migrations", "*.py"), ("demo_data", "*.csv"):
        expected |= {f"stockplan/{path.relative_to(ROOT).as_posix()}" for path in (ROOT / folder).rglob(kind)}
    assert "stockplan/py.typed" in carried
    assert expected <= carried
    assert not any(name.startswith(("tests/", ".")) for name in carried)


def test_the_command_starts_where_the_project_says() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    module, function = project["scripts"]["stockplan"].split(":")
    code = f"import sys; from {module} import {function}; sys.argv = ['stockplan', '--version']; {function}()"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == f"stockplan {project['version']}\n"


def test_the_lock_file_names_the_public_index_alone() -> None:
    lock = (ROOT / "uv.lock").read_text(encoding="utf-8")
    assert set(re.findall(r'registry = "([^"]*)"', lock)) == {"https://pypi.org/simple"}
    assert "file:" not in lock


def test_the_lock_file_holds_what_the_project_asks_for() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    lock = tomllib.loads((ROOT / "uv.lock").read_text(encoding="utf-8"))
    (own,) = (package for package in lock["package"] if package["name"] == "stockplan")
    asked = {re.match(r"[\w-]+", need)[0] for need in project["dependencies"]}  # type: ignore[index]
    assert asked == {need["name"] for need in own["dependencies"]}
    extras = {extra: {need["name"] for need in needs} for extra, needs in own["optional-dependencies"].items()}
    assert extras.keys() == project["optional-dependencies"].keys()
    for extra, needs in project["optional-dependencies"].items():
        assert {re.match(r"[\w-]+", need)[0] for need in needs} == extras[extra]  # type: ignore[index]
