"""What is different between two plans, in plain words.

Orders of two plans have nothing in common but what is bought, so they are compared by that; stock is compared by tag.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from stockplan.domain.plan import Order, Piece, Plan, PlannedLeftover
from stockplan.domain.purchase import OrderLine
from stockplan.domain.standing import Standing
from stockplan.domain.stock import StockForm, SupplyForm
from stockplan.domain.units import size


@dataclass(frozen=True, slots=True)
class Picture:
    """What two plans are compared by.

    Parameters
    ----------
    sources
        For each job what its pieces come from, in words, with how many pieces.
    short
        Jobs left short.
    orders
        What is bought, in words, with how often.
    leftovers
        What is kept, in words, with how often.
    begun
        Jobs of which something was left out, as it is cut already or stays.
    sizes
        For each job the sizes of its pieces, in words, with how many pieces.
    """

    sources: Mapping[str, Counter[str]] = field(default_factory=dict)
    short: frozenset[str] = frozenset()
    orders: Counter[str] = field(default_factory=Counter)
    leftovers: Counter[str] = field(default_factory=Counter)
    begun: frozenset[str] = frozenset()
    sizes: Mapping[str, Counter[str]] = field(default_factory=dict)


def picture(plan: Plan) -> Picture:
    """Take a plan's picture.

    Parameters
    ----------
    plan
        The plan.
    """
    bought = {order.key: _bought(order) for order in plan.orders()}
    sources: dict[str, Counter[str]] = {}
    for piece in plan.pieces():
        sources.setdefault(piece.job, Counter())[bought.get(piece.source, piece.source)] += 1
    products = {cuts.source: cuts.product for cuts in plan.cuts()}
    left = Counter(_left(left, products.get(left.source, "")) for left in plan.leftovers() if left.keep)
    short = frozenset(shortfall.job for shortfall in plan.short())
    return Picture(sources, short, Counter(bought.values()), left, sizes=_sizes(plan.pieces()))


def picture_of_standing(
    standing: Iterable[Standing], drafts: Mapping[str, OrderLine], short: Iterable[str] = (), begun: Iterable[str] = ()
) -> Picture:
    """Take the picture of what accepted plans were still to cut and give back.

    Parameters
    ----------
    standing
        What is given back.
    drafts
        Orders among it that were only drafted and are dropped, by key.
    short
        Jobs these plans left short.
    begun
        Jobs of which something is cut, or stays.
    """
    given = list(standing)
    bought = {one.item.tag: _bought(drafts[one.item.tag]) for one in given if one.item.tag in drafts}
    sources: dict[str, Counter[str]] = {}
    for one in given:
        for piece in (*one.cuts.pieces(), *one.lost):
            sources.setdefault(piece.job, Counter())[bought.get(one.item.tag, one.item.tag)] += 1
    left = Counter(_left(left, one.item.product) for one in given for left in one.leftovers if left.keep)
    sizes = _sizes(piece for one in given for piece in (*one.cuts.pieces(), *one.lost))
    return Picture(sources, frozenset(short) - sources.keys(), Counter(bought.values()), left, frozenset(begun), sizes)


def _sizes(pieces: Iterable[Piece]) -> dict[str, Counter[str]]:
    found: dict[str, Counter[str]] = {}
    for piece in pieces:
        found.setdefault(piece.job, Counter())[size(piece.width_mm, piece.length_mm)] += 1
    return found


def _bought(order: Order | OrderLine) -> str:
    form = "roll" if order.form is SupplyForm.ROLL else "cut length"
    return f"a new {form} of {order.product}, {size(order.width_mm, order.length_mm)} m from {order.supplier}"


def _left(left: PlannedLeftover, product: str) -> str:
    form = "part roll" if left.becomes is StockForm.PART_ROLL else "offcut"
    return f"{form} of {product}, {size(left.width_mm, left.length_mm)} m"


def differences(before: Picture, after: Picture) -> list[str]:
    """List what differs, a line each: jobs in order of code, then orders, then leftovers.

    Parameters
    ----------
    before, after
        Pictures of the earlier and the later plan; jobs in only one of them are told as new or gone.
    """
    lines: list[str] = []
    for code in sorted({*before.sources, *before.short, *after.sources, *after.short}):
        lines += _job(code, before, after)
    lines += _counts(before.orders, after.orders, "ordered now", "no longer ordered")
    lines += _counts(before.leftovers, after.leftovers, "left over now", "no longer left over")
    return lines


def _job(code: str, before: Picture, after: Picture) -> Iterator[str]:
    old, new = before.sources.get(code, Counter()), after.sources.get(code, Counter())
    if code in after.short:
        if code not in before.short:
            yield f"{code}: short now" + (f"; was from {_names(old)}" if old else "")
    elif not new:
        if old:  # one that was short, and is laid on other days or served by another plan, was never planned
            yield f"{code}: no longer planned; was from {_names(old)}"
    elif not old and code in before.begun:
        yield f"{code}: now also from {_names(new)}"
    elif not old:
        yield f"{code}: from {_names(new)}; was {'short' if code in before.short else 'not planned'}"
    elif old.keys() != new.keys():
        yield f"{code}: from {_names(new)}; was from {_names(old)}"
    elif old != new:
        told = ", ".join(
            f"{_pieces(new[name])} from {name} instead of {old[name]}" for name in new if new[name] != old[name]
        )
        yield f"{code}: {told}"
    elif code in before.sizes and before.sizes[code] != after.sizes.get(code, before.sizes[code]):
        cut, was = _cut_to(after.sizes[code]), _cut_to(before.sizes[code])
        yield f"{code}: from {_names(new)} as before, but cut to {cut}; was {was}"


def _cut_to(sizes: Counter[str]) -> str:
    return " and ".join(f"{number} × ({name})" if number > 1 else name for name, number in sorted(sizes.items()))


def _pieces(number: int) -> str:
    return "1 piece" if number == 1 else f"{number} pieces"


def _names(sources: Counter[str]) -> str:
    return " and ".join(sorted(sources))


def _counts(before: Counter[str], after: Counter[str], more: str, fewer: str) -> Iterator[str]:
    for name in sorted(before.keys() | after.keys()):
        change = after[name] - before[name]
        if change:
            count = f"{abs(change)} × " if abs(change) > 1 else ""
            yield f"{more if change > 0 else fewer}: {count}{name}"
