"""Invented weeks of work of four sizes, the same for the same seed: what benchmarks and property tests plan.

`python -m stockplan.bench.weeks --size M --seed 3 --to FOLDER` writes one as a folder of spreadsheets.

Sizes, prices and habits are believable, not measured: rolls of 4 m × 25 m at 900 to 2,000, lawns laid in strips of the
roll's width with a narrower closing strip, a yard of which over half is loose offcuts (common practice).
"""

from __future__ import annotations

import argparse
import csv
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from random import Random

from stockplan.domain.jobs import BatchRule, Job, Strip, Window
from stockplan.domain.request import PlanRequest
from stockplan.domain.stock import Product, StockForm, StockItem, SupplyForm, SupplyOption

FIRST_DAY = date(2026, 11, 30)  # a Monday
TODAY = date(2026, 11, 26)
ROLL_LENGTH_MM = 25_000
FULL_WIDTH_MM = 4_000
MOST_PIECES_A_JOB = 5
UNKNOWN_BATCH_CHANCE = 0.02
ANY_BATCH_CHANCE = 0.10
LEAD_DAYS = (2, 2, 3, 3, 3, 3, 4, 5, 6)  # short ones more often, so that most weeks can be covered in full


@dataclass(frozen=True, slots=True)
class Size:
    """How much of everything an invented week holds.

    Parameters
    ----------
    jobs, pieces, items
        Totals over all products; pieces lie between jobs and five times jobs.
    products
        How many products the totals are split over evenly; at least 1.
    weeks
        Working weeks in the window, Monday to Friday each.
    """

    jobs: int
    pieces: int
    items: int
    products: int
    weeks: int


SIZES = {
    "S": Size(jobs=8, pieces=20, items=15, products=1, weeks=1),
    "M": Size(jobs=30, pieces=90, items=60, products=1, weeks=2),
    "L": Size(jobs=150, pieces=450, items=250, products=1, weeks=2),
    "XL": Size(jobs=1500, pieces=4500, items=2000, products=4, weeks=2),
}

_CODES = ("G30", "G40", "G25", "G35")
_SITES = (
    "back garden",
    "front garden",
    "side lawn",
    "roof terrace",
    "nursery play area",
    "school corner",
    "kennel run",
)
_LANES = ("Alder Row", "Bracken Way", "Coppice Lane", "Damson Close", "Elder Bank", "Furze Hill", "Gorse End")
_TAG_LETTER = {StockForm.ROLL: "R", StockForm.PART_ROLL: "P", StockForm.OFFCUT: "C"}
_TOWARDS = ("house", "road", "fence", "terrace")


