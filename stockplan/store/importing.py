"""Taking what spreadsheets say into the store, whole or not at all, and only what is new in it."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

from sqlalchemy import bindparam, delete, insert, update
from sqlalchemy.orm import Session

from stockplan.domain.jobs import Job
from stockplan.domain.ledger import Entry, corrected, received
from stockplan.domain.pile_direction import job_wish, pile_faults
from stockplan.domain.stock import Product, StockItem, SupplyOption
from stockplan.errors import SheetFaults
from stockplan.store.ledger_rows import read_gone, read_stock, record
from stockplan.store.repository import offer_key, read_jobs, read_products, read_supply, write_jobs
from stockplan.store.session import UnitOfWork
from stockplan.store.sheets import SheetContents
from stockplan.store.tables_yard import ProductRow, SupplyOptionRow

Thing = TypeVar("Thing")


@dataclass(frozen=True, slots=True)
class Tally:
    """How many of one sort were new, changed, as the store had them, or taken out.

    Parameters
    ----------
    new, changed, same, removed
        How many.
    names
        Of those that changed.
    """

    new: int = 0
    changed: int = 0
    same: int = 0
    removed: int = 0
    names: tuple[str, ...] = field(default=(), compare=False)


@dataclass(frozen=True, slots=True)
class ImportSummary:
    """What an import did.

    Parameters
    ----------
    products, supply, stock, jobs
        A changed offer has another price, a removed one is no longer made by its supplier; a changed stock item was
        corrected; a changed job is replaced whole.
    remarks
        What a person should know of how the sheets were read.
    """

    products: Tally
    supply: Tally
    stock: Tally
    jobs: Tally
    remarks: tuple[str, ...] = ()

    @property
    def changed_anything(self) -> bool:
        """Whether the store is other than before."""
        return any(
            tally.new or tally.changed or tally.removed for tally in (self.products, self.supply, self.stock, self.jobs)
        )


def read_contents(session: Session) -> SheetContents:
    """Read all that sheets could say about this store, for reading other sheets against it."""
    return SheetContents(
        products=tuple(read_products(session)),
        supply=tuple(read_supply(session)),
        stock=tuple(read_stock(session)),
        jobs=tuple(read_jobs(session)),
        gone=frozenset(read_gone(session)),
    )


def import_contents(unit_of_work: UnitOfWork, contents: SheetContents, who: str) -> ImportSummary:
    """Bring the store to what the sheets say. What they do not mention stays; the same again changes nothing.

    Parameters
    ----------
    unit_of_work
        Where to write; not committed here.
    contents
        What the sheets hold.
    who
        Who imports; goes into the ledger.

    Raises
    ------
    SheetFaults
        When anything cannot be: a stock item of another product, batch or form than its tag had, a tag that has left
        the yard, a product nobody knows, a name given twice. Carries every fault; nothing is written.
    """
    held = read_contents(unit_of_work.session)
    says = _jobs_said(contents, held)
    faults = [*_repeats(contents), *_unknown_products(contents, held), *_stock_faults(contents.stock, held)]
    faults += _pile_faults(says)
    if faults:
        raise SheetFaults(faults)
    products = _write_products(unit_of_work, contents.products, held.products)
    supply = _write_supply(unit_of_work, contents.supply, contents.ended, held.supply)
    stock = _write_stock(unit_of_work, contents.stock, held.stock, who)
    jobs = _write_jobs(unit_of_work, says, held.jobs)
    return ImportSummary(products, supply, stock, jobs, contents.remarks)


def _repeats(contents: SheetContents) -> list[str]:
    faults = _twice("products", "product", (product.code for product in contents.products))
    faults += _twice("supply", "offer", (" ".join(map(str, offer_key(option))) for option in contents.supply))
    faults += _twice("stock", "tag", (item.tag for item in contents.stock))
    faults += _twice("jobs", "job", (job.code for job in contents.jobs))
    for job in contents.jobs:
        faults += _twice("strips", "strip", (f"{job.code} {strip.label}" for strip in job.strips))
    return faults


def _twice(sheet: str, column: str, names: Iterable[str]) -> list[str]:
    seen: set[str] = set()
    repeated: dict[str, None] = {}
    for name in names:
        if name in seen:
            repeated[name] = None
        seen.add(name)
    return [f"{sheet}: {column}: given twice, found {name}, each must be given once" for name in repeated]


def _unknown_products(contents: SheetContents, held: SheetContents) -> list[str]:
    known = {product.code for product in (*contents.products, *held.products)}
    users: list[tuple[str, str]] = [("supply", option.product) for option in contents.supply]
    users += [("stock", item.product) for item in contents.stock]
    users += [("jobs", job.product) for job in contents.jobs]
    unknown = dict.fromkeys((sheet, product) for sheet, product in users if product not in known)
    faults = [f"{sheet}: product: unknown, found {product}, give it a row in products" for sheet, product in unknown]
    jobs = {job.code for job in held.jobs}
    strays = [code for code in contents.lawns if code not in jobs]
    return faults + [f"lawns: job: unknown, found {job}, give it a row in jobs" for job in strays]


def _stock_faults(stock: Sequence[StockItem], held: SheetContents) -> list[str]:
    faults = []
    known = {item.tag: item for item in held.stock}
    for item in stock:
        if item.tag in held.gone:
            faults.append(
                f"stock: tag: has left the yard before, found {item.tag}, give the new thing a tag of its own"
            )
        before = known.get(item.tag, item)
        for name in ("product", "batch", "form"):
            was, says = getattr(before, name), getattr(item, name)
            if was != says:
                faults.append(
                    f"stock: {name}: not what tag {item.tag} has in the store, found {says or 'nothing'}, "
                    f"must be {was or 'empty'}; another thing needs another tag"
                )
    return faults


def _sort(
    says: Iterable[Thing], held: Iterable[Thing], key: Callable[[Thing], Hashable]
) -> tuple[list[Thing], list[Thing], Tally]:
    """Sort what the sheets say into new things and changed ones."""
    known = {key(thing): thing for thing in held}
    new, changed, same = [], [], 0
    for thing in says:
        before = known.get(key(thing))
        if before is None:
            new.append(thing)
        elif before != thing:
            changed.append(thing)
        else:
            same += 1
    names = tuple(_name(key(thing)) for thing in changed)
    return new, changed, Tally(len(new), len(changed), same, names=names)


def _name(key: Hashable) -> str:
    """Name a thing by what tells it from others; an offer by product and supplier."""
    return " from ".join(key[:2]) if isinstance(key, tuple) else str(key)


def _write_products(unit_of_work: UnitOfWork, says: Sequence[Product], held: Sequence[Product]) -> Tally:
    new, changed, tally = _sort(says, held, lambda product: product.code)
    connection = unit_of_work.session.connection()
    if new:
        columns = ("code", "description", "weight_g_m2")
        connection.execute(insert(ProductRow), [{name: getattr(thing, name) for name in columns} for thing in new])
    if changed:
        rows = [
            {"the_code": thing.code, "description": thing.description, "weight_g_m2": thing.weight_g_m2}
            for thing in changed
        ]
        connection.execute(update(ProductRow).where(ProductRow.code == bindparam("the_code")), rows)
    return tally


def _write_supply(
    unit_of_work: UnitOfWork,
    says: Sequence[SupplyOption],
    no_more: Iterable[tuple[str, str]],
    held: Sequence[SupplyOption],
) -> Tally:
    """Write offers. The sheet says all that a supplier offers of a product: an offer no longer in it is taken out."""
    new, changed, tally = _sort(says, held, offer_key)
    spoken_for = {(option.product, option.supplier) for option in says} | set(no_more)
    kept = {offer_key(option) for option in says}
    ended = [
        option for option in held if (option.product, option.supplier) in spoken_for and offer_key(option) not in kept
    ]
    connection = unit_of_work.session.connection()
    columns = ("product", "supplier", "form", "width_mm", "length_mm", "lead_days")
    outdated = [
        dict(zip((f"the_{name}" for name in columns), offer_key(option), strict=True)) for option in ended + changed
    ]
    if outdated:
        here = [getattr(SupplyOptionRow, name) == bindparam(f"the_{name}") for name in columns]
        connection.execute(delete(SupplyOptionRow).where(*here), outdated)
    rows = [
        {**dict(zip(columns, offer_key(option), strict=True)), "price_pence": option.price_pence}
        for option in new + changed
    ]
    if rows:
        connection.execute(insert(SupplyOptionRow), rows)
    return replace(tally, removed=len(ended))


def _write_stock(unit_of_work: UnitOfWork, says: Sequence[StockItem], held: Sequence[StockItem], who: str) -> Tally:
    new, changed, tally = _sort(says, held, lambda item: item.tag)
    known = {item.tag: item for item in held}
    entries: list[Entry] = [received(item, "imported") for item in new]
    entries += [corrected(known[item.tag], item, "imported") for item in changed]
    record(unit_of_work, entries, who)
    return tally


def _write_jobs(unit_of_work: UnitOfWork, says: Sequence[Job], held: Sequence[Job]) -> Tally:
    new, changed, tally = _sort(says, held, lambda job: job.code)
    write_jobs(unit_of_work, new + changed)
    return tally


def _jobs_said(contents: SheetContents, held: SheetContents) -> list[Job]:
    """Jobs as they are to stand: lawns and pile wishes that no sheet mentions stay as they were measured in."""
    known = {job.code: job for job in held.jobs}
    says = []
    for job in contents.jobs:
        before = known.get(job.code, job)
        says.append(replace(job, lawns=job.lawns or before.lawns, pile=job.pile or before.pile))
    relaid = [replace(known[code], lawns=lawns) for code, lawns in contents.lawns.items() if code in known]
    return says + relaid


def _pile_faults(jobs: Iterable[Job]) -> list[str]:
    return [f"jobs: pile_wish: {job.code}: {fault}" for job in jobs for fault in pile_faults(job.lawns, job_wish(job))]
