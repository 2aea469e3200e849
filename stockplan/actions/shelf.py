"""What the store has to offer the estimator: free, left over by plans, promised, or for sale."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from functools import cached_property
from typing import TYPE_CHECKING

from stockplan.domain.cover import Coverage, Offer, Proposed, Ready
from stockplan.domain.cover_promise import Load, Promise, PromisedJob, drops_of
from stockplan.domain.cover_source import Source, source_of
from stockplan.domain.settings import FirmSettings

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from stockplan.domain.purchase import OrderLine
    from stockplan.domain.standing import Standing
    from stockplan.domain.stock import StockItem, SupplyOption
    from stockplan.store.offer_rows import Lying
    from stockplan.store.rows import Rows


class Shelf:
    """What the store has to offer of some products.

    Parameters
    ----------
    source
        An open store.
    products
        Codes.
    today
        The day of asking: a hold that ends before it has ended.
    firm
        The firm's settings.
    """

    def __init__(self, source: Session | Rows, products: tuple[str, ...], today: date, firm: FirmSettings) -> None:
        from stockplan.store.plan_rows import read_full_widths  # noqa: PLC0415

        self.source, self.products, self.today, self.firm = source, products, today, firm
        self.widest_mm = read_full_widths(source, products)
        self._sources: dict[str, Source] = {}

    def offer(self, least_width_mm: int = 0, least_length_mm: int = 0) -> Offer:
        """Give free things of at least a size, held ones of every size, all that plans are to cut, and what is sold.

        Where something might be freed, small things may take its place, and free things of every size are given.

        Parameters
        ----------
        least_width_mm, least_length_mm
            Of free things, across and along, mm; default any size.
        """
        loads, jobs, rests = self._in_force
        if any(load.here for load in loads):
            lying, free = self._lying, self._free
        else:
            lying = self._lying_of(least_width_mm, least_length_mm)
            free = self._free_of(lying)
        held = [(self._source(one), Promise(quote=one.hold.quote, until=one.hold.until))
                for one in lying if one.plan is None and one.hold and self._is_held(one)]  # fmt: skip
        return Offer(
            free=free,
            supply=self.supply(),
            widest_mm=self.widest_mm,
            rests=rests,
            held=held,
            loads=loads,
            jobs=jobs,
            costs=self.firm.costs,
            layout=self.firm.layout,
        )

    def everything_free(self) -> list[Source]:
        """Give all that lies free, small things too."""
        return self._free

    def free_items(self) -> list[StockItem]:
        """Give the same as stock items."""
        return [*(one.item for one in self._lying if self._is_free(one)), *self._to_be_stock()]

    def supply(self) -> list[SupplyOption]:
        """Give what can be bought."""
        from stockplan.store.offer_rows import read_offers  # noqa: PLC0415

        return read_offers(self.source, self.products)

    @cached_property
    def _lying(self) -> list[Lying]:
        from stockplan.store.offer_rows import read_lying  # noqa: PLC0415

        return read_lying(self.source, self.products)

    def _lying_of(self, least_width_mm: int, least_length_mm: int) -> list[Lying]:
        """What lies there of at least a size, read once more only where not all of it has been read."""
        if "_lying" not in vars(self):
            from stockplan.store.offer_rows import read_lying  # noqa: PLC0415

            return read_lying(self.source, self.products, least_width_mm, least_length_mm)
        return [
            one
            for one in self._lying
            if one.hold or (one.item.width_mm >= least_width_mm and one.item.length_mm >= least_length_mm)
        ]

    @cached_property
    def _free(self) -> list[Source]:
        return self._free_of(self._lying)

    def _free_of(self, lying: Sequence[Lying]) -> list[Source]:
        return [*(self._source(one) for one in lying if self._is_free(one)), *self._coming()]

    def proposed(self, coverage: Coverage) -> tuple[Proposed, ...]:
        """Say what the last plan would cut of what is told as free, where nobody has accepted it yet."""
        from stockplan.store.offer_rows import read_proposal  # noqa: PLC0415

        tags = list(dict.fromkeys(take.source.key for one in coverage.of(Ready.FREE) for take in one.takes))
        found = read_proposal(self.source, self.today) if tags else None
        if found is None:
            return ()
        jobs: dict[str, dict[str, None]] = {}
        for piece in json.loads(found[1])["pieces"]:
            jobs.setdefault(piece["source"], {})[piece["job"]] = None
        return tuple(Proposed(tag, found[0], tuple(jobs[tag])) for tag in tags if tag in jobs)

    def _is_held(self, one: Lying) -> bool:
        return one.hold is not None and self.today <= one.hold.until

    def _is_free(self, one: Lying) -> bool:
        return one.plan is None and not self._is_held(one)

    def _source(self, one: Lying) -> Source:
        if one.item.tag not in self._sources:
            widest_mm = self.widest_mm.get(one.item.product, 0)
            self._sources[one.item.tag] = source_of(one.item, widest_mm, one.condition)
        return self._sources[one.item.tag]

    def _coming(self) -> list[Source]:
        """What is ordered for no plan, once it has come."""
        return [source_of(item, self.widest_mm.get(item.product, 0)) for item in self._to_be_stock()]

    def _to_be_stock(self) -> list[StockItem]:
        from stockplan.domain.purchase import OrderState  # noqa: PLC0415
        from stockplan.store.plan_rows import read_lines  # noqa: PLC0415

        return [
            line.as_stock(self.today)
            for line in read_lines(self.source)
            if line.plan is None and line.state is OrderState.ORDERED and line.product in self.products
        ]

    @cached_property
    def _in_force(self) -> tuple[list[Load], dict[str, PromisedJob], list[Source]]:
        """What accepted plans are still to cut, however small; for which jobs; and what they will leave over."""
        from stockplan.store.offer_rows import jobs_begun, plans_with, read_lay_dates, read_reserved_lying  # noqa: PLC0415

        plans = plans_with(self.source, self.products)
        if not plans:
            return [], {}, []
        from stockplan.actions.in_force import read_books  # noqa: PLC0415
        from stockplan.store.pin_rows import read_pins  # noqa: PLC0415

        lying = {one.item.tag: one for one in read_reserved_lying(self.source)}
        books = read_books(self.source, plans)
        everything = books.standing([one.item for one in lying.values()], self.today)
        standing = [one for one in everything if one.item.product in self.products]
        codes = {code for one in standing for code in one.jobs()}
        begun = jobs_begun(self.source, codes)
        dates = read_lay_dates(self.source, codes)
        pinned = {pin.job for pin in read_pins(self.source)}
        jobs = {
            code: PromisedJob(day, one_batch, code in begun, code in pinned) for code, (day, one_batch) in dates.items()
        }
        loads: list[Load] = []
        rests: list[Source] = []
        for one in standing:
            tag = one.item.tag
            source = self._source(lying[tag]) if tag in lying else self._to_come(books.lines[tag])
            load = Load(source, one.plan, drops_of(one.cuts, jobs), tag in lying)
            if load.drops:
                loads.append(load)
                rests += self._rests(one, source, min(jobs[code].lay_on for code, _ in load.items()))
        return loads, jobs, rests

    def _to_come(self, line: OrderLine) -> Source:
        """What is ordered, as something to cut from; a draft would not be bought when nothing is cut of it."""
        from stockplan.domain.purchase import OrderState  # noqa: PLC0415

        source = source_of(line.as_stock(self.today), self.widest_mm.get(line.product, 0))
        return replace(source, touch_pence=line.price_pence) if line.state is OrderState.DRAFT else source

    def _rests(self, one: Standing, source: Source, day: date) -> Iterator[Source]:
        day = max(day, self.today, source.from_day or day)  # what comes late is cut late
        for left in one.leftovers:
            if left.keep:
                yield replace(
                    source, form=left.becomes, width_mm=left.width_mm, length_mm=left.length_mm,
                    touch_pence=left.value_pence, from_day=day,
                )  # fmt: skip