def week(size: str, seed: int) -> PlanRequest:
    """Invent a week of work.

    Parameters
    ----------
    size
        `S`, `M`, `L` or `XL`; see `SIZES`.
    seed
        Same size and seed, same week; any whole number. Sizes are multiples of 10 mm when `seed % 3 == 2`, else 50 mm.

    Raises
    ------
    ValueError
        When the size is none of these.
    """
    if size not in SIZES:
        raise ValueError(f"size {size!r} is not one of {', '.join(SIZES)}")
    amounts = SIZES[size]
    maker = _Maker(Random(seed), 10 if seed % 3 == 2 else 50, amounts.weeks)
    share = amounts.products
    for code in _CODES[:share]:
        maker.add_product(code, amounts.jobs // share, amounts.pieces // share, amounts.items // share)
    return maker.request()


def with_yard_of(request: PlanRequest, size: str, seed: int) -> PlanRequest:
    """The same jobs before the yard of another week, of which they have the things of their products.

    Parameters
    ----------
    request
        A week.
    size, seed
        The week that the yard is of, as for `week`.
    """
    products = {job.product for job in request.jobs}
    return replace(request, stock=tuple(item for item in week(size, seed).stock if item.product in products))


def week_of(jobs: Sequence[int], seed: int) -> PlanRequest:
    """Invent a fortnight of several products.

    Parameters
    ----------
    jobs
        How many of each product, one to four products; each product has three pieces and two items a job.
    seed
        Same numbers and seed, same week.
    """
    maker = _Maker(Random(seed), 10, 2)
    for code, number in zip(_CODES, jobs, strict=False):
        maker.add_product(code, number, 3 * number, 2 * number)
    return maker.request()


def large_yard(items: int, seed: int) -> PlanRequest:
    """Invent a yard of so many items of four products, and a few jobs.

    Parameters
    ----------
    items
        At least 4.
    seed
        Same number and seed, same yard.
    """
    maker = _Maker(Random(seed), 10, 2)
    for code in _CODES:
        maker.add_product(code, 5, 12, items // len(_CODES))
    return maker.request()


class _Maker:
    """Draws one product after another from one stream of random numbers."""

    def __init__(self, random: Random, step_mm: int, weeks: int) -> None:
        self.random = random
        self.step_mm = step_mm
        self.weeks = weeks
        self.products: list[Product] = []
        self.supply: list[SupplyOption] = []
        self.stock: list[StockItem] = []
        self.jobs: list[Job] = []

    def request(self) -> PlanRequest:
        """The plan asked for, of all that was added."""
        return PlanRequest(
            window=Window(FIRST_DAY, FIRST_DAY + timedelta(days=7 * self.weeks - 3)),
            today=TODAY,
            products=tuple(self.products),
            supply=tuple(self.supply),
            stock=tuple(self.stock),
            jobs=tuple(self.jobs),
        )

    def add_product(self, code: str, jobs: int, pieces: int, items: int) -> None:
        self.products.append(Product(code, f"{code[1:]} mm pile", self.random.randrange(2000, 3001, 50)))
        roll_pence = 500 * round(self.random.triangular(900, 2000, 1100) * 100 / 500)
        narrow = self.random.random() < 0.4
        self._add_supply(code, roll_pence, narrow)
        self._add_stock(code, items, roll_pence)
        for job_pieces in self._spread(pieces, jobs):
            self._add_job(code, job_pieces, narrow)

    def _add_supply(self, code: str, roll_pence: int, narrow: bool) -> None:
        draw = self.random
        lead = draw.choice(LEAD_DAYS)
        rolls = SupplyForm.ROLL
        self.supply.append(SupplyOption(code, "Fernholt Mills", rolls, FULL_WIDTH_MM, ROLL_LENGTH_MM, roll_pence, lead))
        if narrow:
            price = 500 * round(roll_pence * draw.uniform(0.50, 0.56) / 500)
            self.supply.append(
                SupplyOption(code, "Fernholt Mills", rolls, FULL_WIDTH_MM // 2, ROLL_LENGTH_MM, price, lead)
            )
        if draw.random() < 0.5:
            metre_pence = 10 * round(roll_pence / 25 * draw.uniform(1.15, 1.45) / 10)
            longest = draw.choice((10_000, 15_000, 20_000))
            cut_lead = draw.choice(LEAD_DAYS)
            self.supply.append(
                SupplyOption(code, "Ostrel Depot", SupplyForm.CUT_LENGTH, FULL_WIDTH_MM, longest, metre_pence, cut_lead)
            )

    def _add_stock(self, code: str, items: int, roll_pence: int) -> None:
        draw = self.random
        batches = [f"B{number + 100}" for number in range(max(2, round(items / draw.uniform(5, 8))))]
        metre_pence = {batch: round(roll_pence / 100 * draw.uniform(0.92, 1.04)) for batch in ["", *batches]}
        rolls = round(items * draw.uniform(0.15, 0.20))
        part_rolls = round(items * 0.25)
        forms = [StockForm.ROLL] * rolls + [StockForm.PART_ROLL] * part_rolls
        forms += [StockForm.OFFCUT] * (items - len(forms))
        for form in forms:
            width, length = self._stock_size(form)
            loose = form is StockForm.OFFCUT
            batch = "" if loose and draw.random() < 2 * UNKNOWN_BATCH_CHANCE else draw.choice(batches)
            tag = f"{_TAG_LETTER[form]}-{len(self.stock) + 1:04d}"
            bay = f"{draw.choice('ABCD' if loose else 'EF')}{draw.randint(1, 6)}"
            self.stock.append(StockItem(tag, code, batch, form, width, length, bay, metre_pence[batch]))

    def _stock_size(self, form: StockForm) -> tuple[int, int]:
        draw = self.random
        if form is StockForm.ROLL:
            return FULL_WIDTH_MM, ROLL_LENGTH_MM
        if form is StockForm.PART_ROLL:
            return (3_970 if draw.random() < 0.1 else FULL_WIDTH_MM), self._length(3.0, 22.0)
        width = FULL_WIDTH_MM if draw.random() < 0.25 else self._length(0.6, 4.0)
        return width, round(draw.triangular(1.0, 8.0, 2.5) * 1000 / self.step_mm) * self.step_mm

    def _add_job(self, code: str, pieces: int, narrow: bool) -> None:
        draw = self.random
        grid = FULL_WIDTH_MM // 2 if narrow and draw.random() < 0.3 else FULL_WIDTH_MM
        along = self._length(2.5, 12.0)
        closing = draw.random() < (0.6 if pieces == 1 else 0.75)
        shaped = draw.random() < 0.4
        sizes: dict[tuple[int, int], int] = {}
        for number in range(pieces):
            narrower = closing and number == pieces - 1
            width = self._length(0.6, grid / 1000 - 0.2) if narrower else grid
            length = max(2_500, along - self._length(0.0, 1.5)) if shaped or narrower else along
            sizes[width, length] = sizes.get((width, length), 0) + 1
        number = len(self.jobs) + 1
        self.jobs.append(
            Job(
                code=f"J{number:04d}",
                site=f"{draw.randint(1, 90)} {draw.choice(_LANES)}, {draw.choice(_SITES)}",
                product=code,
                lay_on=FIRST_DAY + timedelta(days=7 * draw.randrange(self.weeks) + draw.randrange(5)),
                pile_towards=draw.choice(_TOWARDS),
                batch_rule=BatchRule.ANY if draw.random() < ANY_BATCH_CHANCE else BatchRule.ONE,
                strips=tuple(
                    Strip("ABCDE"[place], width, length, count)
                    for place, ((width, length), count) in enumerate(sizes.items())
                ),
            )
        )

    def _length(self, least_m: float, most_m: float) -> int:
        """Draw a length in mm, on the week's step."""
        return round(self.random.uniform(least_m, most_m) * 1000 / self.step_mm) * self.step_mm

    def _spread(self, pieces: int, jobs: int) -> list[int]:
        """Share pieces out among jobs, 1 to 5 each."""
        shares = [1] * jobs
        for _ in range(pieces - jobs):
            shares[self.random.choice([job for job in range(jobs) if shares[job] < MOST_PIECES_A_JOB])] += 1
        return shares


def write_folder(request: PlanRequest, path: Path) -> None:
    """Write a request's products, supply, stock and jobs as the folder of CSV files that `stockplan import` reads.

    Parameters
    ----------
    request
        What to write. Window, today's date and costs are no part of the folder.
    path
        The folder; made when missing, files in it are replaced.
    """
    path.mkdir(parents=True, exist_ok=True)
    _write(
        path / "products.csv",
        ("product", "description", "weight_kg_m2"),
        ((p.code, p.description, _decimal(p.weight_g_m2, 1000)) for p in request.products),
    )
    _write(
        path / "supply.csv",
        ("product", "supplier", "form", "width_m", "length_m", "price", "lead_days"),
        ((s.product, s.supplier, s.form, *_size(s), _decimal(s.price_pence, 100), s.lead_days) for s in request.supply),
    )
    _write(
        path / "stock.csv",
        ("tag", "product", "batch", "form", "width_m", "length_m", "bay", "cost_per_m2"),
        (
            (i.tag, i.product, i.batch, i.form, *_size(i), i.bay, _decimal(i.cost_pence_per_m2, 100))
            for i in request.stock
        ),
    )
    _write(
        path / "jobs.csv",
        ("job", "site", "product", "lay_on", "pile_towards", "batch_rule"),
        ((j.code, j.site, j.product, j.lay_on.isoformat(), j.pile_towards, j.batch_rule) for j in request.jobs),
    )
    _write(
        path / "strips.csv",
        ("job", "strip", "width_m", "length_m", "count"),
        ((j.code, s.label, *_size(s), s.count) for j in request.jobs for s in j.strips),
    )


def _write(path: Path, header: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(header)
        writer.writerows(rows)


def _decimal(units: int, per_whole: int) -> str:
    return format((Decimal(units) / per_whole).normalize(), "f")


def _size(thing: SupplyOption | StockItem | Strip) -> tuple[str, str]:
    return _decimal(thing.width_mm, 1000), _decimal(thing.length_mm, 1000)


def main(arguments: Sequence[str] | None = None) -> None:
    """Write an invented week to a folder."""
    parser = argparse.ArgumentParser(prog="python -m stockplan.bench.weeks", description=main.__doc__)
    parser.add_argument("--size", choices=tuple(SIZES), required=True, help="S 8 jobs, M 30, L 150, XL 1500")
    parser.add_argument("--seed", type=int, default=0, help="same size and seed, same week; default 0")
    parser.add_argument("--to", type=Path, required=True, metavar="FOLDER", help="made when missing")
    given = parser.parse_args(arguments)
    write_folder(week(given.size, given.seed), given.to)


if __name__ == "__main__":
    main()
