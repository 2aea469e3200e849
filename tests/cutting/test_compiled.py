"""What is compiled is kept for as long as all that went into it stays as it is."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import stockplan
from stockplan.cutting import compiled
from stockplan.cutting.compiled import sources_of

PROGRAM = """
import numpy as np
from stockplan.cutting.rows import fits
from stockplan.cutting import flat
facts = np.zeros(64, dtype=np.int64)
facts[20 + flat.WIDTH] = 1
facts[flat.GATES + 20] = 30
facts[30] = 1
print(fits(facts, 20, 40), sum(fits.stats.cache_hits.values()), fits.py_func.__code__.co_filename)
"""


def run(folder: Path) -> tuple[str, ...]:
    environment = {**os.environ, "NUMBA_CACHE_DIR": str(folder / "kept"), "PYTHONPATH": str(folder)}
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM], cwd=folder, env=environment, capture_output=True, text=True, check=True
    )
    return tuple(done.stdout.split())


def test_what_is_kept_is_dropped_when_a_constant_of_another_module_changes(tmp_path: Path) -> None:
    shutil.copytree(Path(stockplan.__file__).parent, tmp_path / "stockplan", ignore=shutil.ignore_patterns("*.nb?"))
    assert run(tmp_path)[:2] == ("False", "0")
    found = run(tmp_path)
    assert found[:2] == ("False", "1")
    assert found[2].startswith(str(tmp_path))
    flat = tmp_path / "stockplan" / "cutting" / "flat.py"
    text = flat.read_text(encoding="utf-8")
    assert "WIDTH, LENGTH = range(2)" in text
    flat.write_text(text.replace("WIDTH, LENGTH = range(2)", "LENGTH, WIDTH = range(2)"), encoding="utf-8")
    assert run(tmp_path)[:2] == ("False", "0")


def test_nothing_is_kept_where_numba_does_not_take_the_stamp(monkeypatch: pytest.MonkeyPatch) -> None:
    def twice(number: int) -> int:
        return 2 * number

    assert getattr(compiled.compiled(twice), "stats").cache_path is not None  # noqa: B009  numba's
    monkeypatch.setattr(compiled, "STAMP", "_called_otherwise")
    ready = compiled.compiled(twice)
    assert getattr(ready, "stats").cache_path is None  # noqa: B009
    assert ready(21) == 42


def test_the_modules_that_a_module_leads_to() -> None:
    names = {path.name for path in sources_of(Path(stockplan.__file__).parent / "cutting" / "trials.py")}
    assert {"trials.py", "piles.py", "rows.py", "flat.py", "worth.py"} <= names
    assert "search.py" not in names
