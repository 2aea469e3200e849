"""What the store has to offer the estimator: free, left over by plans, promised, or for sale."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from stockplan.domain.cover import Coverage, Offer, Promise, Proposed, Ready, Source, source_of
from stockplan.domain.pieces import Pieces, in_order
from stockplan.domain.settings import FirmSettings

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from stockplan.actions.in_force import PlanBooks
    from stockplan.domain.standing import Standing
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

    def offer(self, least_width_mm: int = 0, least_length_mm: int = 0) -> Offer:
        """Give what there is of at least a size: free, left over by plans, promised, and what can be bought."""
        from stockplan.store.offer_rows import read_lying, read_offers  # noqa: PLC0415

        lying = read_lying(self.source, self.products, least_width_mm, least_length_mm)
        promised = [(self._source(one), Promise(quote=one.hold.quote, until=one.hold.until))
                    for one in lying if one.plan is None and one.hold and self._is_held(one)]  # fmt: skip
        reserved, rests = self._reserved([one for one in lying if one.plan is not None])
        return Offer(
            free=[*(self._source(one) for one in lying if self._is_free(one)), *self._coming()],
            supply=read_offers(self.source, self.products),
            widest_mm=self.widest_mm,
            rests=rests,
            promised=[*reserved, *promised],
            costs=self.firm.costs,
            layout=self.firm.layout,
        )

    def everything_free(self) -> list[Source]:
        """Give all that lies free, small things too."""
        from stockplan.store.offer_rows import read_lying  # noqa: PLC0415

        lying = read_lying(self.source, self.products)
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
        return source_of(one.item, self.widest_mm.get(one.item.product, 0), one.condition)

    def _coming(self) -> list[Source]:
        """What is ordered for no plan, once it has come."""
        from stockplan.domain.purchase import OrderState  # noqa: PLC0415
        from stockplan.store.plan_rows import read_lines  # noqa: PLC0415

        return [
            source_of(line.as_stock(), self.widest_mm.get(line.product, 0))
            for line in read_lines(self.source)
            if line.plan is None and line.state is OrderState.ORDERED and line.product in self.products
        ]

    def _reserved(self, lying: Sequence[Lying]) -> tuple[list[tuple[Source, Promise]], list[Source]]:
        """Give what is reserved for accepted plans, with what for, and what these plans will leave over of it."""
        if not lying:
            return [], []
        from stockplan.actions.in_force import read_books  # noqa: PLC0415
        from stockplan.store.offer_rows import jobs_begun, read_lay_dates  # noqa: PLC0415

        books = read_books(self.source, {one.plan for one in lying if one.plan is not None})
        known = {one.item.tag: one for one in lying}
        everything = books.standing([one.item for one in lying])
        standing = {one.item.tag: one for one in everything if one.item.product in self.products}
        pieces_of: dict[tuple[int, str], set[str]] = {}
        for number, plan in books.plans.items():
            for piece in plan.pieces():
                pieces_of.setdefault((number, piece.job), set()).add(piece.source)
        whole_jobs = _Wholes(books, standing, self._spent)
        codes = {code for one in standing.values() for code in one.jobs()}
        dates, begun = read_lay_dates(self.source, codes), jobs_begun(self.source, codes)
        promised, rests = [], []
        for tag, one in standing.items():
            jobs = {code: dates[code] for code in one.jobs() if code in dates}
            if not jobs:
                continue
            apart = {code for code in jobs if code in begun or len(pieces_of.get((one.plan, code), ())) > 1}
            tied = frozenset(code for code in apart if jobs[code][1])
            days = {code: day for code, (day, _) in jobs.items()}
            if tag in known:  # what is still to come cannot be freed yet, but what it will leave over can be counted on
                promise = self._promise(one, days, tied)
                wholes = {code: whole_jobs.of(one, code) for code in tied if code not in begun}
                promised.append((self._source(known[tag]), replace(promise, whole=wholes)))
            rests += self._rests(one, known[tag].condition if tag in known else "", min(days.values()))
        return promised, rests

    def _spent(self, one: Standing) -> int:
        """What a plan takes off the firm's worth with a source, cuts included."""
        from stockplan.domain.worth import stock_worth  # noqa: PLC0415

        costs = self.firm.costs
        spent = stock_worth(one.item, self.widest_mm.get(one.item.product, 0))
        spent -= sum(left.value_pence for left in one.leftovers if left.keep)
        return spent + one.cuts.crosscuts * costs.crosscut_pence + one.cuts.rips * costs.rip_pence

    def _promise(self, one: Standing, days: dict[str, date], tied: frozenset[str]) -> Promise:
        needs: dict[str, list[tuple[int, int]]] = {}
        for piece in one.cuts.pieces():
            needs.setdefault(piece.job, []).append((piece.width_mm, piece.length_mm))
        return Promise(
            plan=one.plan,
            jobs=tuple(
                sorted(((code, days[code]) for code in needs if code in days), key=lambda job: (job[1], job[0]))
            ),
            needs={code: in_order(tuple(pieces)) for code, pieces in needs.items() if code in days},
            tied=tied,
            spent_pence=self._spent(one),
        )

    def _rests(self, one: Standing, condition: str, day: date) -> list[Source]:
        rests = []
        item = one.item
        there = source_of(item, self.widest_mm.get(item.product, 0))
        for left in one.leftovers:
            if left.keep:
                rests.append(
                    Source(
                        item.tag, item.product, item.batch_key, left.becomes, left.width_mm, left.length_mm, there.cost,
                        left.value_pence, item.bay, condition, max(day, self.today),
                    )
                )  # fmt: skip
        return rests


class _Wholes:
    """All pieces of the jobs of accepted plans, and what the plans spend on things that serve one of them alone."""

    def __init__(self, books: PlanBooks, standing: Mapping[str, Standing], spent: Callable[[Standing], int]) -> None:
        self._pieces: dict[tuple[int, str], list[tuple[int, int]]] = {}
        for number, plan in books.plans.items():
            for piece in plan.pieces():
                self._pieces.setdefault((number, piece.job), []).append((piece.width_mm, piece.length_mm))
        self._alone: dict[tuple[int, str], dict[str, int]] = {}
        for tag, one in standing.items():
            if len(one.jobs()) == 1:
                self._alone.setdefault((one.plan, one.jobs()[0]), {})[tag] = spent(one)

    def of(self, one: Standing, code: str) -> tuple[Pieces, int]:
        """Give a job's pieces, and what is spent on it elsewhere than on one source."""
        alone = self._alone.get((one.plan, code), {})
        elsewhere = sum(spent for tag, spent in alone.items() if tag != one.item.tag)
        return in_order(tuple(self._pieces[one.plan, code])), elsewhere
