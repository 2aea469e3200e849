"""How long yard commands take on a large yard with a long past.

`python -m stockplan.bench.yard` makes a store of 20,000 items and 500,000 movements, with the jobs of that past, four
accepted plans still to be cut and a proposal for each round, and runs each yard command in a new process once a round,
beside an empty Typer program. `--help` of both stands for what no command can do without.
"""

from __future__ import annotations

import argparse
import os
import sqlite3
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from stockplan.bench.start_up import EMPTY_PROGRAM, PROGRAM, STORE_VARIABLE, Measured, Run, print_table, run_once
from stockplan.bench.weeks import TODAY, week
from stockplan.domain.jobs import BatchRule, Job, Strip
from stockplan.domain.ledger import (
    CutPiece,
    Entry,
    Yard,
    binned,
    counted,
    cut,
    held,
    moved,
    received,
    reserved,
    returned,
)
from stockplan.domain.request import PlanRequest, SearchLimits
from stockplan.domain.stock import Product, StockForm, StockItem

if TYPE_CHECKING:
    from stockplan.store.session import Store

ITEMS, MOVEMENTS, BAYS, PAST_JOBS = 20_000, 500_000, 200, 5000
STANDING = 4  # accepted plans that are still to be cut
TARGET = "under 0.4 s"
FIRST_DAY = datetime(2020, 1, 6, 7, tzinfo=UTC)
PRODUCTS = tuple(Product(f"G{number}", "grass", 2350) for number in range(20, 40))


