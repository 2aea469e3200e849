"""Two runs side by side say what changed; another commit is run by its own source; the chart shows the figures."""

from __future__ import annotations

import re
import subprocess
from dataclasses import replace
from io import StringIO
from math import log10
from pathlib import Path
from xml.etree import ElementTree

import pytest
from rich.console import Console

from stockplan.bench.__main__ import main
from stockplan.bench.compared import checked_out, comparison_tables
from stockplan.bench.plans import Limits, WeeksRun, save
from stockplan.bench.scaling import Scale, draw_scaling
from stockplan.bench.timing import Outcome, time_plan

FOUND = Outcome(
    digest="d", pieces=20, items=15, foreman=11_000_00, cost=10_000_00, bound=9_900_00, status="feasible",
    ended_by="clock", short=0, ordered=1, work=7, first_plan=0.5, near_bound=None, seconds=20.0,
    peak_bytes=100 * 2**20, violations=(), rather_near=2.0,
)  # fmt: skip
# Stands for another commit: tells of a week what only it can know, its own folder.
OTHER_FRESH = """
import json, os, sys
for record in (
    {"step": "start", "products": ["A"]},
    {"step": "plan", "digest": "d", "pieces": 1, "items": 1, "foreman": None, "cost": 1, "bound": 1,
     "status": "optimal", "ended_by": os.path.basename(os.path.dirname(os.path.dirname(os.path.dirname(__file__)))),
     "short": 0, "ordered": 0, "work": len(sys.argv), "peak_bytes": None},
    {"step": "checked", "violations": []},
):
    print(json.dumps(record), flush=True)
"""


def run_of(**outcomes: Outcome) -> WeeksRun:
    return WeeksRun(Limits(20), "some machine", {(name[:-1], int(name[-1])): found for name, found in outcomes.items()})


def printed(before: WeeksRun, after: WeeksRun) -> list[list[str]]:
    """The cells of every row with a week."""
    console = Console(width=220, record=True, file=StringIO())
    console.print(*comparison_tables(before, after, ("old", "new")))
    return [line.strip("│ ").split("│") for line in console.export_text().splitlines() if line.startswith("│")]


def test_the_change_stands_beside_what_changed() -> None:
    new = replace(FOUND, cost=9_900_00, bound=9_900_00, near_bound=3.0, first_plan=0.4, peak_bytes=150 * 2**20)
    rows = [[cell.strip() for cell in row] for row in printed(run_of(S0=FOUND), run_of(S0=new))]
    assert [" ".join(row) for row in rows] == [
        "S0 10,000.00 9,900.00 -1.00 % 9,900.00 9,900.00 +0.00 % 1.00 0.00 -1.00",
        "S0 0.5 0.4 -0.1 2.0 2.0 +0.0 - 3.0 - 20.0 20.0 +0.0 100 150 +50",
    ]


def test_other_weeks_are_not_compared() -> None:
    rows = printed(run_of(S0=replace(FOUND, digest="e")), run_of(S0=FOUND, S1=FOUND))
    assert [row[1].strip() for row in rows] == ["another week", "not run"] * 2


