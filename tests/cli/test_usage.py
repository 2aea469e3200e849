"""Everything that is wrong with what was typed after a command's name is told at once."""

from __future__ import annotations

from pathlib import Path

import pytest
from typed_commands import run

from stockplan.cli.options import file_named


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


@pytest.mark.parametrize(
    ("typed", "right"),
    [
        (("show", "--drawing", "a.PDF"), "SVG; name it 'a.svg'"),
        (("show", "--json", "a.svg"), "JSON; name it 'a.json'"),
        (("plan", "--from", "2026-11-30", "--to", "2026-12-04", "--drawing", "a.b.png"), "SVG; name it 'a.b.svg'"),
        (("labels", "R-1", "--file", "a.png"), "PDF; name it 'a.pdf'"),
        (("offcut", "R-1", "--label", "a.svg"), "PDF; name it 'a.pdf'"),
        (("count", "F1", "--sheet", "a.xlsx"), "CSV; name it 'a.csv'"),
        (("count", "F1", "--pdf", "a.html"), "PDF; name it 'a.pdf'"),
        (("quote", "2x2", "--product", "G30", "--page", "a.pdf"), "HTML; name it 'a.html'"),
        (("quote", "2x2", "--product", "G30", "--customer", "a.pdf"), "HTML; name it 'a.html'"),
    ],
)
def test_a_file_is_not_named_as_what_it_is_not(store: Path, typed: tuple[str, ...], right: str) -> None:
    told = run(*typed)
    assert told.exit_code == 2
    assert f"' will not do: what is written is {right}" in told.stderr


def test_what_goes_to_files_alone_is_not_written_to_one_named_as_standard_output(store: Path) -> None:
    told = run("show", "--drawing", "-")
    assert told.exit_code == 2
    assert "'-' will not do: SVG goes to a file; name it, such as 'a.svg'" in told.stderr


@pytest.mark.parametrize("day", ["0226-11-30", "9999-12-31", "1969-12-31", "3000-01-01"])
@pytest.mark.parametrize(
    "typed",
    [
        ("quote", "1x2", "--product", "K30", "--today"),
        ("cover", "1x2", "--product", "K30", "--today"),
        ("hold", "R-1", "Q-1", "--until"),
    ],
)
def test_a_day_that_can_only_be_a_slip_is_refused(store: Path, typed: tuple[str, ...], day: str) -> None:
    told = run(*typed, day)
    assert told.exit_code == 2
    assert f"'{day}' will not do; write a day from 1970-01-01 to 2999-12-31" in told.stderr


@pytest.mark.parametrize("name", ["", ".", "/"])
def test_a_name_of_no_file_is_refused(store: Path, name: str) -> None:
    told = run("show", "--drawing", name)
    assert told.exit_code == 2
    assert "names no file; write a name such as 'a.svg'" in told.stderr


@pytest.mark.parametrize("name", ["plan", "plan.JSON", "plan.v2", "plan of 26.11", "-"])
def test_other_names_are_taken_as_they_are(name: str) -> None:
    assert file_named(".json")(name) == Path(name)


@pytest.mark.parametrize(
    "typed",
    [
        ("--store", "LONG", "import", "."),
        ("--store", "LONG", "measure-lawn", "J1", "6 x 4"),
        ("--store", "LONG", "restore", "copy.db"),
        ("restore", "LONG"),
        ("import", "LONG"),
        ("labels", "R-1", "--file", "LONG"),
        ("offcut", "--product", "K30", "--label", "LONG"),
        ("count", "F1", "--sheet", "LONG"),
        ("plan", "--from", "2026-11-30", "--to", "2026-12-04", "--json", "LONG"),
    ],
)
def test_a_name_that_the_system_refuses_is_told(store: Path, typed: tuple[str, ...]) -> None:
    """So is a folder that may not be entered, which root may always do."""
    name = str(store.parent / ("x" * 300))
    told = run(*(name if word == "LONG" else word for word in typed))
    assert told.exit_code == 1
    assert told.stderr == f"stockplan: {name} cannot be used: File name too long; nothing was stored.\n"


@pytest.mark.parametrize(
    "typed", [("labels", "R-1", "--file"), ("plan", "--from", "2026-11-30", "--to", "2026-12-04", "--json")]
)
def test_a_link_to_itself_ends_in_words(store: Path, typed: tuple[str, ...]) -> None:
    (store.parent / "loop").symlink_to("loop")
    told = run(*typed, str(store.parent / "loop"))
    assert told.exit_code == 1
    assert told.stderr.startswith("stockplan: there is no store at ")


@pytest.mark.parametrize(
    ("typed", "refused"),
    [
        ("count F1 --yes --write-off-missing", "--yes and --write-off-missing: nothing is said of what was found"),
        ("count F1 R-1 --sheet a.csv --json", "--sheet and --json: what was found is written down"),
        ("count F1 --found a.csv --pdf a.pdf", "--pdf: what was found is written down"),
        ("count --due 3 --found a.csv", "--found: --due only lists what nobody has seen"),
        ("offcut --product K30 --length 2 --width 1 --bay F1 --rest 3", "--rest: is what is left of the parent"),
        ("cover 1x2 --product K30 --take 2", "--take: says which answer to hold"),
    ],
)
def test_what_would_do_nothing_is_not_taken_for_done(store: Path, typed: str, refused: str) -> None:
    told = run(*typed.split())
    assert (told.exit_code, told.stdout) == (2, "")
    assert f"Invalid value for {refused}" in told.stderr
