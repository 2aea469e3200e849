"""Asking what covers a small lawn: it is laid out in strips first, and every layout is tried."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from stockplan.actions.covering import Covered, Grass
from stockplan.actions.shelf import Shelf
from stockplan.actions.stating import laid_out, measured_lawns
from stockplan.domain.cover import Answer, Coverage, Offer, Question, Ready
from stockplan.domain.cover_answers import cover, least_size
from stockplan.domain.cover_purchase import is_small
from stockplan.domain.jobs import BatchRule, Job, Window
from stockplan.domain.layout import Layout
from stockplan.domain.quote_bracket import pieces_of
from stockplan.domain.request import PlanRequest
from stockplan.domain.stock import StockForm, StockItem
from stockplan.domain.units import metres, money
from stockplan.errors import RequestError


def ask_lawn(
    where: str | None,
    lawn: str,
    grass: Grass,
    today: date,
    lay_on: date | None = None,
    most: int = 3,
    *,
    large_is_right: bool = False,
) -> Covered:
    """Say what covers a lawn, by the layout whose first answer is best.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    lawn
        A size such as `3.1 x 1.8` as measured, tape notes, or a file of measurements.
    grass
        Which product; one alone, since strips are as wide as its rolls.
    today, lay_on, most
        As for `ask_cover`.
    large_is_right
        Whether a very large lawn is meant; default not.

    Raises
    ------
    RequestError
        When more than one product is meant, the rules leave no way to lay the lawn, or no layout is a small job.
    SurveyFaults
        When the measurements are at fault.
    StoreError
        When the store cannot be read.
    """
    from stockplan.store.offer_rows import read_catalogue, read_firm  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        products = grass.chosen(read_catalogue(source))
        if len(products) != 1:
            raise RequestError(f"a lawn is laid out for one grass; name one of {', '.join(products)} with --product")
        firm = read_firm(source)
        shelf = Shelf(source, products, today, firm)
        everything = shelf.everything_free()
        lawns = measured_lawns(lawn, firm, large_is_right)
        job = Job("lawn", "", products[0], lay_on or today, "", BatchRule.ONE, (), lawns)
        layouts = laid_out(job, _request(shelf.offer(), products[0], today), firm)
        small = [layout for layout in layouts if is_small(pieces_of(layout.strips))]
        if not small:
            raise RequestError("that lawn takes more pieces than can be tried in every way; use: stockplan quote")
        offers: list[tuple[Question, Offer, Layout]] = []
        for layout in small:
            question = Question(pieces_of(layout.strips), products, today, lay_on, most)
            offers.append((question, shelf.offer(*least_size(question)), layout))

        def covered(question: Question, offer: Offer) -> Coverage:
            return cover(question, offer, lambda: everything)

        # What is promised comes after what is not: where something else covers a layout, it need not be gone into.
        found = [covered(question, replace(offer, loads=(), held=())) for question, offer, _ in offers]
        promised = any(offer.loads or offer.held for _, offer, _ in offers)
        if promised and not any(one.of(Ready.FREE) or one.of(Ready.REST) for one in found):
            found = [covered(question, offer) for question, offer, _ in offers]
        best = min(range(len(found)), key=lambda place: _rank(found[place], offers[place][2]))
        question, offer, layout = offers[best]
        coverage = covered(question, offer) if promised else found[best]
        coverage = replace(coverage, proposed=shelf.proposed(coverage))
    return Covered(coverage, firm.currency, note_of(layout))


def _request(offer: Offer, product: str, today: date) -> PlanRequest:
    """State what strips can be cut from, as laying a lawn out wants it."""
    stock = tuple(
        StockItem(one.key, product, one.batch, one.form, one.width_mm, one.length_mm, one.bay, 0)
        for one in offer.free
        if isinstance(one.form, StockForm)
    )
    return PlanRequest(Window(today, today), today, (), tuple(offer.supply), stock, ())


def _rank(coverage: Coverage, layout: Layout) -> tuple[int, bool, int]:
    """In the order in which answers stand: what is readier first, then what costs less with its seams."""
    first: Answer | None = next(iter(coverage.answers), None)
    if first is None:
        return len(Ready), True, layout.seam_cost_pence
    return list(Ready).index(first.ready), not first.in_time, first.cost_pence + layout.seam_cost_pence


def note_of(layout: Layout) -> str:
    """Say how a lawn is laid, and what its seams cost beside the grass."""
    seams = sum(1 for _ in layout.seams())
    allowances = "; sizes as cut, across × along the pile, allowances for trimming in"
    if not seams:
        return f"Laid in one piece{allowances}."
    many = "one seam" if seams == 1 else f"{seams} seams"
    return (
        f"Laid in {len(tuple(layout.placed()))} strips{allowances}; {many}, {metres(layout.seam_mm)} m, for "
        f"{money(layout.seam_cost_pence)} beside each answer."
    )
