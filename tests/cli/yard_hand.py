"""What yard commands are typed again and again: a roll comes in, a command is to go through or to be refused."""

from __future__ import annotations

import json

from typed_commands import run

NEW = ("receive", "R-9", "3.98x24.85", "--product", "G30", "--batch", "B9", "--bay", "F1", "--cost", "10.60")


def ok(*arguments: str) -> str:
    result = run(*arguments)
    assert result.exit_code == 0, result.stderr
    return result.stdout


def refused(*arguments: str, status: int = 1) -> str:
    result = run(*arguments)
    assert (result.exit_code, result.stdout) == (status, "")
    return result.stderr


def items() -> dict[str, dict[str, object]]:
    return {item["tag"]: item for item in json.loads(ok("stock", "--json"))["items"]}
