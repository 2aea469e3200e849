"""The invented firm is what its README says: counted and reckoned from the files alone."""

from __future__ import annotations

import csv
from collections import Counter, defaultdict
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from stockplan.cutting import plan_cuts
from stockplan.cutting.strips import grass_of, job_layouts
from stockplan.domain.check_layout import check_layout
from stockplan.domain.jobs import Window
from stockplan.domain.layout import LayoutSettings
from stockplan.domain.request import PlanRequest, SearchLimits
from stockplan.store.sheets import read_folder

DEMO = Path(__file__).parent.parent / "demo_data"
TODAY = date(2026, 11, 26)

Row = dict[str, str]


def rows(name: str) -> list[Row]:
    with (DEMO / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def stock() -> list[Row]:
    return rows("stock")


def holds(item: Row, width: str, length: str) -> bool:
    return Decimal(item["width_m"]) >= Decimal(width) and Decimal(item["length_m"]) >= Decimal(length)


def test_counts(stock: list[Row]) -> None:
    assert len(rows("products")) == 3
    assert len(stock) == 60
    assert len(rows("jobs")) == 25
    assert Counter(item["form"] for item in stock) == {"roll": 8, "part_roll": 15, "offcut": 37}
    assert {row["form"] for row in rows("supply")} == {"roll", "cut_length"}


def test_everything_is_named_once_and_nothing_hangs_loose(stock: list[Row]) -> None:
    products = {row["product"] for row in rows("products")}
    jobs = rows("jobs")
    assert len({item["tag"] for item in stock}) == len(stock)
    assert len({job["job"] for job in jobs}) == len(jobs)
    assert {row["product"] for row in [*stock, *jobs, *rows("supply")]} == products
    in_strips, measured = ({row["job"] for row in rows(name)} for name in ("strips", "lawns"))
    assert in_strips | measured == {job["job"] for job in jobs}
    assert not in_strips & measured


def test_jobs_fill_two_working_weeks() -> None:
    days = {date.fromisoformat(job["lay_on"]) for job in rows("jobs")}
    assert (min(days), max(days)) == (date(2026, 11, 30), date(2026, 12, 11))
    assert all(day.weekday() < 5 for day in days)


def test_weights_and_prices_are_believable() -> None:
    for product in rows("products"):
        assert 2 <= Decimal(product["weight_kg_m2"]) <= 3
    for option in rows("supply"):
        if option["form"] == "roll" and option["width_m"] == "4":
            assert 900 <= Decimal(option["price"]) <= 2000
        assert int(option["lead_days"]) > 0


def test_the_impossible_job_cannot_be_covered_from_any_batch_nor_bought_in_time(stock: list[Row]) -> None:
    (job,) = (job for job in rows("jobs") if job["job"] == "J221")
    (strip,) = (strip for strip in rows("strips") if strip["job"] == "J221")
    assert job["batch_rule"] == "one"
    in_batch: dict[str, int] = defaultdict(int)
    for item in stock:
        if item["product"] == job["product"] and holds(item, strip["width_m"], strip["length_m"]):
            in_batch[item["batch"]] += int(Decimal(item["length_m"]) / Decimal(strip["length_m"]))
    assert in_batch == {"0101": 2, "0093": 1}
    assert int(strip["count"]) == 4
    day_before = date.fromisoformat(job["lay_on"]) - timedelta(days=1)
    lead = min(int(option["lead_days"]) for option in rows("supply") if option["product"] == job["product"])
    assert TODAY + timedelta(days=lead) == day_before + timedelta(days=2)


def test_the_best_fitting_offcut_is_needed_by_a_bigger_job_laid_later(stock: list[Row]) -> None:
    laid = {job["job"]: job["lay_on"] for job in rows("jobs")}
    assert laid["J206"] < laid["J212"]
    dog_run = [item for item in stock if item["product"] == "K40" and holds(item, "1.8", "3")]
    by_area = sorted(dog_run, key=lambda item: Decimal(item["width_m"]) * Decimal(item["length_m"]))
    assert by_area[0]["tag"] == "C-77"
    (other,) = (item for item in by_area if item["tag"] == "C-80")
    assert not other["batch"], "no use to a job of several pieces from one batch"
    same_batch = [item for item in stock if item["batch"] == by_area[0]["batch"]]
    assert {item["tag"] for item in same_batch if holds(item, "4", "5")} == {"P-41"}
    (part_roll,) = (item for item in same_batch if item["tag"] == "P-41")
    assert Decimal(0) <= Decimal(part_roll["length_m"]) - 2 * Decimal(5) < Decimal("3.05")
    assert {item["tag"] for item in same_batch if holds(item, "1.85", "3.05")} == {"P-41", "C-77"}


def test_the_sheets_have_no_fault_and_keep_tags_as_written(stock: list[Row]) -> None:
    read = read_folder(DEMO)
    assert (len(read.products), len(read.stock), len(read.jobs)) == (3, 60, 25)
    tags = [item.tag for item in read.stock]
    assert tags == [item["tag"] for item in stock]
    assert {"0147", "P-7/2", "C-115, no arrow"} <= set(tags)
    assert {item.batch for item in read.stock} == {item["batch"] for item in stock}


def test_measured_lawns_are_what_the_readme_says() -> None:
    """By hand: the L is 9.2 × 5.1 + 5.4 × 4.2 less a bed of 1.8 × 1.2 and an octagon of 0.57 m², to the centimetre."""
    jobs = {job.code: job for job in read_folder(DEMO).jobs if job.lawns}
    assert {code: [lawn.label for lawn in job.lawns] for code, job in jobs.items()} == {
        "J202": ["front"],
        "J209": ["back"],
        "J211": ["back"],
        "J213": ["front", "back"],
    }
    (tree_and_bed,) = jobs["J209"].lawns
    assert len(tree_and_bed.holes) == 2
    assert tree_and_bed.area_mm2 == pytest.approx((9.2 * 5.1 + 5.4 * 4.2 - 1.8 * 1.2 - 0.57) * 1e6, rel=1e-3)
    assert jobs["J202"].lawns[0].no_seam_edges() == (3,)
    assert jobs["J213"].lawns[0].cannot_be_seen_with == ("back",)


def test_measured_lawns_can_be_laid_out_soundly() -> None:
    read = read_folder(DEMO)
    request = PlanRequest(
        Window(date(2026, 11, 30), date(2026, 12, 11)), TODAY, read.products, read.supply, read.stock, read.jobs
    )
    for job in read.jobs:
        if job.lawns:
            grass = grass_of(request, job.product)
            assert grass is not None
            layouts = job_layouts(job, grass, LayoutSettings())
            assert len(layouts) > 1
            assert [violation for one in layouts for violation in check_layout(job, one, LayoutSettings())] == []


def test_the_planner_keeps_that_offcut_for_the_bigger_job() -> None:
    read = read_folder(DEMO)
    request = PlanRequest(
        window=Window(date(2026, 11, 30), date(2026, 12, 11)),
        today=TODAY,
        products=tuple(product for product in read.products if product.code == "K40"),
        supply=tuple(option for option in read.supply if option.product == "K40"),
        stock=tuple(item for item in read.stock if item.product == "K40"),
        jobs=tuple(job for job in read.jobs if job.product == "K40"),
    )
    (plan,) = plan_cuts(request, SearchLimits(seconds=60, work=400)).products
    sources = defaultdict(set)
    for source in plan.cuts:
        for piece in source.pieces():
            sources[piece.job].add(piece.source)
    assert sources["J206"] == {"C-80"}
    assert sources["J212"] == {"P-41", "C-77"}
    assert plan.foreman_cost_pence is not None
    assert plan.net_cost_pence < plan.foreman_cost_pence
