"""Cautions about things that were stored as typed, though a slip is likely."""

from __future__ import annotations

from collections.abc import Sequence

from stockplan.cli.saying import say
from stockplan.domain.as_typed import argument
from stockplan.domain.stock import StockForm, StockItem

LEAST_PERCENT, MOST_PERCENT = 50, 125  # of what was ordered; rolls come a little longer, seldom by so much


def tell_other_product(where: str | None, item: StockItem) -> None:
    """Say that the batch of something received just now is on record for other products only."""
    from stockplan.actions.spelling import other_product  # noqa: PLC0415

    if odd := other_product(where, item.product, item.batch, item.tag):
        see = f"stockplan history {argument(item.tag)}"
        say(f"CAREFUL: {odd}. If that is a slip, reverse what was received and take it in again; its number: {see}")


def tell_odd_delivery(item: StockItem, ordered_mm2: int) -> None:
    """Say that what came for an order is far smaller or larger than what was ordered: a figure may lack or be twice."""
    if LEAST_PERCENT * ordered_mm2 <= 100 * item.area_mm2 <= MOST_PERCENT * ordered_mm2:
        return
    odd = "less than half of" if item.area_mm2 < ordered_mm2 else "far more than"
    right = f"stockplan measure {argument(item.tag, 'ACROSSxALONG')}"
    say(f"CAREFUL: that is {odd} what was ordered. If that is a slip, put it right: {right}")


def tell_odd_cost(where: str | None, item: StockItem) -> None:
    """Say that what something is stored to have cost is far from what its grass costs elsewhere."""
    from stockplan.actions.odd_costs import cost_of_others  # noqa: PLC0415

    if odd := cost_of_others(where, item):
        say(f"CAREFUL: {odd}. If that is a slip, put it right: stockplan measure --cost AMOUNT {argument(item.tag)}")


def tell_new_bay(where: str | None, bay: str, tags: Sequence[str]) -> None:
    """Say that things were put into a bay that nobody has named before: what lies in none is hard to find."""
    from stockplan.actions.meant import new_bay  # noqa: PLC0415

    if odd := new_bay(where, bay, tags):
        right = " and ".join(f"stockplan move {argument(tag, 'BAY')}" for tag in tags)
        say(f"{odd}. If that is a slip, put it right: {right}")


def tell_odd_condition(word: str, tags: Sequence[str]) -> None:
    """Say that a word for a condition is like one of the trade, by which weights and plans go."""
    from stockplan.domain.ledger_movements import near_condition  # noqa: PLC0415

    if meant := near_condition(word):
        right = " and ".join(f"stockplan condition {argument(tag, meant)}" for tag in tags)
        say(f"CAREFUL: {word} is taken for a word of its own; perhaps {meant} is meant: {right}")


def tell_alike_tag(where: str | None, tag: str) -> None:
    """Say that another thing in the yard has the same tag to a person's eye."""
    from stockplan.actions.meant import alike_in_yard  # noqa: PLC0415

    if other := alike_in_yard(where, tag):
        see = f"stockplan history {argument(tag)}"
        say(f"CAREFUL: {other} lies in the yard, too. If it is the same thing, reverse this; its number: {see}")


def tell_small(item: StockItem) -> None:
    """Say of what was kept that it is under the size at which the firm keeps what is left over."""
    from stockplan.domain.worth import Leftover, big_enough, keep_reason  # noqa: PLC0415

    left = Leftover(item.width_mm, item.length_mm, on_core=item.form is StockForm.PART_ROLL, widest_mm=0)
    if not big_enough(left):
        skip = f"stockplan write-off --why binned {argument(item.tag)}"
        say(f"CAREFUL: {item.tag} is small: {keep_reason(left).removeprefix('bin: ')}; if it was binned: {skip}")
