"""The documents name what exists, and nothing the program offers goes undocumented."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import typer

from stockplan import cli
from stockplan.domain.check import RULES

ROOT = Path(__file__).parent.parent
README_COMMAND = ROOT / ".ci/readme_command.py"
CODE = re.compile(r"^```\w*\n(.*?)^```$|`([^`\n]+)`", re.DOTALL | re.MULTILINE)


def commands() -> dict[str, Any]:
    group = typer.main.get_command(cli.app)
    return dict(_walk(group, ""))


def _walk(group: Any, path: str) -> Iterator[tuple[str, Any]]:
    for name, command in getattr(group, "commands", {}).items():
        full = f"{path} {name}".strip()
        if getattr(command, "commands", None):
            yield from _walk(command, full)
        else:
            yield full, command


def code_in(document: str) -> str:
    text = (ROOT / document).read_text(encoding="utf-8")
    return "\n".join(fenced or inline for fenced, inline in CODE.findall(text))


def test_there_are_commands() -> None:
    assert {"demo", "import", "plan", "stock"} <= commands().keys()


@pytest.mark.parametrize("name", sorted(commands()))
def test_every_command_and_option_has_help(name: str) -> None:
    command = commands()[name]
    assert command.help
    for parameter in command.params:
        assert getattr(parameter, "help", None), f"{name}: {parameter.name} has no help"


def test_every_command_is_in_the_readme() -> None:
    code = code_in("README.md")
    missing = [name for name in commands() if not re.search(rf"\bstockplan {re.escape(name)}\b(?!-)", code)]
    assert not missing


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md"])
def test_every_command_the_documents_name_exists(document: str) -> None:
    known = {name.split()[0] for name in commands()}
    named = set(re.findall(r"\bstockplan ([a-z][a-z-]*)", code_in(document)))
    assert named <= known


@pytest.mark.parametrize("name", ["demo", "tests"])
def test_readme_has_the_command_that_continuous_integration_runs(name: str) -> None:
    found = subprocess.run([sys.executable, README_COMMAND, name], capture_output=True, text=True, check=True)
    assert found.stdout.startswith("python3 -m venv .venv && .venv/bin/pip install ")
    assert found.stdout in (ROOT / "README.md").read_text(encoding="utf-8")


def test_a_mark_that_is_not_there_is_refused() -> None:
    found = subprocess.run([sys.executable, README_COMMAND, "nothing"], check=False, capture_output=True, text=True)
    assert found.returncode == 1
    assert "0 blocks marked 'nothing'" in found.stderr


def mapped() -> list[str]:
    """Paths in the tree that DEVELOPERS.md shows under the mark `<!-- map -->`: two spaces deeper is inside."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    (tree,) = re.findall(r"^<!-- map -->\n```\w*\n(.*?)^```$", text, re.DOTALL | re.MULTILINE)
    folders: list[str] = []
    paths = []
    for line in tree.splitlines():
        depth = (len(line) - len(line.lstrip())) // 2
        name = line.split()[0]
        del folders[depth:]
        paths.append("".join(folders) + name)
        if name.endswith("/"):
            folders.append(name)
    return paths


def test_what_the_map_names_exists() -> None:
    missing = [path for path in mapped() if not (ROOT / path).exists()]
    assert not missing


def test_the_map_names_every_module() -> None:
    modules = {path.relative_to(ROOT).as_posix() for path in (ROOT / "stockplan").rglob("*.py")}
    missing = sorted({path for path in modules if not path.endswith("__init__.py")} - set(mapped()))
    assert not missing


def test_the_map_names_what_tests_share_in_order() -> None:
    shared = {f"tests/{path.name}" for path in (ROOT / "tests").glob("*.py") if not path.name.startswith("test_")}
    assert [path for path in mapped() if path.startswith("tests/") and path != "tests/"] == sorted(shared)


def test_paths_in_developers_prose_exist() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    paths = re.findall(r"`((?:stockplan|tests|migrations|demo_data|\.ci)/[\w./-]*)`", text)
    missing = [path for path in paths if not (ROOT / path).exists()]
    assert not missing


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md"])
def test_links_within_the_project_lead_somewhere(document: str) -> None:
    text = (ROOT / document).read_text(encoding="utf-8")
    links = [link for link in re.findall(r"\]\(([^)\s]+)\)", text) if "://" not in link]
    assert [link for link in links if not (ROOT / link).exists()] == []


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md"])
def test_every_module_the_documents_run_exists(document: str) -> None:
    modules = set(re.findall(r"python -m (stockplan[\w.]*)", code_in(document)))
    files = [(ROOT / module.replace(".", "/"), module) for module in modules]
    missing = [
        name for path, name in files if not (path.with_suffix(".py").exists() or (path / "__main__.py").exists())
    ]
    assert modules
    assert missing == []


def test_every_rule_of_the_checker_is_in_the_table_of_invariants() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    (table,) = re.findall(r"^\| no\. \|.*?\n\n", text, re.DOTALL | re.MULTILINE)
    kept_by = " ".join(line.split("|")[3] for line in table.strip().splitlines())
    assert [rule.value for rule in RULES if rule.value not in kept_by] == []


def test_paths_in_the_readmes_prose_exist() -> None:
    code = code_in("README.md")
    paths = re.findall(r"\b((?:stockplan|tests|migrations|demo_data)/[\w./-]*)", code)
    assert paths
    assert [path for path in paths if not (ROOT / path).exists()] == []
