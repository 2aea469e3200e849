"""Spreadsheets in: a folder of CSV files or a workbook becomes domain things, or a list of every fault in it.

`sheet_sources` finds the files and reads them to text, `sheet_cells` says what a cell may hold, `sheet_rules` what
columns there are and what must hold within a sheet; here the sheets are held against each other and the store, and
turned into things.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from stockplan.domain.jobs import Job, Strip
from stockplan.domain.lawn import Lawn
from stockplan.domain.stock import Product, StockItem, SupplyOption
from stockplan.domain.units import metres
from stockplan.store.sheet_faults import FaultLog, shown, summarise_faults
from stockplan.store.sheet_files import sheet_fault
from stockplan.store.sheet_jobs import remark_passed
from stockplan.store.sheet_lawns import OutlineJudge, lawns_of, no_judge
from stockplan.store.sheet_offers import check_ended, pairs, read_ended, split_ended
from stockplan.store.sheet_rules import (
    CheckedSheet,
    check_cut_lengths,
    check_known,
    check_offers_unique,
    check_unique,
    read_columns,
)
from stockplan.store.sheet_sources import read_sheets
from stockplan.store.sheet_spelling import check_spelling
from stockplan.store.sheet_stock import check_stock, remark_odd_costs

__all__ = ["SheetContents", "read_folder", "summarise_faults"]


@dataclass(frozen=True, slots=True)
class SheetContents:
    """What a folder of sheets holds, in file order.

    Parameters
    ----------
    products, supply, stock
        What there is and what can be bought.
    jobs
        With their strips and lawns, either of which may be lacking.
    lawns
        Lawns of jobs that stand in the store and not among `jobs`.
    gone
        Of a store: tags of what has left the yard.
    ended
        Product and supplier of what can be bought no more.
    remarks
        What a person should know of how sheets were read; says nothing of what they hold.
    """

    products: tuple[Product, ...] = ()
    supply: tuple[SupplyOption, ...] = ()
    stock: tuple[StockItem, ...] = ()
    jobs: tuple[Job, ...] = ()
    lawns: Mapping[str, tuple[Lawn, ...]] = field(default_factory=dict)
    gone: frozenset[str] = frozenset()
    ended: tuple[tuple[str, str], ...] = ()
    remarks: tuple[str, ...] = field(default=(), compare=False)


def read_folder(
    path: Path, known: SheetContents | None = None, judge: OutlineJudge = no_judge, today: date | None = None
) -> SheetContents:
    """Read a folder of CSV files, or an .xlsx workbook with sheets of the same names.

    Parameters
    ----------
    path
        The folder or the workbook. Files that are not needed may be absent.
    known
        What the store already holds: jobs and stock may name its products. Default: nothing.
    judge
        Says what is wrong with a lawn's outline. Default: nothing ever is.
    today
        The day it is; jobs laid before it are remarked on. Default: none are.

    Raises
    ------
    SheetFaults
        When anything at all is wrong; carries every fault, in order of file, row and column.
    """
    held = known or SheetContents()
    faults = FaultLog()
    sheets = _Sheets(path, held, faults)
    sheets.check(judge)
    if today is not None and "jobs" in sheets.checked:
        remark_passed(sheets.checked["jobs"], held.jobs, today, faults)
    faults.raise_if_any()
    return sheets.contents()


class _Sheets:
    """The sheets of one folder, held against each other and against the store."""

    def __init__(self, path: Path, held: SheetContents, faults: FaultLog) -> None:
        self.held = held
        self.faults = faults
        raw = read_sheets(path, faults)
        self.present = set(raw)
        self.ended: CheckedSheet | None = None
        if (supply := raw.get("supply")) is not None:
            raw["supply"], ends = split_ended(supply)
            self.ended = read_ended(ends, faults)
        self.checked = {name: read_columns(sheet, faults) for name, sheet in raw.items() if sheet is not None}
        self.workbook = "" if path.is_dir() else path.name
        self.lawns: dict[str, tuple[Lawn, ...]] = {}

    def label(self, name: str) -> str:
        """What faults call a sheet."""
        return f"{self.workbook} {name}" if self.workbook else f"{name}.csv"

    def check(self, judge: OutlineJudge) -> None:
        """Note every fault that no single cell shows."""
        self._check_names()
        self._check_products()
        self._check_jobs()
        self._check_strip_widths()
        if "lawns" in self.checked:
            self.lawns = lawns_of(self.checked["lawns"], judge, self.faults)

    def _check_names(self) -> None:
        held_names = {
            "products": ("product", [product.code for product in self.held.products]),
            "stock": ("tag", [item.tag for item in self.held.stock]),
            "jobs": ("job", [job.code for job in self.held.jobs]),
        }
        for name, (column, names) in held_names.items():
            if name in self.checked:
                check_unique(self.checked[name], column, self.faults, held=names)
        if "strips" in self.checked:
            check_unique(self.checked["strips"], "strip", self.faults, within="job")
        if "supply" in self.checked:
            sold = [(option.product, option.supplier) for option in self.held.supply]
            check_spelling(self.checked["supply"], "supplier", "product", sold, self.faults)
            check_offers_unique(self.checked["supply"], self.faults)
            check_cut_lengths(self.checked["supply"], self.faults)
            if self.ended is not None:
                check_ended(self.ended, self.checked["supply"], sold, self.label("supply"), self.faults)
        if "stock" in self.checked:
            check_stock(self.checked["stock"], self.held.stock, self.held.gone, self.faults)

    def _rows(self, name: str) -> int:
        return len(self.checked[name].frame) if name in self.checked else 0

    def _missing(self, name: str, needed_by: str, right: str) -> None:
        label = self.label(name)
        what = f"the sheet is missing and {self.label(needed_by)} needs it"
        self.faults.add(sheet_fault(name, label, what, "no such sheet", right))

    def _check_products(self) -> None:
        users = [name for name in ("supply", "stock", "jobs") if self._rows(name)]
        products = self.checked.get("products")
        codes = {product.code for product in self.held.products}
        if "products" not in self.present and not codes:
            if users:
                self._missing("products", users[0], "a row for every product, as the store holds none yet")
            return
        if products is not None:
            codes |= products.names("product")
        if "products" in self.present and (products is None or not products.can_vouch("product")):
            return
        for sheet in [*(self.checked[name] for name in users), *([self.ended] if self.ended is not None else [])]:
            check_known(sheet, "product", codes, self.label("products"), self.faults)

    def _check_jobs(self) -> None:
        jobs = self.checked.get("jobs")
        parts = [self.checked[name] for name in ("strips", "lawns") if self._rows(name)]
        stored = {job.code for job in self.held.jobs}
        if "jobs" not in self.present:
            if self._rows("strips") or (parts and not stored):
                self._missing("jobs", parts[0].raw.name, "a row for every job that has strips or lawns")
            elif parts:
                check_known(parts[0], "job", stored, self.label("jobs"), self.faults)
            return
        if jobs is None:
            return
        if jobs.can_vouch("job"):
            for part in parts:
                known = jobs.names("job") | (stored if part.raw.name == "lawns" else set())
                check_known(part, "job", known, self.label("jobs"), self.faults)
        if not self.present & {"strips", "lawns"} and not self._with_parts():
            if self._rows("jobs"):
                self._missing("strips", "jobs", "strips or lawns for every job")
            return
        self._check_jobs_have_parts(jobs)

    def _with_parts(self) -> set[str]:
        """Jobs whose lawns are in the store already, or whose strips are and no sheet could say others."""
        return {job.code for job in self.held.jobs if job.lawns} | set(self._strips_kept())

    def _strips_kept(self) -> dict[str, list[Strip]]:
        """Strips that the store holds, by job; none where there is a sheet of strips, which says them anew."""
        return {} if "strips" in self.present else {job.code: [*job.strips] for job in self.held.jobs if job.strips}

    def _check_jobs_have_parts(self, jobs: CheckedSheet) -> None:
        with_parts = self._with_parts()
        for name in self.present & {"strips", "lawns"}:
            part = self.checked.get(name)
            if part is None or not part.can_vouch("job"):
                return
            with_parts |= part.names("job")
        column = jobs.frame["job"].dropna()
        lacking = column[~column.isin(with_parts)]
        for row, job in zip(lacking.index.tolist(), lacking.tolist(), strict=True):
            right = f"at least one row for it in {self.label('strips')} or {self.label('lawns')}"
            self.faults.add(jobs.raw.fault(row, "job", "a job with neither strips nor lawns", shown(job), right))

    def _widest_mm(self) -> dict[str, int]:
        """Width of the widest thing on offer or in the yard, by product; a product with an unread width is left out."""
        widest: dict[str, int] = {}
        things: list[SupplyOption | StockItem] = [*self.held.supply, *self.held.stock]
        for thing in things:
            widest[thing.product] = max(thing.width_mm, widest.get(thing.product, 0))
        unsure: set[str] = set()
        for name in self.present & {"supply", "stock"}:
            sheet = self.checked.get(name)
            if sheet is None or sheet.raw.spilled or not (sheet.can_vouch("product") and sheet.can_vouch("width_m")):
                return {}
            for product, width in zip(sheet.values("product"), sheet.values("width_m"), strict=True):
                if product is None:
                    return {}
                if width is None:
                    unsure.add(product)
                else:
                    widest[product] = max(width, widest.get(product, 0))
        return {product: width for product, width in widest.items() if product not in unsure}

    def _check_strip_widths(self) -> None:
        if not {"strips", "jobs"} <= set(self.checked):
            return
        jobs, strips = self.checked["jobs"], self.checked["strips"]
        product_of = dict(zip(jobs.values("job"), jobs.values("product"), strict=True))
        widest = self._widest_mm()
        rows = strips.frame[["job", "width_m"]].dropna()
        for row, job, width in rows.itertuples(name=None):
            product = product_of.get(job)
            most = widest.get(product) if product else None
            if most is not None and width > most:
                what = f"wider than anything of {product} on offer or in stock"
                right = f"at most {metres(most)}, the widest there is; a wider lawn takes two strips side by side"
                self.faults.add(strips.raw.fault(row, "width_m", what, shown(metres(width)), right))

    def contents(self) -> SheetContents:
        """Turn faultless sheets into domain things."""
        supply = tuple(SupplyOption(*row) for row in self._records("supply"))
        stock = tuple(StockItem(*row) for row in self._records("stock"))
        if "stock" in self.checked:
            offers = [*supply, *self.held.supply]
            remark_odd_costs(self.checked["stock"], stock, offers, self.held.stock, self.faults)
        jobs = self._records("jobs")
        strips = self._strips_kept()
        for job, *rest in self._records("strips"):
            strips.setdefault(job, []).append(Strip(*rest))
        return SheetContents(
            products=tuple(Product(*row) for row in self._records("products")),
            supply=supply,
            stock=stock,
            jobs=tuple(
                Job(
                    code,
                    site,
                    product,
                    lay_on,
                    towards,
                    rule,
                    tuple(strips.get(code, ())),
                    self.lawns.get(code, ()),
                    wish,
                )
                for code, site, product, lay_on, towards, rule, wish in jobs
            ),
            lawns={code: lawns for code, lawns in self.lawns.items() if code not in {job[0] for job in jobs}},
            ended=tuple(pairs(self.ended)) if self.ended is not None else (),
            remarks=tuple(self.faults.remarks),
        )

    def _records(self, name: str) -> list[tuple[Any, ...]]:
        """Rows of one sheet, cells in the order of `COLUMNS` and then of `OPTIONAL`."""
        if name not in self.checked:
            return []
        frame = self.checked[name].frame
        return list(zip(*(frame[column].tolist() for column in frame.columns), strict=True))