def test_two_saved_runs_are_set_side_by_side(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    save(run_of(S0=FOUND), tmp_path / "old.json")
    save(run_of(S0=replace(FOUND, cost=9_950_00)), tmp_path / "new.json")
    assert main(["--compare", str(tmp_path / "old.json"), str(tmp_path / "new.json")]) == 0
    shown = capsys.readouterr().out
    assert "old.json (20 s, some machine), then new.json (20 s)" in shown
    assert "-0.50 %" in shown


def test_another_checkout_is_run_by_its_own_source(tmp_path: Path) -> None:
    package = tmp_path / "other" / "stockplan" / "bench"
    package.mkdir(parents=True)
    for folder in (package.parent, package):
        (folder / "__init__.py").write_text("", encoding="utf-8")
    (package / "fresh.py").write_text(OTHER_FRESH, encoding="utf-8")
    assert time_plan(["--week", "S"], tmp_path / "other").ended_by == "other"


def in_git() -> bool:
    asked = subprocess.run(
        ["git", "-C", str(Path(__file__).parent), "rev-parse", "HEAD"], capture_output=True, check=False
    )
    return asked.returncode == 0


@pytest.mark.skipif(not in_git(), reason="no git checkout of the project")
def test_a_commit_is_checked_out_for_a_while() -> None:
    with checked_out("HEAD") as folder:
        assert (folder / "stockplan" / "bench" / "fresh.py").is_file()
    assert not folder.exists()
    with pytest.raises(ValueError, match="git worktree"), checked_out("no-such-commit"):
        pass


# --- the chart --------------------------------------------------------------------------------------------------------


def drawing_of(*runs: WeeksRun) -> ElementTree.Element:
    return ElementTree.fromstring(draw_scaling(runs))


def texts(svg: ElementTree.Element) -> list[str]:
    return [element.text or "" for element in svg.iter() if element.tag.endswith("}text")]


def test_marks_lie_where_the_scales_say() -> None:
    large = replace(FOUND, pieces=200, first_plan=5.0, seconds=100.0, rather_near=None, peak_bytes=1000 * 2**20)
    svg = drawing_of(run_of(S0=FOUND), run_of(M0=large, M1=large))
    shapes = {name: [e for e in svg.iter() if e.tag.endswith("}" + name)] for name in ("circle", "polygon")}
    times, memory = shapes["circle"][:-3], shapes["circle"][-3:]
    key = times.pop()  # the mark beside its name
    assert key.get("r") == times[0].get("r")
    across = [float(mark.get("cx", "")) for mark in (times[0], times[1])]
    up = [float(mark.get("cy", "")) for mark in (times[0], times[1])]
    labels = {e.text: e for e in svg.iter() if e.tag.endswith("}text")}
    ten, hundred = (float(labels[name].get("x", "")) for name in ("10", "100"))
    assert len(times) == len(memory) == 3
    assert across[1] > across[0]
    assert up[1] < up[0]
    assert (up[0] - up[1]) / 70 == pytest.approx(log10(5.0 / 0.5) / log10(100 / 0.1), rel=1e-3)
    assert (across[1] - across[0]) / 86 == pytest.approx(log10(200 / 20) / log10(1000 / 10), rel=1e-3)
    assert ten < hundred
    assert {"first sound plan", "within 2 %", "search ended", "pieces in the week", "S", "M"} <= set(texts(svg))
    assert texts(svg).count("1.0 %") == 4  # the gap, under each size on both panels
    assert any("1 S with 20 s; 2 M with 20 s" in text for text in texts(svg))


def test_texts_stay_on_the_page_and_apart() -> None:
    runs = [
        WeeksRun(
            Limits(600, None, 2),
            "Python 3.11.7, Linux x86_64, 2 processors",
            {(size, 0): replace(FOUND, pieces=pieces, seconds=seconds)},
        )
        for size, pieces, seconds in (("S", 20, 20.0), ("M", 90, 60.0), ("L", 450, 120.0), ("XL", 4500, 600.0))
    ]
    svg = drawing_of(*runs)
    boxes = []
    for element in svg.iter():
        if element.tag.endswith("}text") and element.text:
            size = float(element.get("font-size", ""))
            width = 0.62 * size * len(element.text)
            before = {"start": 0.0, "middle": width / 2, "end": width}[element.get("text-anchor", "")]
            left = float(element.get("x", "")) - before
            top = float(element.get("y", "")) - 0.75 * size
            boxes.append((left, top, left + width, top + 0.8 * size, element.text))
    assert all(left >= 0 and right <= 250 and top >= 0 and bottom <= 138 for left, top, right, bottom, _ in boxes)
    for number, one in enumerate(boxes):
        for other in boxes[number + 1 :]:
            apart = one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
            assert apart, (one, other)


def test_no_memory_known_and_no_week_at_all() -> None:
    assert "not measured on this system" in texts(drawing_of(run_of(S0=replace(FOUND, peak_bytes=None))))
    with pytest.raises(ValueError, match="no week to draw"):
        draw_scaling([run_of()])


def test_chart_is_drawn_from_saved_runs(tmp_path: Path) -> None:
    save(run_of(S0=FOUND), tmp_path / "s.json")
    chart = tmp_path / "chart.svg"
    assert main(["--chart", str(chart), "--saved", str(tmp_path / "s.json")]) == 0
    assert re.search("<svg", chart.read_text(encoding="utf-8"))


def test_a_scale_of_one_value_is_one_decade_and_names_its_steps() -> None:
    scale = Scale([3.0], 0.0, 10.0)
    assert scale.steps() == [1.0, 2.0, 5.0, 10.0]
    assert scale.at(10.0) == 10.0
