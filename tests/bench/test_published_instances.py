"""Published instances come out of their files as what they are, and into the planner's terms without loss."""

from __future__ import annotations

import csv
import json
from fractions import Fraction
from pathlib import Path

import pytest

from stockplan.bench.__main__ import main
from stockplan.bench.fresh import meets
from stockplan.bench.instances import STEP, NotStated, read_instances, state
from stockplan.bench.known_values import Known, KnownValues
from stockplan.bench.plans import Limits
from stockplan.bench.published import measure_folder
from stockplan.domain.stock import StockForm, SupplyForm
from stockplan.domain.worth import stock_worth

WINSTON = {  # Winston, Operations Research, the Woodco example: 19 boards of 17
    "name": "Woodco",
    "stock": [{"length": 17, "cost": None, "copies": None}],
    "items": [{"length": 3, "demand": 25}, {"length": 5, "demand": 20}, {"length": 9, "demand": 15}],
}
FLAT = {
    "name": "two sheets",
    "stock": [
        {"width": 120, "height": 80, "cost": 9600, "copies": None},
        {"width": 100, "height": 90, "cost": 9000, "copies": 3},
    ],
    "items": [{"width": 70, "height": 30, "demand": 4, "profit": 2100}],
}


def written(folder: Path, *records: object) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    for number, record in enumerate(records):
        (folder / f"{number}.json").write_text(json.dumps(record), encoding="utf-8")
    return folder


def known_values(folder: Path, *rows: tuple[str, str, str, str, str]) -> KnownValues:
    """Values from (instance, objective, lower, upper, source) beside the folder."""
    with (folder.parent / "known_values.csv").open("w", encoding="utf-8", newline="") as opened:
        writer = csv.writer(opened)
        writer.writerow(("family", "instance", "objective_meaning", "known_optimum_or_LB", "UB", "source"))
        writer.writerows((folder.name, *row) for row in rows)
        writer.writerow(
            ("another family", "two sheets", "min #bins; 3-stage NON-EXACT first cut vertical", "1", "1", "")
        )
    return KnownValues.of(folder)


def test_one_dimension_becomes_full_width_strips_on_rolls_of_one_step(tmp_path: Path) -> None:
    (instance,) = read_instances(written(tmp_path / "i", WINSTON) / "0.json")
    stated = state(instance)
    (offer,) = stated.request.supply
    assert (offer.form, offer.length_mm, offer.price_pence) == (SupplyForm.ROLL, 17, STEP)
    strips = [strip for job in stated.request.jobs for strip in job.strips]
    assert {strip.width_mm for strip in strips} == {offer.width_mm}
    assert [(strip.length_mm, strip.count) for strip in strips] == [(3, 25), (5, 20), (9, 15)]
    assert stated.unit == 1
    assert not stated.request.costs.leftovers_have_worth
    assert (stated.request.costs.crosscut_pence, stated.request.costs.rip_pence) == (0, 0)


def test_short_form_of_items_and_lists_of_instances_are_read(tmp_path: Path) -> None:
    short = {**WINSTON, "items": [[3, 25], [5, 20], [9, 15]], "optimum": 19}
    full, brief = read_instances(written(tmp_path / "i", [WINSTON, short]) / "0.json")
    assert full.demands == brief.demands
    assert (full.optimum, brief.optimum) == (None, 19)
    assert KnownValues([]).known(brief, "width") == Known(Fraction(19), Fraction(19))


@pytest.mark.parametrize(("along", "sheet", "strip"), [("width", (80, 120), (30, 70)), ("height", (120, 80), (70, 30))])
def test_the_side_named_runs_along_the_roll(
    tmp_path: Path, along: str, sheet: tuple[int, int], strip: tuple[int, int]
) -> None:
    (instance,) = read_instances(written(tmp_path / "i", FLAT) / "0.json")
    request = state(instance, along).request  # type: ignore[arg-type]
    assert (request.supply[0].width_mm, request.supply[0].length_mm) == sheet
    wanted = request.jobs[0].strips[0]
    assert (wanted.width_mm, wanted.length_mm, wanted.count) == (*strip, 4)


def test_a_number_of_copies_lies_in_the_yard_at_what_a_sheet_costs(tmp_path: Path) -> None:
    (instance,) = read_instances(written(tmp_path / "i", FLAT) / "0.json")
    stated = state(instance)
    assert stated.unit == 600  # the greatest common measure of 9600 and 9000
    assert [offer.price_pence for offer in stated.request.supply] == [16 * STEP]
    assert [(item.form, stock_worth(item, 90)) for item in stated.request.stock] == [(StockForm.ROLL, 15 * STEP)] * 3
    assert len({item.tag for item in stated.request.stock}) == 3
    assert {item.batch for item in stated.request.stock} == {"one"}


