"""The file of a plan with a lawn that nothing can lay, before the checker that knows only what files are to be."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from builders import JOB, small_request
from plan_file_checker import check_plan_file
from typed_commands import WEEK, run

from stockplan.bench.weeks import write_folder
from stockplan.domain.stock import Product


def test_the_grass_of_a_lawn_that_nothing_can_lay_may_be_missing_and_that_of_strips_may_not(tmp_path: Path) -> None:
    request = small_request(JOB, replace(JOB, code="J9", product="G99", strips=()))
    write_folder(replace(request, products=(*request.products, Product("G99", "out of the range", 2500))), tmp_path)
    corners = [(1, 0, 0), (2, 3, 0), (3, 3, 2), (4, 0, 2)]
    rows = [f"J9,back,{corner},{x},{y},edge" for corner, x, y in corners]
    (tmp_path / "lawns.csv").write_text("\n".join(["job,lawn,corner,x_m,y_m,part", *rows, ""]))
    assert run("import", str(tmp_path)).exit_code == 0
    planned = run("plan", *WEEK, "--seconds", "1", "--json", str(tmp_path / "plan.json"))
    assert planned.exit_code == 3, planned.output
    assert "J9 is not planned: G99 neither lies in the yard nor is on offer" in planned.stderr
    assert check_plan_file(tmp_path, tmp_path / "plan.json") == []
    (tmp_path / "strips.csv").write_text((tmp_path / "strips.csv").read_text() + "J9,A,3,2,1\n")
    faults = check_plan_file(tmp_path, tmp_path / "plan.json")
    assert "products: are ['G30']; would be ['G30', 'G99'], once each" in faults
