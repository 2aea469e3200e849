"""Cutting a few pieces from one source, against the planner's plan of a job of the same pieces with nothing else."""

from __future__ import annotations

from datetime import date
from random import Random

import pytest

from stockplan.cutting import plan_cuts
from stockplan.domain.cover_search import Desk
from stockplan.domain.cover_source import source_of
from stockplan.domain.jobs import BatchRule, Job, Window
from stockplan.domain.pieces import Pieces, in_order
from stockplan.domain.request import CostSettings, PlanRequest, SearchLimits
from stockplan.domain.stock import Product, StockForm, StockItem, SupplyForm, SupplyOption
from stockplan.domain.strip import Strip

TODAY, LAID = date(2026, 11, 26), date(2026, 12, 3)
DEAR = SupplyOption("G30", "Ashcombe", SupplyForm.ROLL, 4000, 25_000, 10_000_000, 2)  # says how wide full is
CUTS = CostSettings()


def planned_pence(item: StockItem, pieces: Pieces, costs: CostSettings = CUTS) -> int:
    """Cost of a plan for a job of these pieces where there is one thing to cut and one too dear to buy."""
    strips = tuple(Strip(f"S{number}", width, length, 1) for number, (width, length) in enumerate(pieces))
    job = Job("J", "", "G30", LAID, "", BatchRule.ONE, strips)
    request = PlanRequest(
        Window(TODAY, LAID), TODAY, (Product("G30", "", 2000),), (DEAR,), (item,), (job,), costs=costs
    )
    return plan_cuts(request, SearchLimits(10)).products[0].net_cost_pence


def told_pence(item: StockItem, pieces: Pieces, costs: CostSettings = CUTS) -> int | None:
    take = Desk(4000, costs).take(source_of(item, 4000), pieces)
    return take.cost_pence if take else None


def on_the_yard(form: StockForm, width: int, length: int, pence: int = 900) -> StockItem:
    return StockItem("K-1", "G30", "B1", form, width, length, "A1", pence)


@pytest.mark.parametrize("seed", [*range(20), 110])
def test_the_planner_cuts_the_same_pieces_no_cheaper(seed: int) -> None:
    draw = Random(seed)
    form = draw.choice((StockForm.ROLL, StockForm.PART_ROLL, StockForm.OFFCUT, StockForm.OFFCUT))
    width = 4000 if form is not StockForm.OFFCUT else draw.randrange(1500, 4001, 50)
    item = on_the_yard(form, width, draw.randrange(2000, 9001, 50), draw.choice((900, 3000)))
    sizes = (range(300, min(item.width_mm, 3000) + 1, 50), range(300, min(item.length_mm, 3500) + 1, 50))
    count = draw.choice((1, 2, 2, 3))
    pieces = in_order(tuple((draw.choice(sizes[0]), draw.choice(sizes[1])) for _ in range(count)))
    costs = draw.choice((CUTS, CUTS, CostSettings(50, 50)))
    told = told_pence(item, pieces, costs)
    if told is None:
        assert planned_pence(item, pieces, costs) > DEAR.price_pence // 10
    else:
        assert told <= planned_pence(item, pieces, costs)


def test_a_drop_is_cut_longer_where_what_lies_beside_its_piece_is_then_kept() -> None:
    # 1.0 × 0.85 of 4 × 25 at 9.00: a drop of 1 m leaves 3 × 1 worth 0.5875 × 0.66667 × 27.00, 10.57, and the tail
    # 4 × 24, 777.60; with two crosscuts and a rip that is 118.83. A drop of 0.85 m leaves 4 × 24.15 alone: 122.54.
    roll = on_the_yard(StockForm.ROLL, 4000, 25_000)
    assert told_pence(roll, ((1000, 850),)) == 90_000 - 1057 - 77_760 + 700 == planned_pence(roll, ((1000, 850),))


def test_a_lane_is_cut_wider_where_what_lies_behind_its_piece_is_then_kept() -> None:
    part = on_the_yard(StockForm.PART_ROLL, 3500, 6400, 3000)
    pieces, costs = in_order(((800, 2900), (1100, 1100), (400, 950))), CostSettings(50, 50)
    take = Desk(4000, costs).take(source_of(part, 4000), pieces)
    assert take is not None
    lanes = {lane.width_mm: lane.pieces for drop in take.cut.drops for lane in drop.lanes}
    assert lanes[500] == ((400, 950),)
    assert take.cost_pence == planned_pence(part, pieces, costs)
