"""The README's way from a paper sketch to a planned lawn, typed as it stands there, in an empty folder."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


def block(mark: str) -> str:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    (found,) = re.findall(rf"^<!-- {re.escape(mark)} -->\n```\w*\n(.*?)^```$", text, re.DOTALL | re.MULTILINE)
    return str(found)


@pytest.mark.slow
def test_a_sketch_becomes_a_planned_and_drawn_lawn(tmp_path: Path) -> None:
    """The searches are cut short; nothing else is changed."""
    (tmp_path / "back.txt").write_text(block("notes"), encoding="utf-8")
    typed = block("walk: yard").replace("stockplan demo trial", "stockplan demo trial --seconds 2")
    typed += block("walk: lawn").replace("stockplan plan", "stockplan plan --seconds 2")
    place = {**os.environ, "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"}
    place.pop("STOCKPLAN_STORE", None)
    done = subprocess.run(
        ["sh", "-ec", typed], cwd=tmp_path, env=place, capture_output=True, text=True, timeout=240, check=False
    )
    assert done.returncode == 0, done.stderr
    assert "Stored on the new job J301." in done.stdout
    assert "as laid out in plan 2" in done.stdout
    assert re.search(r"infill sand +\d+ to \d+ kg", done.stdout)
    drawing = (tmp_path / "day-lawns-J301.svg").read_text(encoding="utf-8")
    assert "J301, lawn back" in drawing
    for strip in set(re.findall(r'data-strip="(\w+)"', drawing)):
        assert f'data-job="J301" data-strip="{strip}"' in (tmp_path / "day-K30.svg").read_text(encoding="utf-8")
