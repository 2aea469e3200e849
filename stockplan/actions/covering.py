"""Asking what covers a small job, and keeping the answer for a quote."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from stockplan.actions.shelf import Shelf
from stockplan.domain.cover import Answer, Coverage, Question, Ready
from stockplan.domain.pieces import Pieces
from stockplan.domain.stock import Product
from stockplan.errors import RequestError


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
            When none is meant, or one that the store does not know, or a family that none is of.
        """
        known = {product.code: product for product in catalogue}
        listed = ", ".join(known) or "none yet; import products.csv first"
        faults = []
        if unknown := [code for code in self.codes if code not in known]:
            from stockplan.actions.meant import no_product  # noqa: PLC0415

            faults.append(no_product(", ".join(unknown), known))
        found = set(self.codes)
        if self.family is not None:
            word = self.family.strip().casefold()
            texts = {one.code: f"{one.code}\n{one.description}".casefold() for one in catalogue}
            alike = {code for code, text in texts.items() if word and word in text}
            if not alike:
                faults.append(f"no product has {self.family!r} in its code or description; the store knows: {listed}")
            found |= alike
        if faults:
            raise RequestError("\n".join(faults))
        if self.any_product:
            return tuple(known)
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
        When it is not a small job, its day has passed, or no product is meant.
    StoreError
        When the store cannot be read.
    """
    from stockplan.domain.cover_answers import cover, least_size  # noqa: PLC0415
    from stockplan.domain.cover_purchase import check_question  # noqa: PLC0415
    from stockplan.store.offer_rows import read_catalogue, read_firm  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415

    check_question(pieces, today, lay_on)
    with open_yard(where) as store, store.reading() as source:
        products = grass.chosen(read_catalogue(source))
        firm = read_firm(source)
        question = Question(pieces, products, today, lay_on, most)
        shelf = Shelf(source, products, today, firm)
        coverage = cover(question, shelf.offer(*least_size(question)), shelf.everything_free)
        coverage = replace(coverage, proposed=shelf.proposed(coverage))
    return Covered(coverage, firm.currency)


def check_grass(where: str | None, grass: Grass) -> None:
    """Refuse a question about grass that the store does not know.

    Raises
    ------
    RequestError
        See `Grass.chosen`.
    StoreError
        When the store cannot be read.
    """
    from stockplan.store.offer_rows import read_catalogue  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        grass.chosen(read_catalogue(source))


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
    StockplanError
        When that answer is nothing that lies free in the yard, the quote's name cannot be or the day has passed; names
        all of it.
    StoreError
        When something has happened to a tag since, or the store cannot be written.
    """
    from stockplan.actions.every_fault import every_fault  # noqa: PLC0415
    from stockplan.actions.typed import check_hold  # noqa: PLC0415
    from stockplan.actions.user import user  # noqa: PLC0415
    from stockplan.domain.ledger import held  # noqa: PLC0415
    from stockplan.store.ledger_rows import record  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.rows import ledger_day  # noqa: PLC0415
    from stockplan.store.yard_rows import read_yard  # noqa: PLC0415

    with every_fault(lambda: _free_answer(coverage, choice)):
        check_hold(quote, until)
    answer = _free_answer(coverage, choice)
    told = {take.source.key: (take.source.width_mm, take.source.length_mm) for take in answer.takes}
    tags = tuple(told)
    with open_yard(where) as store, store.unit_of_work() as work:
        yard = read_yard(work.rows, tags)
        free = {tag: (one.width_mm, one.length_mm) for tag, one in yard.items.items() if tag not in yard.reservations}
        changed = [tag for tag in tags if free.get(tag) != told[tag]]
        if changed:
            raise RequestError(f"{', '.join(changed)} was taken, reserved or measured again a moment ago; ask again")
        if taken := {tag: hold for tag in tags if (hold := yard.hold_on(tag, ledger_day()))}:
            of = ", ".join(f"{tag} is held for {hold.quote} until {hold.until}" for tag, hold in taken.items())
            raise RequestError(f"answer {choice} cannot be held: {of}; ask again, or name another answer with --take")
        record(work, [held(tag, quote, until, "") for tag in tags], user())
        work.commit()
    return tags


def held_beside(where: str | None, quote: str, tags: Sequence[str]) -> tuple[str, ...]:
    """Give the tags of what else is held for a quote, in order.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    quote
        Which quote.
    tags
        What is known to be held for it.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.rows import ledger_day, rows_of  # noqa: PLC0415
    from stockplan.store.yard_rows import read_yard_where  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        yard = read_yard_where(rows_of(source), "quote = :quote", {"quote": quote})
    today = ledger_day()
    return tuple(tag for tag in sorted(yard.items) if tag not in tags and yard.hold_on(tag, today) is not None)


def _free_answer(coverage: Coverage, choice: int) -> Answer:
    answers = coverage.answers
    if not 1 <= choice <= len(answers):
        raise RequestError(f"there is no answer {choice}; there are {len(answers)}")
    answer = answers[choice - 1]
    if answer.ready is not Ready.FREE:
        raise RequestError(f"answer {choice} cannot be held: only what lies free in the yard can be")
    if coming := [take.source for take in answer.takes if take.source.from_day]:
        due = ", ".join(f"{source.key} is on its way, due on {source.from_day}" for source in coming)
        raise RequestError(f"answer {choice} cannot be held: {due}; hold it once it has come")
    return answer
