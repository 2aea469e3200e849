"""Asking what covers a small job, and keeping the answer for a quote."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from stockplan.domain.cover import Coverage, Offer, Promise, Question, Ready, Source, source_of
from stockplan.domain.settings import FirmSettings
from stockplan.domain.small_cuts import Pieces, in_order
from stockplan.domain.stock import Product, StockItem
from stockplan.errors import RequestError

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from stockplan.domain.standing import Standing
    from stockplan.store.offer_rows import Lying
    from stockplan.store.rows import Rows


@dataclass(frozen=True, slots=True)
class Grass:
    """Which products would do.

    Parameters
    ----------
    codes
        These; default none named.
    family
        Any whose code or description holds this text, whatever the case; default none.
    any_product
        Any at all.
    """

    codes: tuple[str, ...] = ()
    family: str | None = None
    any_product: bool = False

    def chosen(self, catalogue: Sequence[Product]) -> tuple[str, ...]:
        """Give the codes of the products meant, in order of code.

        Raises
        ------
        RequestError
            When none is meant, or one that the store does not know.
        """
        known = {product.code: product for product in catalogue}
        listed = ", ".join(known) or "none yet; import products.csv first"
        if unknown := [code for code in self.codes if code not in known]:
            raise RequestError(f"the store knows no product {', '.join(unknown)}; it knows: {listed}")
        if self.any_product:
            return tuple(known)
        found = set(self.codes)
        if self.family:
            word = self.family.casefold()
            alike = {one.code for one in catalogue if word in one.code.casefold() or word in one.description.casefold()}
            if not alike:
                raise RequestError(
                    f"no product has {self.family!r} in its code or description; the store knows: {listed}"
                )
            found |= alike
        if not found and len(known) == 1:
            found = set(known)
        if not found:
            raise RequestError(
                f"which grass? name it with --product, or --family, or --any-product; there is: {listed}"
            )
        return tuple(sorted(found))


@dataclass(frozen=True, slots=True)
class Covered:
    """A question answered from the store.

    Parameters
    ----------
    coverage
        The answers.
    currency
        For printing.
    note
        How a lawn is laid; empty where sizes were asked for.
    """

    coverage: Coverage
    currency: str
    note: str = ""


def ask_cover(
    where: str | None, pieces: Pieces, grass: Grass, today: date, lay_on: date | None = None, most: int = 3
) -> Covered:
    """Say what covers a small job.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    pieces
        Sizes as cut.
    grass
        Which products would do.
    today
        The day of asking.
    lay_on
        The day it is to be laid; default open.
    most
        How many answers of each sort; default 3.

    Raises
    ------
    RequestError
        When it is not a small job, or no product is meant.
    StoreError
        When the store cannot be read.
    """
    from stockplan.domain.cover_answers import check_question, cover, least_size  # noqa: PLC0415
    from stockplan.store.offer_rows import read_catalogue, read_firm  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415

    check_question(pieces)
    with open_yard(where) as store, store.reading() as source:
        products = grass.chosen(read_catalogue(source))
        firm = read_firm(source)
        question = Question(pieces, products, today, lay_on, most)
        shelf = Shelf(source, products, today, firm)
        coverage = cover(question, shelf.offer(*least_size(question)), shelf.everything_free)
    return Covered(coverage, firm.currency)


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
        self.widest_mm = read_full_widths(source)

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

        return [self._source(one) for one in read_lying(self.source, self.products) if self._is_free(one)]

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
        standing = {one.item.tag: one for one in books.standing([one.item for one in lying])}
        pieces_of: dict[tuple[int, str], set[str]] = {}
        for number, plan in books.plans.items():
            for piece in plan.pieces():
                pieces_of.setdefault((number, piece.job), set()).add(piece.source)
        codes = {code for one in standing.values() for code in one.jobs()}
        dates, begun = read_lay_dates(self.source, codes), jobs_begun(self.source, codes)
        promised, rests = [], []
        for tag, one in standing.items():
            jobs = {code: dates[code] for code in one.jobs() if code in dates}
            if not jobs:
                continue
            apart = {code for code in jobs if code in begun or len(pieces_of.get((one.plan, code), ())) > 1}
            tied = frozenset(code for code in apart if jobs[code][1])
            promised.append((self._source(known[tag]), self._promise(one, {c: d for c, (d, _) in jobs.items()}, tied)))
            rests += self._rests(one, known[tag], min(day for day, _ in jobs.values()))
        return promised, rests

    def _promise(self, one: Standing, days: dict[str, date], tied: frozenset[str]) -> Promise:
        from stockplan.domain.worth import stock_worth  # noqa: PLC0415

        needs: dict[str, list[tuple[int, int]]] = {}
        for piece in one.cuts.pieces():
            needs.setdefault(piece.job, []).append((piece.width_mm, piece.length_mm))
        costs = self.firm.costs
        spent = stock_worth(one.item, self.widest_mm.get(one.item.product, 0))
        spent -= sum(left.value_pence for left in one.leftovers if left.keep)
        spent += one.cuts.crosscuts * costs.crosscut_pence + one.cuts.rips * costs.rip_pence
        return Promise(
            plan=one.plan,
            jobs=tuple(
                sorted(((code, days[code]) for code in needs if code in days), key=lambda job: (job[1], job[0]))
            ),
            needs={code: in_order(tuple(pieces)) for code, pieces in needs.items() if code in days},
            tied=tied,
            spent_pence=spent,
        )

    def _rests(self, one: Standing, lying: Lying, day: date) -> list[Source]:
        rests = []
        for left in one.leftovers:
            if left.keep:
                item: StockItem = lying.item
                there = self._source(lying)
                rests.append(
                    Source(
                        item.tag, item.product, item.batch_key, left.becomes, left.width_mm, left.length_mm, there.cost,
                        left.value_pence, item.bay, lying.condition, max(day, self.today),
                    )
                )  # fmt: skip
        return rests


def hold_answer(where: str | None, coverage: Coverage, quote: str, until: date, choice: int = 1) -> tuple[str, ...]:
    """Hold what a free answer takes, all of it or nothing, and return the tags held.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    coverage
        The answers, as they were told.
    quote, until
        For whom, and the last day.
    choice
        Which answer, counted from 1; default the first.

    Raises
    ------
    RequestError
        When that answer is nothing that lies free in the yard.
    StoreError
        When something has happened to a tag since, or the store cannot be written.
    """
    from stockplan.actions.importing import user  # noqa: PLC0415
    from stockplan.actions.typed import check_text  # noqa: PLC0415
    from stockplan.domain.ledger import held  # noqa: PLC0415
    from stockplan.store.ledger_rows import record  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.yard_rows import read_yard  # noqa: PLC0415

    check_text("quote", quote)
    answers = coverage.answers
    if not 1 <= choice <= len(answers):
        raise RequestError(f"there is no answer {choice}; there are {len(answers)}")
    answer = answers[choice - 1]
    if answer.ready is not Ready.FREE:
        raise RequestError(f"answer {choice} cannot be held: only what lies free in the yard can be")
    tags = tuple(take.source.key for take in answer.takes)
    with open_yard(where) as store, store.unit_of_work() as work:
        yard = read_yard(work.rows, tags)
        changed = [tag for tag in tags if tag not in yard.items or tag in yard.reservations]
        if changed:
            raise RequestError(f"{', '.join(changed)} was taken or reserved a moment ago; ask again")
        record(work, [held(tag, quote, until, "") for tag in tags], user())
        work.commit()
    return tags
