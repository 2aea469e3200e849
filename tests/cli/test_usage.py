"""Everything that is wrong with what was typed after a command's name is told at once."""

from __future__ import annotations

from pathlib import Path

from typed_commands import run


def test_every_value_that_cannot_be_read_and_all_that_is_missing_is_told(store: Path) -> None:
    told = run("receive", "R-1", "4,0x25", "--cost", "abc", "--bay", "F1")
    assert told.exit_code == 2
    assert "'4,0' has a decimal comma; write 4.0" in told.stderr
    assert "'--cost': amount 'abc' cannot be read" in told.stderr
    assert "Missing option '--product'" in told.stderr
    assert told.stderr.count("Invalid value") == 2
    assert not store.exists()


def test_a_single_fault_is_told_as_ever(store: Path) -> None:
    told = run("receive", "R-1", "4x25", "--cost", "abc", "--product", "K30", "--bay", "F1")
    assert told.exit_code == 2
    assert told.stderr.endswith(
        "Error: Invalid value for '--cost': amount 'abc' cannot be read; write a plain number such as 1100.50\n"
    )


def test_help_is_shown_whatever_else_was_typed(store: Path) -> None:
    told = run("receive", "--cost", "abc", "--help")
    assert (told.exit_code, told.stderr) == (0, "")
    assert told.stdout.lstrip().startswith("Usage:")
