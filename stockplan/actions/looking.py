"""Looking at what is in the store: stock, jobs, and whether all is in order."""

from __future__ import annotations

from dataclasses import dataclass

from stockplan.domain.jobs import Job, Window
from stockplan.domain.stock import StockItem
from stockplan.errors import StoreError


@dataclass(frozen=True, slots=True)
class StockFilter:
    """Which stock items are meant; what is None does not matter.

    Parameters
    ----------
    product, batch, bay
        Exactly as written on the tag; an empty batch means unknown.
    least_width_mm, least_length_mm
        At least so much across and along the pile; nothing is turned to fit.
    """

    product: str | None = None
    batch: str | None = None
    bay: str | None = None
    least_width_mm: int = 0
    least_length_mm: int = 0

    def takes(self, item: StockItem) -> bool:
        """Whether an item is meant."""
        return (
            self.product in (None, item.product)
            and self.batch in (None, item.batch)
            and self.bay in (None, item.bay)
            and item.width_mm >= self.least_width_mm
            and item.length_mm >= self.least_length_mm
        )


def list_stock(where: str | None, wanted: StockFilter) -> list[StockItem]:
    """Read what lies in the yard, in order of product and tag.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    from stockplan.store.ledger_rows import read_stock  # noqa: PLC0415
    from stockplan.store.session import open_store  # noqa: PLC0415

    with open_store(where) as store, store.reading() as session:
        found = [item for item in read_stock(session) if wanted.takes(item)]
    return sorted(found, key=lambda item: (item.product, item.tag))


def unknown_product(where: str | None, code: str) -> str | None:
    """Say that the store knows no product of this code, and which one may be meant; None when it knows it.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    from stockplan.store.repository import read_products  # noqa: PLC0415
    from stockplan.store.session import open_store  # noqa: PLC0415
    from stockplan.store.sheet_cells import nearest  # noqa: PLC0415
    from stockplan.store.sheet_faults import shown  # noqa: PLC0415

    with open_store(where) as store, store.reading() as session:
        codes = [product.code for product in read_products(session)]
    if code in codes:
        return None
    near = nearest(code, codes)
    meant = f"; perhaps {shown(near)} is meant" if near else ""
    return f"The store knows no product {shown(code)}{meant}."


def list_jobs(where: str | None, window: Window | None = None) -> list[Job]:
    """Read the schedule, in order of lay date and code.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    from stockplan.store.repository import read_jobs  # noqa: PLC0415
    from stockplan.store.session import open_store  # noqa: PLC0415

    with open_store(where) as store, store.reading() as session:
        return read_jobs(session, window)


def verify(where: str | None) -> tuple[str, list[str]]:
    """Check a store against itself and return its name and every fault found.

    Raises
    ------
    StoreError
        When the store cannot be read at all.
    """
    from stockplan.report.plan_reader import read_plan, read_request  # noqa: PLC0415
    from stockplan.store.repository import read_plans  # noqa: PLC0415
    from stockplan.store.session import open_store  # noqa: PLC0415
    from stockplan.store.verify import verify_store  # noqa: PLC0415

    with open_store(where) as store, store.reading() as session:
        faults = verify_store(session)
        for stored in read_plans(session):
            try:
                plan = read_plan(stored.plan_json)
                read_request(stored.plan_json)
            except StoreError as error:
                faults.append(f"stored plan {stored.number}: {error}")
                continue
            if (plan.window, plan.net_cost_pence) != (stored.window, stored.net_cost_pence):
                faults.append(f"stored plan {stored.number} has another window or cost than its file")
        return store.name, faults