def test_costs_with_decimals_are_kept_whole(tmp_path: Path) -> None:
    sheets = [{"length": 5, "cost": 2.5, "copies": None}, {"length": 6, "cost": 3.75, "copies": None}]
    (instance,) = read_instances(written(tmp_path / "i", {**WINSTON, "stock": sheets}) / "0.json")
    stated = state(instance)
    assert [offer.price_pence * stated.unit / STEP for offer in stated.request.supply] == [
        Fraction(5, 2),
        Fraction(15, 4),
    ]


def test_what_cannot_be_stated_is_said(tmp_path: Path) -> None:
    record = {**WINSTON, "items": [{"length": 3.5, "demand": 1}]}
    (instance,) = read_instances(written(tmp_path / "i", record) / "0.json")
    with pytest.raises(NotStated, match=r"size 3\.5 is no whole number"):
        state(instance)


VERTICAL = "min #bins; 3-stage NON-EXACT first cut vertical; no rotation"
HORIZONTAL = "min #bins; 2-stage NON-EXACT guillotine, first cut HORIZONTAL, no rotation"


def test_only_figures_for_the_same_first_cut_compare_and_fewer_stages_bound_nothing(tmp_path: Path) -> None:
    folder = written(tmp_path / "i", FLAT)
    (instance,) = read_instances(folder / "0.json")
    values = known_values(
        folder,
        ("two sheets", VERTICAL, "7", "9", "computed"),
        ("two sheets", HORIZONTAL, "8", "10", "published"),
        ("two sheets", "min #bins; 3-stage, first cut vertical", "9", "9", "LB is for the homogenous variant"),
        ("two sheets", "min #bins; oriented, NON-guillotine", "", "5", "published"),
        ("another", VERTICAL, "1", "1", "computed"),
    )
    assert values.known(instance, "width") == Known(Fraction(7), Fraction(9))
    assert values.known(instance, "height") == Known(None, Fraction(10))
    assert values.along(instance) == "width"
    assert (values.known(instance, "width").words(), values.known(instance, "height").words()) == (
        "7 to 9",
        "at most 10",
    )


def test_a_figure_for_whichever_first_cut_is_better_compares_with_costs_but_not_with_bounds(tmp_path: Path) -> None:
    folder = written(tmp_path / "i", FLAT)
    (instance,) = read_instances(folder / "0.json")
    values = known_values(folder, ("two sheets", "min #bins; 3-stage homogenous, any first cut", "3", "6", "published"))
    known = values.known(instance, "width")
    assert known == Known(None, Fraction(6), same_side=False)
    assert values.known(instance, "height") == known


def test_height_runs_along_where_figures_are_for_a_horizontal_first_cut(tmp_path: Path) -> None:
    folder = written(tmp_path / "i", FLAT)
    (instance,) = read_instances(folder / "0.json")
    assert known_values(folder, ("two sheets", HORIZONTAL, "8", "10", "")).along(instance) == "height"
    assert KnownValues([]).along(instance) == "width"


def test_a_family_with_another_aim_is_not_planned(tmp_path: Path) -> None:
    folder = written(tmp_path / "i", FLAT)
    known_values(folder, ("two sheets", "max profit from ONE sheet; 2-stage", "5", "5", ""))
    (one,) = measure_folder(folder, Limits(1))
    assert one.outcome is None
    assert one.why_not == "not stated: max profit from ONE sheet"


def test_a_published_optimum_is_met_in_a_fresh_process(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = written(tmp_path / "woods", WINSTON)
    known_values(folder, ("Woodco", "min #rolls (unlimited)", "19", "19", "Winston, Operations Research"))
    assert main(["--instances", str(folder), "--seconds", "20", "--work", "150"]) == 0
    (row,) = [line for line in capsys.readouterr().out.splitlines() if "Woodco" in line]
    cells = [cell.strip() for cell in row.strip("│ ").split("│")]
    assert cells[2:9] == ["60", "19", "19", "0", "19", "0.00", "optimal"]
    assert cells[-1] == "0"


@pytest.mark.parametrize(
    ("best", "bound", "step", "met"),
    [
        (300, 201, 100, True),
        (300, 200, 100, False),
        (300, 300, 100, True),
        (300, 300, None, False),
        (300, None, 100, False),
    ],
)
def test_a_bound_meets_a_cost_when_no_plan_can_cost_anything_between(
    best: int, bound: int | None, step: int | None, met: bool
) -> None:
    assert meets(best, bound, step) is met


def test_a_bound_above_a_published_plan_is_a_fault(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = written(tmp_path / "woods", WINSTON)
    known_values(folder, ("Woodco", "min #rolls (unlimited)", "20", "1", "made up: no such plan"))
    assert main(["--instances", str(folder), "--seconds", "20", "--work", "150"]) == 1
    complaints = capsys.readouterr().err
    assert "is above the published plan's 1" in complaints
    assert "cost 19 is below the published bound 20" in complaints