def past(items: int, movements: int) -> Iterator[Entry]:
    """Invent a past: rolls come and are cut, what is left comes back, and the yard is counted and moved about.

    Parameters
    ----------
    items
        How many things lie in the yard in the end.
    movements
        How many movements there are in the end; at least 12 for each item.
    """
    written = 0
    for number in range(items):
        tag, product = f"R-{number:05}", PRODUCTS[number % len(PRODUCTS)].code
        roll = StockItem(tag, product, f"B{number % 300}", StockForm.ROLL, 4000, 25_000, f"F{number % BAYS}", 1060)
        piece = CutPiece(f"J{number % PAST_JOBS}", "A", number // PAST_JOBS + 1, 4000, 12_000)
        child, size_mm = f"C-{number:05}", (4000, 6000 + number % 5000)
        rest = roll.area_mm2 - piece.area_mm2 - size_mm[0] * size_mm[1]
        yield received(roll, "delivered", delivery=f"D-{number // 8}")
        yield reserved(tag, number // 30 + 1, "accepted")
        yield cut(tag, [piece], "cut", number // 30 + 1)
        yield returned(child, tag, StockForm.OFFCUT, size_mm, roll.bay, "kept", number // 30 + 1)
        yield binned(tag, rest, "too small", number // 30 + 1)
        written += 5
    number = 0
    while written < movements - items // 10:
        tag = f"C-{number % items:05}"
        yield moved(tag, f"F{number % BAYS}", "tidied") if number % 5 == 0 else counted(tag, "stocktake")
        number, written = number + 1, written + 1
    for number in range(0, items, 10):
        tag = f"C-{number:05}"
        yield reserved(tag, 9000, "accepted") if number % 20 else held(tag, "Q-7", date(2099, 1, 1), "asked")


def past_jobs(items: int) -> tuple[Job, ...]:
    """The jobs for which that past cut, all of them laid."""
    return tuple(
        Job(
            code=f"J{number}",
            site="4 Larch Row",
            product=PRODUCTS[number % len(PRODUCTS)].code,
            lay_on=FIRST_DAY.date() + timedelta(days=number // 3),
            pile_towards="",
            batch_rule=BatchRule.ANY,
            strips=(Strip("A", 4000, 12_000, len(range(number, items, PAST_JOBS))),),
        )
        for number in range(min(items, PAST_JOBS))
    )


def make_store(where: str, items: int, movements: int) -> None:
    """Write a store with that past, by the thousand; the tables derived from it are brought up at the end."""
    from stockplan.store.derived_rows import write_derived  # noqa: PLC0415
    from stockplan.store.importing import import_contents  # noqa: PLC0415
    from stockplan.store.ledger_rows import append  # noqa: PLC0415
    from stockplan.store.session import open_store  # noqa: PLC0415
    from stockplan.store.sheets import SheetContents  # noqa: PLC0415

    yard, entered = Yard(reversed_later=frozenset()), []
    with open_store(where, create=True) as store, store.unit_of_work() as work:
        import_contents(work, SheetContents(products=PRODUCTS, jobs=past_jobs(items)), "bench")
        for number, entry in enumerate(past(items, movements), start=1):
            movement = entry.enter(number, FIRST_DAY + timedelta(minutes=6 * number), "bench")
            yard.apply(movement)
            entered.append(movement)
            if len(entered) == 10_000:
                append(work.rows, entered)
                entered = []
        append(work.rows, entered)
        write_derived(work.rows, Yard(), yard, yard.items.keys() | yard.gone.keys())
        work.commit()


@dataclass(frozen=True, slots=True)
class Proposed:
    """A plan that can be accepted.

    Parameters
    ----------
    number
        Its number.
    source
        A tag that it cuts.
    order
        Key that its first order will have.
    size
        Of what comes for that, as typed.
    job, day
        One of its jobs, and its first day.
    """

    number: int
    source: str
    order: str
    size: str
    job: str
    day: date


def add_plans(where: str, count: int) -> list[Proposed]:
    """Plan so many weeks of 30 jobs, each from grass of its own; accept the first four, and give the others."""
    from stockplan.actions.accepting import accept_plan  # noqa: PLC0415
    from stockplan.store.session import open_store  # noqa: PLC0415

    with open_store(where) as store:
        made = [_add_plan(store, number) for number in range(1, count + 1)]
    for one in made[:STANDING]:
        accept_plan(where, one.number, TODAY)
    return made[STANDING:]


def _add_plan(store: Store, number: int) -> Proposed:
    from stockplan.cutting import plan_cuts  # noqa: PLC0415
    from stockplan.domain.purchase import line_key  # noqa: PLC0415
    from stockplan.report.plan_file import plan_to_json  # noqa: PLC0415
    from stockplan.store.importing import import_contents  # noqa: PLC0415
    from stockplan.store.repository import store_plan  # noqa: PLC0415
    from stockplan.store.sheets import SheetContents  # noqa: PLC0415

    request = _week(number)
    with store.unit_of_work() as work:
        contents = SheetContents(supply=request.supply, stock=request.stock, jobs=request.jobs)
        import_contents(work, contents, "bench")
        plan = plan_cuts(request, SearchLimits(seconds=5, work=1))
        made = store_plan(work, plan, plan_to_json(request, plan))
        work.commit()
    order = next(plan.orders())
    source = next(cuts.source for cuts in plan.cuts() if cuts.source in {item.tag for item in request.stock})
    size = f"{order.width_mm}mmx{order.length_mm}mm"
    job = next(piece.job for piece in plan.pieces())
    return Proposed(made, source, line_key(made, order.key), size, job, request.window.first)


def _week(number: int) -> PlanRequest:
    """The same invented week each time, with names of its own."""
    asked = week("M", 0)
    return replace(
        asked,
        stock=tuple(replace(item, tag=f"{item.tag}-{number}") for item in asked.stock),
        jobs=tuple(replace(job, code=f"{job.code}-{number}") for job in asked.jobs),
    )


Command = tuple[str, ...]
LAST = "LAST"  # stands for the number of the last movement


def commands(number: int, plan: Proposed) -> dict[str, Command]:
    """Name each yard command as typed, a little different each time so that each can happen.

    Parameters
    ----------
    number
        Which time; 0 or more, below 100.
    plan
        One that no other time was given.
    """
    tag, other, held_tag = f"C-{1001 + 10 * number:05}", f"C-{3001 + 10 * number:05}", f"C-{5000 + 20 * number:05}"
    today = ("--today", f"{TODAY}")
    return {
        "stock --bay F7": ("stock", "--bay", "F7"),
        "stock --product G25 --at-least 4x10 --oldest": (
            "stock", "--product", "G25", "--at-least", "4x10", "--oldest",
        ),
        "stock, all of it": ("stock",),
        "stock --json, all of it": ("stock", "--json"),
        "history": ("history", tag),
        "count BAY, the sheet": ("count", "F7"),
        "count --due 30, all of it": ("count", "--due", "30"),
        "receive": ("receive", f"N-{number}", "4x24.85", "--product", "G25", "--bay", "F7", "--cost", "10.60"),
        "measure": ("measure", tag, f"3.98x6.{number:02}"),
        "move": ("move", tag, "F9"),
        "reverse": ("reverse", LAST, "--why", "slip"),
        "condition": ("condition", tag, "wet"),
        "hold": ("hold", tag, "Q-9", "--until", "2099-01-01"),
        "free": ("free", held_tag),
        "write-off": ("write-off", other, "--why", "flood"),
        "offcut": (
            "offcut", "--product", "G25", "--batch", "B5", "--length", "3", "--width", "2", "--bay", "F7",
        ),
        "labels": ("labels", tag, "--file", os.devnull),
        "lift": ("lift", tag),
        "count BAY TAG..., written": ("count", f"F{110 + number % 90}", tag, "--yes"),
        "stock --product, mistyped": ("stock", "--product", "G255"),
        "jobs --from --to": ("jobs", "--from", f"{plan.day}", "--to", f"{plan.day}"),
        "plans": ("plans",),
        "pins": ("pins",),
        "accept": ("accept", f"{plan.number}", *today),
        "orders": ("orders", *today),
        "order": ("order", plan.order, *today),
        "receive-order": ("receive-order", plan.order, plan.size, "--batch", "N7", "--bay", "F7", *today),
        "cut TAG, the sheet": ("cut", plan.source),
        "cut TAG --done": ("cut", plan.source, "--done"),
        "labels --plan, some 90 labels": ("labels", "--plan", f"{plan.number}", "--file", os.devnull),
        "cancel-job": ("cancel-job", plan.job),
        "withdraw": ("withdraw", f"{plan.number}"),
    }  # fmt: skip


def measure(repeats: int, folder: Path, items: int = ITEMS, movements: int = MOVEMENTS) -> list[Measured]:
    """Time each yard command, in a new process each time.

    Parameters
    ----------
    repeats
        How often to run each; 1 to 99.
    folder
        An empty folder for the store.
    items, movements
        How large the yard is, and how long its past.
    """
    where = str(folder / "yard.db")
    make_store(where, items, movements)
    plans = add_plans(where, STANDING + repeats)
    yard = {STORE_VARIABLE: where}
    lines = [
        Measured(name, "", tuple(run_once([*program, "--help"], yard) for _ in range(repeats)))
        for name, program in (("empty Typer program --help", EMPTY_PROGRAM), ("stockplan --help", PROGRAM))
    ]
    runs: dict[str, list[Run]] = {}
    for number, plan in enumerate(plans):
        for name, command in commands(number, plan).items():
            typed = [last_movement(where) if word == LAST else word for word in command]
            runs.setdefault(name, []).append(run_once([*PROGRAM, *typed], yard))
    return lines + [Measured(name, TARGET, tuple(taken)) for name, taken in runs.items()]


def last_movement(where: str) -> str:
    """Give the number of the last movement, to type it."""
    with closing(sqlite3.connect(where)) as connection:
        return str(*connection.execute("SELECT max(number) FROM movement").fetchone())


def main(arguments: Sequence[str] | None = None) -> None:
    """Time every yard command on a large yard with a long past, in seconds."""
    parser = argparse.ArgumentParser(prog="python -m stockplan.bench.yard", description=main.__doc__)
    parser.add_argument("--repeats", type=int, default=10, help="runs of each command; default 10")
    parser.add_argument("--items", type=int, default=ITEMS, help=f"default {ITEMS:,}")
    parser.add_argument("--movements", type=int, default=MOVEMENTS, help=f"default {MOVEMENTS:,}")
    given = parser.parse_args(arguments)
    if not 1 <= given.repeats <= 99 or given.items < 8000 or given.movements < 12 * given.items:
        parser.error("--repeats from 1 to 99, at least 8,000 items, at least 12 movements for each")
    with tempfile.TemporaryDirectory() as folder:
        lines = measure(given.repeats, Path(folder), given.items, given.movements)
    size = f"{given.items:,} items, {given.movements:,} movements"
    print_table(f"seconds on {size}, {given.repeats} runs each, Python {sys.version.split()[0]}", lines)


if __name__ == "__main__":
    main()
