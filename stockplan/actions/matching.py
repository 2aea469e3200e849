"""Holding a month's small enquiries against the offcuts in the yard."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from stockplan.actions.shelf import Shelf
from stockplan.domain.cover import Miss, Offer, Question
from stockplan.domain.cover_answers import nearest_misses
from stockplan.domain.cover_purchase import cheapest_purchases, check_question
from stockplan.domain.cover_search import Desk
from stockplan.domain.cover_source import Source
from stockplan.domain.enquiries import Matched, Pairings, SmallEnquiry
from stockplan.domain.stock import StockForm
from stockplan.errors import RequestError


@dataclass(frozen=True, slots=True)
class MatchedEnquiries:
    """Enquiries answered from the store.

    Parameters
    ----------
    matched
        The answer.
    misses
        For each enquiry that is not covered and that no offcut could cover by itself, the nearest miss if there is any.
    fitting
        For each enquiry, how many offcuts could cover it by themselves.
    offcuts
        How many offcuts there are.
    currency
        For printing.
    """

    matched: Matched
    misses: dict[int, Miss]
    fitting: tuple[int, ...]
    offcuts: int
    currency: str


def match_enquiries(
    where: str | None, path: Path, today: date, together: int = 2, part_rolls: bool = False
) -> MatchedEnquiries:
    """Choose which enquiries to cover from offcuts alone.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    path
        A CSV file; see `read_enquiries`.
    today
        The day of asking.
    together
        How many enquiries one offcut may cover, 1 to 4; default 2.
    part_rolls
        Whether part rolls count as offcuts; default no.

    Raises
    ------
    SheetFaults
        When the file holds faults.
    RequestError
        When it holds no enquiry, or some that are not small; names each of them.
    StoreError
        When the store cannot be read.
    """
    from stockplan.cutting.matching import match  # noqa: PLC0415
    from stockplan.store.enquiry_sheet import read_enquiries  # noqa: PLC0415
    from stockplan.store.offer_rows import read_catalogue, read_firm  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        products = tuple(product.code for product in read_catalogue(source))
        enquiries = read_enquiries(path, products)
        if not enquiries:
            raise RequestError(f"{path} holds no enquiries; one row each: enquiry, product, width_m, length_m")
        _check_small(enquiries)
        firm = read_firm(source)
        asked = tuple(sorted({enquiry.product for enquiry in enquiries}))
        offer = Shelf(source, asked, today, firm).offer()
    loose = (StockForm.OFFCUT, StockForm.PART_ROLL) if part_rolls else (StockForm.OFFCUT,)
    offcuts = [one for one in offer.free if one.form in loose and not one.condition and one.from_day is None]
    desks = {code: Desk(offer.widest_mm.get(code, 0), firm.costs) for code in asked}
    worths = tuple(_worth(enquiry, offer, desks[enquiry.product], today) for enquiry in enquiries)
    matched = match(Pairings(enquiries, worths, offcuts, desks, together))
    return _answered(matched, offcuts, firm.currency)


def _check_small(enquiries: Sequence[SmallEnquiry]) -> None:
    """Refuse enquiries of more pieces than can be tried in every way, all of them at once."""
    faults = []
    for enquiry in enquiries:
        try:
            check_question(enquiry.pieces)
        except RequestError as error:
            faults.append(f"{enquiry.name}: {error}")
    if faults:
        raise RequestError("\n".join(faults))


def _worth(enquiry: SmallEnquiry, offer: Offer, desk: Desk, today: date) -> int | None:
    """What covering an enquiry is worth: as stated, else what buying its grass would cost; None where none is sold."""
    if enquiry.worth_pence is not None:
        return enquiry.worth_pence
    options = [option for option in offer.supply if option.product == enquiry.product]
    takes = cheapest_purchases(desk, options, Question(enquiry.pieces, (enquiry.product,), today))
    return sum(take.cost_pence for take in takes) if takes else None


def _answered(matched: Matched, offcuts: list[Source], currency: str) -> MatchedEnquiries:
    from stockplan.domain.pieces import fits  # noqa: PLC0415

    of_product = [[one for one in offcuts if one.product == enquiry.product] for enquiry in matched.enquiries]
    fitting = tuple(
        sum(fits(enquiry.pieces, one.width_mm, one.length_mm) for one in alike)
        for enquiry, alike in zip(matched.enquiries, of_product, strict=True)
    )
    misses = {}
    for place in matched.left():
        if not fitting[place] and (near := nearest_misses(matched.enquiries[place].pieces, of_product[place], 1)):
            misses[place] = near[0]
    return MatchedEnquiries(matched, misses, fitting, len(offcuts), currency)
