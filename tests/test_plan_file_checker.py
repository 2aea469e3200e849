"""The checker of plan files: sound files pass, and a file with one thing changed does not."""

from __future__ import annotations

import ast
import copy
import csv
import json
import random
import subprocess
import sys
from collections.abc import Callable
from datetime import date, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any

import plan_file_checker
import pytest
from builders import Case
from plan_file_checker import check_plan_file
from random_cases import random_case

from stockplan.domain.stock import StockForm

File = dict[str, Any]
SEEDS = range(40)


def write_sheet(path: Path, header: str, rows: list[list[object]]) -> None:
    with path.open("w", encoding="utf-8-sig", newline="") as file:
        csv.writer(file).writerows([header.split(), *rows])


def write_folder(case: Case, folder: Path) -> None:
    """The request as spreadsheets."""
    request = case.request
    offers = [
        [s.product, s.supplier, s.form, s.width_mm / 1000, s.length_mm / 1000, s.price_pence / 100, s.lead_days]
        for s in request.supply
    ]
    write_sheet(folder / "supply.csv", "product supplier form width_m length_m price lead_days", offers)
    items = [
        [i.tag, i.product, i.batch, i.form, i.width_mm / 1000, i.length_mm / 1000, i.bay, i.cost_pence_per_m2 / 100]
        for i in request.stock
    ]
    write_sheet(folder / "stock.csv", "tag product batch form width_m length_m bay cost_per_m2", items)
    jobs = [[j.code, j.site, j.product, j.lay_on, j.pile_towards, j.batch_rule] for j in request.jobs]
    beyond = request.window.last + timedelta(days=1)
    jobs.append(["later", "elsewhere", "G30", beyond, "road", ""])
    write_sheet(folder / "jobs.csv", "job site product lay_on pile_towards batch_rule", jobs)
    strips = [
        [j.code, s.label, s.width_mm / 1000, s.length_mm / 1000, s.count if s.count > 1 else ""]
        for j in request.jobs
        for s in j.strips
    ]
    write_sheet(folder / "strips.csv", "job strip width_m length_m count", [*strips, ["later", "A", 1, 1, 1]])


def place(part: Any) -> File:
    return {key: getattr(part, key) for key in ("across_mm", "along_mm", "width_mm", "length_mm")}


def plan_file(case: Case) -> File:
    """The plan as the plan file describes it."""
    plan, stock = case.plan, {item.tag: item for item in case.request.stock}
    used = sum(entry.value_pence for entry in plan.stock_used())
    left = sum(entry.value_pence for entry in plan.leftovers())
    from_stock = [piece for piece in plan.pieces() if piece.source in stock]
    return {
        "format": "stockplan-plan",
        "version": 1,
        "window": {"from": str(plan.window.first), "to": str(plan.window.last)},
        "currency": plan.currency,
        "products": [
            {
                "product": p.product,
                "status": str(p.status),
                "net_cost": p.net_cost_pence / 100,
                "lower_bound": p.lower_bound_pence / 100,
                "gap": round(p.gap, 6),
                "seconds": p.seconds,
            }
            for p in plan.products
        ],
        "orders": [
            {
                "order": o.key,
                "product": o.product,
                "supplier": o.supplier,
                "form": str(o.form),
                "width_mm": o.width_mm,
                "length_mm": o.length_mm,
                "price": o.price_pence / 100,
                "order_by": str(o.order_by),
                "arrives_on": str(o.arrives_on),
            }
            for o in plan.orders()
        ],
        "pieces": [
            {"job": p.job, "strip": p.strip, "number": p.number, "source": p.source, "batch": p.batch, **place(p)}
            for p in plan.pieces()
        ],
        "stock_used": [{"source": u.source, "value": u.value_pence / 100} for u in plan.stock_used()],
        "leftovers": [
            {"source": x.source, **place(x), "keep": x.keep, "value": x.value_pence / 100, "reason": x.reason}
            for x in plan.leftovers()
        ],
        "short": [{"job": s.job, "strip": s.strip, "count": s.count, "reason": s.reason} for s in plan.short()],
        "totals": {
            "net_cost": plan.net_cost_pence / 100,
            "order_cost": sum(o.price_pence for o in plan.orders()) / 100,
            "stock_value": used / 100,
            "leftover_value": left / 100,
            "cutting_cost": sum(p.cutting_cost_pence for p in plan.products) / 100,
            "area_needed_m2": round(sum(job.area_mm2 for job in case.request.jobs) / 1e6, 1),
            "area_ordered_m2": round(sum(o.width_mm * o.length_mm for o in plan.orders()) / 1e6, 1),
            "area_from_stock_m2": round(sum(p.width_mm * p.length_mm for p in from_stock) / 1e6, 1),
            "offcuts_used": len({p.source for p in from_stock if stock[p.source].form is StockForm.OFFCUT}),
        },
    }


