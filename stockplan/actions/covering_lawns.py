"""Asking what covers a small lawn: it is laid out in strips first, and every layout is tried."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from math import inf

from stockplan.actions.covering import Covered, Grass
from stockplan.actions.shelf import Shelf
from stockplan.actions.stating import laid_out, measured_lawns
from stockplan.domain.cover import Coverage, Laying, Offer, Question, Ready
from stockplan.domain.cover_answers import cover, least_size
from stockplan.domain.cover_lawn import Rank, laid, most_pence, put_together, rank
from stockplan.domain.cover_purchase import is_small
from stockplan.domain.jobs import BatchRule, Job, Window
from stockplan.domain.lawn import Lawn
from stockplan.domain.layout import Layout, turned
from stockplan.domain.quote_bracket import pieces_of
from stockplan.domain.request import PlanRequest
from stockplan.domain.units import metres
from stockplan.errors import RequestError
from stockplan.report.cover_words import layings_text
from stockplan.report.lawn_facing import ALL_ALIKE, AS_DRAWN, facing_words


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
    """Say what covers a lawn, in every way to lay it that is a small job, one piece first.

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
        lawns = measured_lawns(lawn, firm, large_is_right)
        job = Job("lawn", "", products[0], lay_on or today, "", BatchRule.ONE, (), lawns)
        layouts = laid_out(job, _request(shelf, today), firm)
        layings = [
            laying_of(layout, lawns, firm.layout.warn_narrow_mm)
            for layout in layouts
            if is_small(pieces_of(layout.strips))
        ]
        if not layings:
            raise RequestError("that lawn takes more pieces than can be tried in every way; use: stockplan quote")
        questions = [Question(laying.pieces, products, today, lay_on, most) for laying in layings]
        widths, lengths = zip(*map(least_size, questions), strict=True)
        offer = shelf.offer(min(widths), min(lengths))
        found = _answered(list(zip(questions, layings, strict=True)), offer, shelf)
        coverage = put_together(found, most)
        coverage = replace(coverage, proposed=shelf.proposed(coverage))
    return Covered(coverage, firm.currency, layings_text(coverage.layings))


def _answered(ways: Sequence[tuple[Question, Laying]], offer: Offer, shelf: Shelf) -> list[Coverage]:
    """Answer for every way to lay a lawn.

    What is promised comes after what is not: where something else covers the lawn, it is gone into for the best way of
    each direction only. Ways with a seam come last, and are looked for no further than the others make worth while.
    """
    answered: dict[int, Coverage] = {}

    def covered(place: int, offer: Offer, highest: float = inf) -> None:
        question, laying = ways[place]
        answered[place] = laid(cover(question, offer, shelf.everything_free, highest), laying)

    for place in sorted(range(len(ways)), key=lambda place: ways[place][1].seams > 0):
        question, laying = ways[place]
        covered(place, _not_promised(offer, question), most_pence(answered.values(), laying, question.most))
    if offer.loads or offer.held:
        found = [answered[place] for place in range(len(ways))]
        covers = any(one.of(Ready.FREE) or one.of(Ready.REST) for one in found)
        for place in _best_of_each_way(found) if covers else range(len(ways)):
            covered(place, offer)
    return [answered[place] for place in range(len(ways))]


def check_lawn(where: str | None, lawn: str, *, large_is_right: bool = False) -> None:
    """Refuse a lawn whose measurements are at fault, as `ask_lawn` does.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    lawn
        A size, tape notes or a file.
    large_is_right
        Do not ask again about a very large lawn; default ask.

    Raises
    ------
    RequestError, SurveyFaults
        As `ask_lawn` raises them for the measurements alone.
    """
    from stockplan.store.offer_rows import read_firm  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        measured_lawns(lawn, read_firm(source), large_is_right)


def _request(shelf: Shelf, today: date) -> PlanRequest:
    """State what strips can be cut from, as laying a lawn out wants it."""
    return PlanRequest(Window(today, today), today, (), tuple(shelf.supply()), tuple(shelf.free_items()), ())


def _not_promised(offer: Offer, question: Question) -> Offer:
    """Leave out what is promised, and of what is free whatever gives none of the pieces."""
    size = least_size(question)
    return replace(offer, free=[one for one in offer.free if one.gives(size)], loads=(), held=())


def _best_of_each_way(found: Sequence[Coverage]) -> list[int]:
    """Places of the layouts whose first answer is best, one for each way that the pile may lean."""
    best: dict[float, tuple[Rank, int]] = {}
    for place, one in enumerate(found):
        first = next(iter(one.answers), None)
        if first is not None and first.laying is not None:
            bearing = first.laying.bearing
            best[bearing] = min(best.get(bearing, (rank(first), place)), (rank(first), place))
    return [place for _, place in best.values()]


def laying_of(layout: Layout, lawns: Sequence[Lawn], warn_narrow_mm: int) -> Laying:
    """Say how a layout lies: its strips, its seams, and which way its pile leans on the first of the lawns.

    Parameters
    ----------
    layout, lawns
        One way to lay the lawns.
    warn_narrow_mm
        A strip beside others that covers less across is pointed out.
    """
    covers = [strip.covers_mm for laid in layout.lawns if len(laid.strips) > 1 for strip in laid.strips]
    narrowest = min(covers, default=warn_narrow_mm)
    first = layout.lawns[0]
    lawn = next(one for one in lawns if one.label == first.lawn)
    along = [turned(corner.x_mm, corner.y_mm, first.bearing)[1] for corner in lawn.edge]
    facing = facing_words(lawn, first, layout.either_way).removeprefix("Pile ").removesuffix(ALL_ALIKE)
    where = "" if facing == AS_DRAWN else f", {facing}"
    return Laying(
        "",
        pieces_of(layout.strips),
        sum(1 for _ in layout.seams()),
        layout.seam_mm,
        layout.seam_cost_pence,
        first.bearing,
        f"pile along its {metres(round(max(along) - min(along)))} m{where}",
        narrowest if narrowest < warn_narrow_mm else 0,
    )
