"""Printing labels for what lies in the yard, and for what a plan cuts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

from stockplan.actions.piece_labels import code_of, pieces_named, planned_pieces, weight_of
from stockplan.domain.ledger import MovementKind
from stockplan.domain.plan import Piece, Plan
from stockplan.domain.stock import StockItem
from stockplan.domain.tags import tidied
from stockplan.errors import StoreError
from stockplan.report.label_facts import LabelFacts
from stockplan.report.words import form_words

if TYPE_CHECKING:
    from stockplan.domain.ledger import Yard
    from stockplan.store.rows import Rows


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which labels are wanted; all that any part names, each once.

    Parameters
    ----------
    tags
        Of things in the yard.
    plan
        Number of a plan, for its pieces, and for what they have left over once that is cut; None for none.
    bay
        For everything that lies in it; None for none.
    or_pieces
        Whether the tags may name single pieces, too, as their labels do.
    """

    tags: tuple[str, ...] = ()
    plan: int | None = None
    bay: str | None = None
    or_pieces: bool = False


@dataclass(frozen=True, slots=True)
class Labels:
    """Labels that can be printed.

    Parameters
    ----------
    facts
        In the order asked for.
    without_tag
        How many leftovers of the plan have no tag yet, since they are not cut.
    cannot
        Pieces of the plan that cannot come off what they were planned on, as it measures less or was written off.
    given_up
        Pieces that the plan, once accepted, is no longer to cut: it was withdrawn, or another took its place.
    """

    facts: tuple[LabelFacts, ...]
    without_tag: int = 0
    cannot: tuple[str, ...] = ()
    given_up: tuple[str, ...] = ()


def find_labels(where: str | None, wanted: Wanted) -> Labels:
    """Gather what labels say.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    wanted
        Which.

    Raises
    ------
    StoreError
        When a tag is not in the yard, there is no such plan, nothing lies in the bay, or the store cannot be read.
    """
    from stockplan.store.plan_rows import read_weights  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415
    from stockplan.store.rows import rows_of  # noqa: PLC0415
    from stockplan.store.yard_rows import read_yard  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        rows = rows_of(source)
        weights = read_weights(rows)
        items, pieces = _tagged(rows, wanted, weights)
        items += _in_bay(rows, wanted.bay) if wanted.bay is not None else []
        without_tag = 0
        cannot: list[Piece] = []
        given_up: list[Piece] = []
        if wanted.plan is not None:
            whole = _plan(rows, wanted.plan)
            sources = _sources(rows, wanted.plan, whole)
            plan, given_up = _still_its(rows, wanted.plan, whole, sources)
            cannot = list(_cannot(rows, plan, sources))
            names = _names(rows, wanted.plan, sources)
            of_plan = planned_pieces(plan, sources, names, weights, frozenset(cannot))
            pieces = list(dict.fromkeys((*pieces, *of_plan)))
            left, without_tag = _leftovers(rows, plan, sources)
            items += left
        once = list({item.tag: item for item in items}.values())
        jobs = _jobs(rows, once)
        conditions = read_yard(rows, [item.tag for item in once]).conditions
    facts = [_of_item(item, weights, jobs.get(item.tag, ""), conditions.get(item.tag, "")) for item in once]
    return Labels((*facts, *pieces), without_tag, tuple(map(code_of, cannot)), tuple(map(code_of, given_up)))


def _tagged(rows: Rows, wanted: Wanted, weights: Mapping[str, int]) -> tuple[list[StockItem], list[LabelFacts]]:
    """Look up every tag: things in the yard, and what is said of pieces, where they may be meant."""
    from stockplan.actions.every_fault import check_all  # noqa: PLC0415
    from stockplan.actions.meant import known  # noqa: PLC0415
    from stockplan.actions.tracing import piece_words_of  # noqa: PLC0415
    from stockplan.store.yard_rows import read_yard  # noqa: PLC0415

    found: list[StockItem] = []
    pieces: list[LabelFacts] = []

    def look_up(tag: str) -> None:
        yard = read_yard(rows, [tag, tidied(tag)])
        there = bool(yard.items or yard.gone)
        named = pieces_named(rows, tidied(tag), weights) if wanted.or_pieces and not there else []
        if named:
            pieces.extend(named)
            return
        if not there and (piece := piece_words_of(rows, tidied(tag))):
            raise StoreError(piece)
        found.append(known(rows, yard, tag if tag in yard.items else tidied(tag)))

    check_all(*(partial(look_up, tag) for tag in wanted.tags))
    return found, pieces


def _in_bay(rows: Rows, bay: str) -> list[StockItem]:
    from stockplan.store.yard_rows import read_yard_where  # noqa: PLC0415

    found = read_yard_where(rows, "bay = :bay", {"bay": bay}).items
    if not found:
        from stockplan.actions.meant import bays_like  # noqa: PLC0415

        raise StoreError(f"nothing lies in bay {bay}{bays_like(rows, bay)}")
    return [found[tag] for tag in sorted(found)]


def _plan(rows: Rows, number: int) -> Plan:
    from stockplan.report.plan_reader import read_plan  # noqa: PLC0415
    from stockplan.store.plan_rows import read_plan_texts  # noqa: PLC0415

    texts = read_plan_texts(rows, [number])
    if number not in texts:
        raise StoreError(f"there is no plan {number}; stockplan show names the last one made")
    return read_plan(texts[number])