@lru_cache
def cases() -> list[Case]:
    return [random_case(random.Random(seed).randint) for seed in SEEDS]


def faults(case: Case, file: File, folder: Path) -> list[str]:
    write_folder(case, folder)
    path = folder / "plan.json"
    path.write_text(json.dumps(file), encoding="utf-8")
    return check_plan_file(folder, path)


def test_sound_files_pass(tmp_path: Path) -> None:
    found = {seed: faults(case, plan_file(case), tmp_path) for seed, case in zip(SEEDS, cases(), strict=True)}
    assert {seed: names for seed, names in found.items() if names} == {}


def add(part: str, key: str, step: float) -> Callable[[File], bool]:
    """Change one figure of the first entry of a part."""

    def change(file: File) -> bool:
        entries = file[part] if isinstance(file[part], list) else [file[part]]
        if entries:
            entries[0][key] = round(entries[0][key] + step, 6)
        return bool(entries)

    return change


def say(part: str, key: str, value: object) -> Callable[[File], bool]:
    """Put something else in one place of the first entry of a part."""

    def change(file: File) -> bool:
        entries = file[part] if isinstance(file[part], list) else [file]
        if entries:
            entries[0][key] = value
        return bool(entries)

    return change


def drop(part: str) -> Callable[[File], bool]:
    """Leave out the last entry of a part."""
    return lambda file: bool(file[part] and [file[part].pop()])


def repeat(part: str) -> Callable[[File], bool]:
    """List the last entry of a part twice."""
    return lambda file: bool(file[part]) and not file[part].append(copy.deepcopy(file[part][-1]))


def turn(file: File) -> bool:
    piece = file["pieces"][0]
    piece["width_mm"], piece["length_mm"] = piece["length_mm"], piece["width_mm"]
    return piece["width_mm"] != piece["length_mm"]


def delay(file: File) -> bool:
    for order in file["orders"][:1]:
        for key in ("order_by", "arrives_on"):
            order[key] = str(date.fromisoformat(order[key]) + timedelta(days=7))
    return bool(file["orders"])


def other_status(file: File) -> bool:
    entry = file["products"][0]
    entry["status"] = "feasible" if entry["status"] != "feasible" else "optimal"
    return True


def bound_above(file: File) -> bool:
    entry = file["products"][0]
    entry["lower_bound"] = entry["net_cost"] + 0.01
    return True


def no_such_part(file: File) -> bool:
    return bool(file.pop("leftovers", None) is not None)


def without_cutting_cost(file: File) -> bool:
    return file["totals"].pop("cutting_cost") not in {round(v, 2) for v in file["totals"].values()}


MUTATIONS: dict[str, Callable[[File], bool]] = {
    "piece missing": drop("pieces"),
    "piece twice": repeat("pieces"),
    "piece turned": turn,
    "piece too wide": add("pieces", "width_mm", 1),
    "piece moved across": add("pieces", "across_mm", 1),
    "piece moved along": add("pieces", "along_mm", -1),
    "piece misnumbered": add("pieces", "number", 100),
    "piece for nobody": say("pieces", "job", "J999"),
    "piece for a job after the window": say("pieces", "job", "later"),
    "piece of another strip": say("pieces", "strip", "?"),
    "piece from nowhere": say("pieces", "source", "R-999"),
    "piece in half millimetres": add("pieces", "length_mm", 0.5),
    "order missing": drop("orders"),
    "order twice": repeat("orders"),
    "order mispriced": add("orders", "price", 0.01),
    "order of another length": add("orders", "length_mm", 10),
    "order from elsewhere": say("orders", "supplier", "Nobody"),
    "order late": delay,
    "order too quick": say("orders", "order_by", "2026-11-30"),
    "stock used missing": drop("stock_used"),
    "stock used twice": repeat("stock_used"),
    "stock used misvalued": add("stock_used", "value", 0.01),
    "leftover missing": drop("leftovers"),
    "leftover twice": repeat("leftovers"),
    "leftover grown": add("leftovers", "length_mm", 1),
    "leftover misvalued": add("leftovers", "value", 0.01),
    "leftover binned at a value": lambda f: [x.update(keep=False) for x in f["leftovers"] if x["value"]] != [],
    "short missing": drop("short"),
    "short miscounted": add("short", "count", 1),
    "short without reason": say("short", "reason", " "),
    "status": other_status,
    "bound above cost": bound_above,
    "gap": add("products", "gap", 0.01),
    "net cost": add("products", "net_cost", 0.01),
    "total net cost": add("totals", "net_cost", 0.01),
    "total order cost": add("totals", "order_cost", -0.01),
    "cutting cost not shown": without_cutting_cost,
    "area needed": add("totals", "area_needed_m2", 1000),
    "area ordered": add("totals", "area_ordered_m2", 0.2),
    "area from stock": add("totals", "area_from_stock_m2", 1000),
    "offcuts used": add("totals", "offcuts_used", 1),
    "product missing": drop("products"),
    "format": say("format", "format", "something else"),
    "leftovers not there": no_such_part,
}


