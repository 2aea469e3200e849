"""A reader who stops reading ends no command early, and Ctrl-C while the program loads leaves no traceback."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from typed_commands import WEEK, fill, small_case

from stockplan.cli.pipes import PatientStream
from stockplan.errors import StockplanError

PROGRAM = """
import sys
sys.argv = ["stockplan", *sys.argv[1:]]
from stockplan.__main__ import main
main()
"""
# Ctrl-C arrives when the program asks for its first library.
PRESSED_EARLY = """
import os, signal, sys
signal.signal(signal.SIGINT, signal.default_int_handler)  # whoever runs the tests may have it ignored

class Press:
    def find_spec(self, name, path=None, target=None):
        if name == "typer":
            os.kill(os.getpid(), signal.SIGINT)

sys.meta_path.insert(0, Press())
from stockplan.__main__ import main
main()
print("not reached")
"""


@pytest.fixture
def yard(store: Path) -> Path:
    fill(store, small_case().request)
    return store


def unread(*arguments: str, errors_too: bool = False) -> subprocess.CompletedProcess[str]:
    """Run a command whose standard output nobody reads from the beginning, which is the earliest they can leave."""
    ours, theirs = os.pipe()
    os.close(ours)
    try:
        return subprocess.run(
            [sys.executable, "-c", PROGRAM, *arguments],
            check=False, stdout=theirs, stderr=theirs if errors_too else subprocess.PIPE, text=True, timeout=60,
        )  # fmt: skip
    finally:
        os.close(theirs)


def test_a_plan_nobody_reads_is_stored_and_its_file_written(yard: Path, tmp_path: Path) -> None:
    done = unread("plan", *WEEK, "--work", "1", "--json", str(tmp_path / "plan.json"))
    assert done.returncode == 0, done.stderr
    assert "This is plan 1;" in done.stderr
    assert "Traceback" not in done.stderr
    assert "BrokenPipe" not in done.stderr
    assert json.loads((tmp_path / "plan.json").read_text(encoding="utf-8"))["format"] == "stockplan-plan"


@pytest.mark.parametrize("command", [["plan", *WEEK, "--work", "1", "--json", "-"], ["stock"], ["jobs"], ["--help"]])
def test_what_nobody_reads_ends_as_if_it_were_read(yard: Path, command: list[str]) -> None:
    done = unread(*command)
    assert done.returncode == 0, done.stderr
    assert "Traceback" not in done.stderr
    assert "BrokenPipe" not in done.stderr


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_a_full_disk_is_told_in_words() -> None:
    with open("/dev/full", "w", encoding="utf-8") as full:
        with pytest.raises(StockplanError, match="what is printed cannot be written: No space left on device"):
            PatientStream(full).write("a long list" * 10_000)
        assert PatientStream(full).write("the rest goes nowhere" * 10_000)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
@pytest.mark.parametrize(
    ("arguments", "stored"),
    [
        (["verify"], "nothing was stored"),
        (["settings", "rip_pence", "310"], "what was done up to then is stored"),
        (["--version"], "nothing was stored"),
    ],
)
def test_a_full_disk_is_told_in_words_by_the_command(yard: Path, arguments: list[str], stored: str) -> None:
    with open("/dev/full", "w", encoding="utf-8") as full:
        done = subprocess.run(
            [sys.executable, "-c", PROGRAM, *arguments], check=False, stdout=full, stderr=subprocess.PIPE, text=True
        )
    told = f"stockplan: what is printed cannot be written: No space left on device; {stored}.\n"
    assert (done.returncode, done.stderr) == (1, told)


@pytest.mark.parametrize(
    ("closed", "arguments", "status"),
    [
        (">&-", ["settings", "rip_pence", "310"], 0),
        ("2>&-", ["settings", "rip_pence", "310"], 0),
        ("2>&-", ["history", "nothing"], 1),
        ("<&-", ["offcut", "--product", "G30"], 2),
        ("<&- >&- 2>&-", ["stock"], 0),
    ],
)
def test_closed_streams_change_nothing(yard: Path, closed: str, arguments: list[str], status: int) -> None:
    done = subprocess.run(
        ["sh", "-c", f'"$0" "$@" {closed}', sys.executable, "-c", PROGRAM, *arguments],
        check=False, capture_output=True, text=True,
    )  # fmt: skip
    assert done.returncode == status, done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("locale", "bay", "shown"),
    [
        ({"PYTHONIOENCODING": "ascii"}, "Höhe", r"H\u00f6he"),
        ({"LC_ALL": "C", "PYTHONCOERCECLOCALE": "0", "PYTHONUTF8": "0"}, "F7", "F7"),  # nor could more be typed
    ],
)
def test_letters_that_the_output_lacks_are_printed_as_numbers(
    yard: Path, locale: dict[str, str], bay: str, shown: str
) -> None:
    def told(*arguments: str) -> str:
        done = subprocess.run(
            [sys.executable, "-c", PROGRAM, *arguments],
            check=True, capture_output=True, text=True, env={**os.environ, **locale},
        )  # fmt: skip
        return done.stdout

    given = ("--product", "G30", "--bay", bay, "--cost", "10")
    assert rf"R-9: received, 3.00 \u00d7 5.00 m, bay {shown} " in told("receive", "R-9", "3x5", *given)
    (item,) = json.loads(told("stock", "--bay", bay, "--json"))["items"]
    assert item["bay"] == bay


def test_messages_nobody_reads_change_no_exit_status(yard: Path, tmp_path: Path) -> None:
    assert unread("plan", *WEEK, "--work", "1", errors_too=True).returncode == 0
    assert unread("import", str(tmp_path / "nowhere"), errors_too=True).returncode == 1
    assert unread("cut", errors_too=True).returncode == 2


def test_ctrl_c_while_the_program_loads() -> None:
    done = subprocess.run([sys.executable, "-c", PRESSED_EARLY], check=False, capture_output=True, text=True)
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "")


# A thread is at work when the command is done, as an engine is that a search had to leave. What is registered for the
# end of Python would be run if it took itself apart.
LEFT_AT_WORK = """
import atexit, sys, threading
atexit.register(print, "Python took itself apart")
threading.Thread(target=threading.Event().wait, daemon=True).start()
sys.argv = ["stockplan", *sys.argv[1:]]
from stockplan.__main__ import main
main()
"""


@pytest.mark.parametrize(("arguments", "status"), [(["--version"], 0), (["show", "7"], 1), (["nonsense"], 2)])
def test_an_engine_left_at_work_does_not_outlive_the_command(store: Path, arguments: list[str], status: int) -> None:
    done = subprocess.run(
        [sys.executable, "-c", LEFT_AT_WORK, "--store", str(store), *arguments],
        check=False, capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert done.returncode == status
    assert done.stdout or done.stderr
    assert "apart" not in done.stdout


def test_what_a_library_prints_past_python_spoils_no_output() -> None:
    code = """
import os, sys
from stockplan.cli.pipes import print_alone
print("ours")
print_alone()
os.write(1, b"a library's\\n")
print("ours too")
"""
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True, timeout=60)
    assert done.stdout == "ours\nours too\n"
    closed = subprocess.run(
        ["sh", "-c", f"{sys.executable} -c 'from stockplan.cli.pipes import print_alone; print_alone()' >&-"],
        check=False, capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert (closed.returncode, closed.stderr) == (0, "")
