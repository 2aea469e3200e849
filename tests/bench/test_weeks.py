"""The invented weeks are what they say, and the same every time."""

from __future__ import annotations

import csv
import subprocess
import sys
from pathlib import Path

import pytest

from stockplan.bench.weeks import FIRST_DAY, SIZES, week, write_folder
from stockplan.domain.jobs import BatchRule
from stockplan.domain.stock import StockForm
from stockplan.store.sheets import read_folder

SEEDS = range(6)


@pytest.mark.parametrize("size", ["S", "M", "L", "XL"])
def test_amounts_are_those_of_the_size(size: str) -> None:
    request = week(size, 1)
    amounts = SIZES[size]
    assert len(request.products) == amounts.products
    assert len(request.jobs) == amounts.jobs
    assert len(request.stock) == amounts.items
    assert sum(job.piece_count for job in request.jobs) == amounts.pieces


@pytest.mark.parametrize("seed", SEEDS)
def test_same_seed_same_week(seed: int) -> None:
    assert week("M", seed) == week("M", seed)
    assert week("M", seed) != week("M", seed + 1)


def test_same_week_in_another_process_with_another_hash_seed(tmp_path: Path) -> None:
    for hash_seed in "1", "2":
        subprocess.run(
            [sys.executable, "-m", "stockplan.bench.weeks", "--size", "M", "--seed", "3", "--to", tmp_path / hash_seed],
            check=True,
            env={"PYTHONHASHSEED": hash_seed},
        )
    write_folder(week("M", 3), tmp_path / "here")
    for file in sorted((tmp_path / "here").iterdir()):
        assert (tmp_path / "1" / file.name).read_bytes() == file.read_bytes()
        assert (tmp_path / "2" / file.name).read_bytes() == file.read_bytes()


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("size", ["S", "M"])
def test_week_hangs_together(size: str, seed: int) -> None:
    request = week(size, seed)
    assert len({item.tag for item in request.stock}) == len(request.stock)
    assert len({job.code for job in request.jobs}) == len(request.jobs)
    step = 10 if seed % 3 == 2 else 50
    widest_on_offer = {p.code: max(s.width_mm for s in request.supply if s.product == p.code) for p in request.products}
    for job in request.jobs:
        assert job.lay_on in request.window
        assert job.lay_on.weekday() < 5
        assert 1 <= job.piece_count <= 5
        assert len({strip.label for strip in job.strips}) == len(job.strips)
        for strip in job.strips:
            assert 600 <= strip.width_mm <= widest_on_offer[job.product]
            assert 2_500 <= strip.length_mm <= 12_000
            assert strip.width_mm % step == 0
            assert strip.length_mm % step == 0
    for item in request.stock:
        if item.form is StockForm.ROLL:
            assert (item.width_mm, item.length_mm) == (4_000, 25_000)
        elif item.form is StockForm.PART_ROLL:
            assert item.width_mm in {3_970, 4_000}
            assert 3_000 <= item.length_mm <= 22_000
        else:
            assert 600 <= item.width_mm <= 4_000
            assert 1_000 <= item.length_mm <= 8_000


def test_large_weeks_hold_every_kind_of_thing() -> None:
    request = week("L", 0)
    assert {job.batch_rule for job in request.jobs} == set(BatchRule)
    assert {item.form for item in request.stock} == set(StockForm)
    assert any(not item.batch for item in request.stock)
    assert any(strip.width_mm < 4_000 for job in request.jobs for strip in job.strips)
    assert {(job.lay_on - FIRST_DAY).days for job in request.jobs} == {0, 1, 2, 3, 4, 7, 8, 9, 10, 11}
    rolls = sum(item.form is StockForm.ROLL for item in request.stock)
    assert 0.14 <= rolls / len(request.stock) <= 0.21


def test_folder_holds_the_columns_of_the_contract(tmp_path: Path) -> None:
    write_folder(week("S", 0), tmp_path)
    headers = {}
    for file in tmp_path.iterdir():
        with file.open(encoding="utf-8", newline="") as opened:
            headers[file.name] = next(csv.reader(opened))
    assert headers == {
        "products.csv": ["product", "description", "weight_kg_m2"],
        "supply.csv": ["product", "supplier", "form", "width_m", "length_m", "price", "lead_days"],
        "stock.csv": ["tag", "product", "batch", "form", "width_m", "length_m", "bay", "cost_per_m2"],
        "jobs.csv": ["job", "site", "product", "lay_on", "pile_towards", "batch_rule"],
        "strips.csv": ["job", "strip", "width_m", "length_m", "count"],
    }


def test_unknown_size_is_refused() -> None:
    with pytest.raises(ValueError, match="'XXL' is not one of S, M, L, XL"):
        week("XXL", 0)


@pytest.mark.parametrize(("size", "seed"), [("S", 0), ("S", 1), ("M", 2), ("XL", 3)])
def test_folder_read_back_gives_the_same_things(size: str, seed: int, tmp_path: Path) -> None:
    request = week(size, seed)
    write_folder(request, tmp_path)
    read = read_folder(tmp_path)
    assert (read.products, read.supply, read.stock, read.jobs) == (
        request.products,
        request.supply,
        request.stock,
        request.jobs,
    )
    assert read.lawns == {}