@pytest.mark.parametrize("mutation", MUTATIONS.values(), ids=MUTATIONS.keys())
def test_a_changed_file_is_at_fault(mutation: Callable[[File], bool], tmp_path: Path) -> None:
    tried = 0
    for case in cases():
        file = plan_file(case)
        if mutation(file):
            tried += 1
            assert faults(case, file, tmp_path), f"nothing found wrong in {json.dumps(file)}"
    assert tried >= 5


def test_what_is_cut_already_is_no_part_of_the_area_needed(tmp_path: Path) -> None:
    """One job is begun, another is short: the area needed is neither that of the pieces nor that of all strips."""
    tried = 0
    for case in cases():
        file, path = plan_file(case), tmp_path / "strips.csv"
        whole = sum(job.area_mm2 for job in case.request.jobs) / 1e6
        if not file["short"] or not file["pieces"]:
            continue
        tried += 1
        job, strip = file["pieces"][0]["job"], file["pieces"][0]["strip"]
        file["totals"]["area_needed_m2"] = whole
        file["cut_already"] = [{"job": job, "strip": strip, "count": 1, "batch": file["pieces"][0]["batch"]}]
        for piece in file["pieces"]:
            piece["number"] += (piece["job"], piece["strip"]) == (job, strip)
        write_folder(case, tmp_path)
        rows = [row.split(",") for row in path.read_text(encoding="utf-8-sig").split()]
        for row in rows:
            row[4] = str(int(row[4] or 1) + 1) if row[:2] == [job, strip] else row[4]
        path.write_text("\n".join(map(",".join, rows)), encoding="utf-8")
        (tmp_path / "plan.json").write_text(json.dumps(file), encoding="utf-8")
        assert check_plan_file(tmp_path, tmp_path / "plan.json") == []
    assert tried >= 5


def test_batches_are_judged_by_the_spreadsheet_and_not_by_what_the_plan_says(tmp_path: Path) -> None:
    """A job that wants one batch and gets two, with the file calling both by one name."""
    tried = 0
    for case in cases():
        file = plan_file(case)
        batches: dict[str, set[str]] = {}
        for piece in file["pieces"]:
            batches.setdefault(piece["job"], set()).add(piece["batch"])
        mixed = {job for job, names in batches.items() if len(names) > 1}
        write_folder(case, tmp_path)
        path = tmp_path / "jobs.csv"
        text = path.read_text(encoding="utf-8-sig").replace(",any", ",")
        path.write_text(text, encoding="utf-8")
        for piece in file["pieces"]:
            piece["batch"] = "B1"
        (tmp_path / "plan.json").write_text(json.dumps(file), encoding="utf-8")
        named = {
            fault.split(":")[0] for fault in check_plan_file(tmp_path, tmp_path / "plan.json") if "one batch" in fault
        }
        assert named == mixed
        tried += bool(mixed)
    assert tried >= 5


#   +-------+---+
#   |   1   |   |
#   +---+---+ 2 |
#   |   | 5 |   |
#   | 4 +---+---+
#   |   |   3   |
#   +---+-------+
def test_the_pinwheel_cannot_be_cut_and_a_trim_can() -> None:
    pinwheel = [(0, 0, 2, 1, True), (2, 0, 1, 2, True), (1, 2, 2, 1, True), (0, 1, 1, 2, True), (1, 1, 1, 1, False)]
    assert not plan_file_checker.comes_apart(pinwheel)
    cell = [(0, 0, 7, 8, True), (7, 0, 3, 8, False)]
    rest = [(0, 8, 10, 4, True), (10, 0, 5, 9, True), (10, 9, 5, 3, True)]
    assert plan_file_checker.comes_apart(cell + rest)
    assert not plan_file_checker.comes_apart([(*cell[0][:4], True), (*cell[1][:4], True), *rest])


def test_as_a_command(tmp_path: Path) -> None:
    case = cases()[0]
    file = plan_file(case)
    assert faults(case, file, tmp_path) == []
    command = [sys.executable, str(plan_file_checker.__file__), str(tmp_path)]
    assert subprocess.run([*command, tmp_path / "plan.json"], capture_output=True, check=False).returncode == 0
    file["pieces"].pop()
    (tmp_path / "plan.json").write_text(json.dumps(file), encoding="utf-8")
    run = subprocess.run([*command, tmp_path / "plan.json"], capture_output=True, text=True, check=False)
    assert run.returncode == 1
    assert run.stdout.strip()
    assert subprocess.run(command, capture_output=True, check=False).returncode == 2


def test_it_imports_nothing_but_the_standard_library() -> None:
    tree = ast.parse(Path(str(plan_file_checker.__file__)).read_text(encoding="utf-8"))
    names = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    names |= {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    assert {str(name).partition(".")[0] for name in names} <= sys.stdlib_module_names