def _sources(rows: Rows, number: int, plan: Plan) -> dict[str, StockItem]:
    """What each source of a plan is, in the yard or gone from it, by the plan's name of it."""
    from stockplan.store.plan_rows import read_lines, read_receipts  # noqa: PLC0415
    from stockplan.store.yard_rows import read_yard  # noqa: PLC0415

    keys = {line.key: line.plan_key for line in read_lines(rows) if line.plan == number}
    came = {keys[key]: tag for tag, key in read_receipts(rows).items() if key in keys}
    tags = {cuts.source: came.get(cuts.source, cuts.source) for cuts in plan.cuts()}
    yard = read_yard(rows, tags.values())
    return {source: item for source, tag in tags.items() if (item := _there_or_gone(yard, tag)) is not None}


def _names(rows: Rows, number: int, sources: Mapping[str, StockItem]) -> dict[str, str]:
    """Tags of a plan's sources, and keys of its orders that are to come: every plan calls its first one new-1."""
    from stockplan.store.plan_rows import read_lines  # noqa: PLC0415

    orders = {line.plan_key: line.key for line in read_lines(rows) if line.plan == number}
    return orders | {source: item.tag for source, item in sources.items()}


def _still_its(rows: Rows, number: int, plan: Plan, sources: Mapping[str, StockItem]) -> tuple[Plan, list[Piece]]:
    """Leave out of a plan what it gave up since it was accepted; a proposal keeps all of it."""
    from stockplan.store.plan_rows import read_lines, read_reserved, read_states  # noqa: PLC0415
    from stockplan.store.yard_rows import read_yard  # noqa: PLC0415

    if number not in read_states(rows):
        return plan, []
    coming = {line.plan_key for line in read_lines(rows) if line.plan == number and line.coming}
    reserved = read_reserved(rows)
    gone = read_yard(rows, [item.tag for item in sources.values()]).gone

    def kept(source: str) -> bool:
        tag = sources[source].tag if source in sources else ""
        if tag in gone:
            return gone[tag].how is MovementKind.WRITTEN_OFF or gone[tag].plan == number
        return source in coming or reserved.get(tag) == number

    products = [
        replace(
            product,
            cuts=tuple(cuts for cuts in product.cuts if kept(cuts.source)),
            leftovers=tuple(left for left in product.leftovers if kept(left.source)),
        )
        for product in plan.products
    ]
    given_up = [piece for cuts in plan.cuts() if not kept(cuts.source) for piece in cuts.pieces()]
    return replace(plan, products=tuple(products)), given_up


def _there_or_gone(yard: Yard, tag: str) -> StockItem | None:
    gone = yard.gone.get(tag)
    return yard.items.get(tag) or (gone.item if gone is not None else None)


def _cannot(rows: Rows, plan: Plan, sources: Mapping[str, StockItem]) -> Iterator[Piece]:
    """Pieces that do not come off what they were planned on: it measures less than planned, or was written off."""
    from stockplan.domain.refit import refit  # noqa: PLC0415
    from stockplan.store.yard_rows import read_yard  # noqa: PLC0415

    gone = read_yard(rows, [item.tag for item in sources.values()]).gone
    for cuts in plan.cuts():
        item = sources.get(cuts.source)
        if item is not None and item.tag in gone and gone[item.tag].how is MovementKind.WRITTEN_OFF:
            yield from cuts.pieces()
        elif item is not None:
            yield from refit(cuts, item, item.width_mm).lost


def _leftovers(rows: Rows, plan: Plan, sources: Mapping[str, StockItem]) -> tuple[list[StockItem], int]:
    """Leftovers of a plan that lie in the yard under their tags, and how many are still to be cut."""
    from stockplan.store.rows import among, by_few  # noqa: PLC0415
    from stockplan.store.yard_rows import read_stock, read_yard_where  # noqa: PLC0415

    tags = {item.tag for item in sources.values()}
    found: list[StockItem] = []
    for few in by_few(tags):
        condition, values = among("parent", few)
        found += read_yard_where(rows, condition, values).items.values()
    uncut = {item.tag for item in read_stock(rows, tags)}
    waiting = sum(
        left.keep and (left.source not in sources or sources[left.source].tag in uncut) for left in plan.leftovers()
    )
    return sorted(found, key=lambda item: item.tag), waiting


def _jobs(rows: Rows, items: Sequence[StockItem]) -> dict[str, str]:
    """Jobs that things are reserved for, in words, by tag."""
    from stockplan.store.plan_rows import read_reserved  # noqa: PLC0415

    reserved = read_reserved(rows)
    plans = {reserved[item.tag] for item in items if item.tag in reserved}
    if not plans:
        return {}
    from stockplan.actions.in_force import read_books  # noqa: PLC0415 - reading plans is slow to import

    books = read_books(rows, only=plans)
    return {one.item.tag: ", ".join(one.jobs()) for one in books.standing(items)}


def _of_item(item: StockItem, weights: Mapping[str, int], jobs: str, condition: str) -> LabelFacts:
    return LabelFacts(
        code=item.tag,
        what=form_words(item.form),
        product=item.product,
        batch=item.batch or "unknown",
        width_mm=item.width_mm,
        length_mm=item.length_mm,
        weight_kg=weight_of(item.width_mm, item.length_mm, weights.get(item.product)),
        bay=item.bay,
        job=jobs,
        condition=condition,
    )
