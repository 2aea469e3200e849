"""The plan file with lawns laid out: fits the schema, adds up, reads back as it was written."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path

import pytest
from builders import Case
from plan_file_checker import check_plan_file
from schemas import published, validator
from test_plan_file_checker import write_folder

from stockplan.cutting.planner import plan_cuts
from stockplan.cutting.strips import grass_of, job_layouts
from stockplan.domain.check import check
from stockplan.domain.jobs import BatchRule, Job, Strip, Window
from stockplan.domain.lawn import EdgeNote, Lawn, LawnPlace, Point
from stockplan.domain.layout import LayoutSettings
from stockplan.domain.picked import with_picked_layouts
from stockplan.domain.pile import PileKind, PileWish
from stockplan.domain.plan import Plan
from stockplan.domain.request import PlanRequest, SearchLimits
from stockplan.domain.stock import Product, StockForm, StockItem, SupplyForm, SupplyOption
from stockplan.report.plan_file import plan_to_json
from stockplan.report.plan_reader import read_plan, read_request

MONDAY = date(2026, 11, 30)


def ring(*corners: tuple[int, int]) -> tuple[Point, ...]:
    return tuple(Point(x, y) for x, y in corners)


def planned_lawns() -> tuple[PlanRequest, Plan]:
    """An L with a tree and a front lawn on one job, one job that cannot be covered, one with strips of its own."""
    back = Lawn(
        "back",
        ring((0, 0), (7000, 0), (7000, 3500), (3000, 3500), (3000, 8000), (0, 8000)),
        (ring((500, 500), (900, 500), (700, 900)),),
        (EdgeNote(0, "house"), EdgeNote(3, "door", no_seam=True)),
        LawnPlace.BACK,
        y_bearing=12.5,
        cannot_be_seen_with=("front",),
    )
    front = Lawn("front", ring((0, 0), (3500, 0), (3500, 2500), (0, 2500)), pile=PileWish(PileKind.OPEN))
    huge = Lawn("field", ring((0, 0), (9000, 0), (9000, 30000), (0, 30000)))
    day = MONDAY
    jobs = (
        Job("J1", "Larch Row", "G30", day, "house", BatchRule.ONE, (), (back, front)),
        Job("J2", "Larch Row", "G30", day, "", BatchRule.ONE, (), (huge,), PileWish(PileKind.OPEN)),
        Job("J3", "Larch Row", "G30", day, "", BatchRule.ONE, (Strip("A", 1500, 2000),)),
    )
    stock = (
        StockItem("R1", "G30", "B1", StockForm.ROLL, 4000, 25000, "north", 1000),
        StockItem("R2", "G30", "B1", StockForm.PART_ROLL, 2000, 9000, "north", 1000),
    )
    supply = (SupplyOption("G30", "Fernlea Mills", SupplyForm.ROLL, 4000, 25000, 90_000, 30),)
    request = PlanRequest(Window(day, day), date(2026, 11, 23), (Product("G30", "", 2500),), supply, stock, jobs)
    grass = grass_of(request, "G30")
    assert grass is not None
    laid = [job if job.strips else replace(job, layouts=job_layouts(job, grass, LayoutSettings())) for job in jobs]
    request = replace(request, jobs=tuple(laid))
    return request, plan_cuts(request, SearchLimits(seconds=20, work=60))


case = cache(planned_lawns)


def test_the_plan_is_sound_and_picks_a_layout_for_each_job_with_lawns() -> None:
    request, plan = case()
    assert check(request, plan) == ()
    assert [chosen.job for chosen in plan.layouts()] == ["J1", "J2"]
    assert {short.job for short in plan.short()} == {"J2"}
    assert [chosen.seam_cost_pence > 0 for chosen in plan.layouts()] == [True, False]


def test_the_file_fits_the_schema_and_adds_up() -> None:
    request, plan = case()
    document = json.loads(plan_to_json(with_picked_layouts(request, plan), plan))
    validator(published("plan")).validate(document)
    totals = document["totals"]
    parts = totals["order_cost"] + totals["stock_value"] - totals["leftover_value"] + totals["cutting_cost"]
    assert totals["net_cost"] == pytest.approx(parts + totals["seam_cost"])
    assert totals["seam_cost"] == pytest.approx(sum(entry["seam_cost"] for entry in document["layouts"]))
    placed = {
        (entry["job"], strip["strip"], strip["number"]): (strip["width_mm"], strip["length_mm"])
        for entry in document["layouts"]
        for lawn in entry["lawns"]
        for strip in lawn["strips"]
    }
    for piece in document["pieces"]:
        if piece["job"] == "J1":
            key = (piece["job"], piece["strip"], piece["number"])
            assert placed[key] == (piece["width_mm"], piece["length_mm"])


def test_every_key_written_is_in_the_schema() -> None:
    request, plan = case()
    document = json.loads(plan_to_json(with_picked_layouts(request, plan), plan))
    schema = published("plan")
    for entry in document["layouts"]:
        assert set(entry) == set(schema["$defs"]["layout"]["properties"])
        for lawn in entry["lawns"]:
            assert set(lawn) == set(schema["$defs"]["laid_lawn"]["properties"])
            assert all(set(one) == set(schema["$defs"]["laid_strip"]["properties"]) for one in lawn["strips"])
            assert all(set(one) == set(schema["$defs"]["seam"]["properties"]) for one in lawn["seams"])
    for job in document["jobs"]:
        assert set(job) <= set(schema["$defs"]["job"]["properties"])
        assert all(set(lawn) == set(schema["$defs"]["lawn"]["properties"]) for lawn in job.get("lawns", ()))


def test_reading_back_gives_the_plan_the_lawns_and_the_same_text() -> None:
    request, plan = case()
    settled = with_picked_layouts(request, plan)
    text = plan_to_json(settled, plan)
    again, asked = read_plan(text), read_request(text)
    assert [(p.layouts, p.short, p.cuts) for p in again.products] == [
        (p.layouts, p.short, p.cuts) for p in plan.products
    ]
    assert [(job.lawns, job.pile, job.strips) for job in asked.jobs] == [
        (job.lawns, job.pile, job.strips) for job in settled.jobs
    ]
    assert plan_to_json(asked, again) == text


def test_a_checker_that_shares_nothing_with_the_program_judges_layouts_too(tmp_path: Path) -> None:
    request, plan = case()
    write_folder(Case(request, plan), tmp_path)
    (tmp_path / "lawns.csv").write_text(
        "job,lawn,corner,x_m,y_m,part\nJ1,back,0,0,0,edge\nJ2,field,0,0,0,edge\n", "utf-8"
    )
    file = tmp_path / "plan.json"
    text = plan_to_json(with_picked_layouts(request, plan), plan)
    file.write_text(text, "utf-8")
    assert check_plan_file(tmp_path, file) == []
    for name in ("strip narrower", "strip missing", "strip over another", "seams for nothing"):
        document = json.loads(text)
        entry = document["layouts"][0]
        strips = entry["lawns"][0]["strips"]
        if name == "strip narrower":
            strips[0]["width_mm"] -= 10
        elif name == "strip missing":
            del strips[0]
        elif name == "strip over another":
            strips[1]["across_from_mm"] -= 10
        else:
            entry["seam_cost"] = 0.0
        file.write_text(json.dumps(document), "utf-8")
        assert check_plan_file(tmp_path, file), name
