"""What makes the planner ready for a machine: a small week planned with every part that a week of any size may need.

What is compiled is compiled by that, and kept on disk. Otherwise a first plan of five seconds would take twenty, most
of them deaf to Ctrl-C and to the clock.
"""

from __future__ import annotations

import os
import sys
import time
from collections import Counter
from contextlib import suppress
from datetime import date, timedelta
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path

from stockplan.domain.jobs import BatchRule, Job, Strip, Window
from stockplan.domain.request import PlanRequest
from stockplan.domain.stock import Product, StockForm, StockItem, SupplyForm, SupplyOption

SECONDS = 300.0  # at most
GRASS = "G"
LOOK_SECONDS = 0.05
HERE = Path(__file__).parent


def place_of_mark() -> Path | None:
    """Where a run that has compiled everything leaves its mark; None where nothing that is compiled can be kept."""
    if os.access(HERE, os.W_OK) and "NUMBA_CACHE_DIR" not in os.environ:
        return HERE / "__pycache__" / "ready"
    from stockplan.cutting.chance import draw  # noqa: PLC0415  slow to load

    kept_in: str | None = getattr(draw, "stats").cache_path  # noqa: B009  numba's
    return None if kept_in is None else Path(kept_in) / "ready"


def is_ready(mark: Path) -> bool:
    """Whether a run that used the modules, the Python and the numba that there are now left its mark."""
    try:
        return mark.read_text(encoding="utf-8") == made_with()
    except OSError:
        return False


def mark_ready(mark: Path, made: str) -> None:
    """Leave the mark; where that fails the next run looks again, which costs a second.

    Parameters
    ----------
    mark
        Where.
    made
        What `made_with` gave before anything was compiled.
    """
    with suppress(OSError):
        mark.parent.mkdir(parents=True, exist_ok=True)
        mark.write_text(made, encoding="utf-8")


def made_with() -> str:
    """All that what is compiled depends on, in one line."""
    paths = sorted(path for room in (HERE, HERE.parent / "domain") for path in room.glob("*.py"))
    stamps = [(path.name, one.st_size, one.st_mtime_ns) for path in paths for one in [path.stat()]]
    modules = sha256(repr(stamps).encode()).hexdigest()
    return f"Python {sys.version}, numba {version('numba')}, modules {modules}"


def plan_a_little() -> None:
    """Plan a small week in every way there is; what `bound_a_little` has had compiled meanwhile is found on disk."""
    from stockplan.cutting.alongside import Alongside  # noqa: PLC0415  slow to load, and not needed where all is ready
    from stockplan.cutting.batch_columns import columns_of  # noqa: PLC0415
    from stockplan.cutting.batch_pricing import BatchPricing  # noqa: PLC0415
    from stockplan.cutting.budget import Budget  # noqa: PLC0415
    from stockplan.cutting.building import build_instance  # noqa: PLC0415
    from stockplan.cutting.search import Search  # noqa: PLC0415
    from stockplan.cutting.solution import Solution  # noqa: PLC0415

    instance = build_instance(small_week(), GRASS)
    budget = Budget(time.monotonic() + SECONDS)
    search = Search(instance, 0, budget, lambda *_: None)
    search.run()
    beside = Alongside(search.recreate, 0, 1, budget.deadline, lambda: search.best)
    while not (beside.take(search.recreate.seen) or budget.over()):
        time.sleep(LOOK_SECONDS)
    beside.end()
    BatchPricing(search.recreate).run(columns_of(instance, search.best), [1e5] * len(instance.groups), 50, budget)
    search.recreate.seen.new_loads(None, 0.0, 1)
    search.recreate.load(Solution(Counter(), {}, frozenset(range(len(instance.jobs)))))
    search.recreate.serve(0)
    bound_a_little()


def bound_a_little() -> None:
    """Work out bounds for a small week, half of all that is compiled; and go through plans of a few pieces."""
    from stockplan.cutting.ascent import first_price  # noqa: PLC0415  as above
    from stockplan.cutting.beam import Beam  # noqa: PLC0415
    from stockplan.cutting.bounding import Bounding  # noqa: PLC0415
    from stockplan.cutting.budget import Budget  # noqa: PLC0415
    from stockplan.cutting.building import build_instance  # noqa: PLC0415
    from stockplan.cutting.first_loads import first_loads  # noqa: PLC0415
    from stockplan.cutting.foreman import foreman_plan  # noqa: PLC0415
    from stockplan.cutting.pricers import Pricers  # noqa: PLC0415
    from stockplan.cutting.whole_loads import WholeLoads  # noqa: PLC0415

    instance = build_instance(small_week(), GRASS)
    budget = Budget(time.monotonic() + SECONDS)
    prices = {t: first_price(instance, t) for t in instance.piece_types()}
    Pricers(instance).bound(prices, budget)
    foreman = foreman_plan(instance)
    WholeLoads(instance, prices, first_loads(instance, foreman, budget), budget).run(lambda _: None, lambda *_: None)
    Bounding(instance, budget, 1.0, lambda _: None, foreman.patterns).climb(foreman.rank(instance)[0])
    Beam([(2, 3)], [2], [(4, 6)], [1], [None]).run(2, 0, 9, budget.over)


def small_week() -> PlanRequest:
    """Six jobs, three batches, rolls and cut lengths on offer."""
    monday = date(2026, 11, 30)
    sizes = (
        ((4000, 5200, 2), (1800, 5200, 1)),
        ((4000, 3100, 1), (1400, 3100, 1)),
        ((2000, 4500, 2), (900, 2500, 1)),
        ((4000, 4350, 2), (1250, 4350, 1)),
        ((4000, 2900, 1), (2300, 2900, 1)),
        ((3400, 6050, 1), (1600, 1950, 2)),
    )
    jobs = tuple(
        Job(f"J{n}", "", GRASS, monday, "", BatchRule.ONE, tuple(Strip(f"S{k}", *one) for k, one in enumerate(wanted)))
        for n, wanted in enumerate(sizes)
    )
    held = (
        (StockForm.PART_ROLL, 4000, 12_500, "B1"),
        (StockForm.OFFCUT, 2000, 4700, "B1"),
        (StockForm.PART_ROLL, 4000, 9000, "B2"),
        (StockForm.PART_ROLL, 4000, 6450, "B2"),
        (StockForm.PART_ROLL, 4000, 14_300, "B3"),
        (StockForm.OFFCUT, 3400, 6300, "B3"),
        (StockForm.OFFCUT, 1800, 5400, "B2"),
    )
    stock = tuple(
        StockItem(f"T{n}", GRASS, batch, form, width, length, "", 1500)
        for n, (form, width, length, batch) in enumerate(held)
    )
    supply = (
        SupplyOption(GRASS, "", SupplyForm.ROLL, 4000, 25_000, 120_000, 2),
        SupplyOption(GRASS, "", SupplyForm.CUT_LENGTH, 4000, 15_000, 6000, 2),
    )
    window = Window(monday, monday + timedelta(days=4))
    return PlanRequest(window, monday - timedelta(days=7), (Product(GRASS, "", 2500),), supply, stock, jobs)
