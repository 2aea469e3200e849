"""The life of plans and their orders as rows: states, order lines, and what came in for them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Any

from stockplan.domain.jobs import BatchRule, Job, Strip
from stockplan.domain.plan_state import PlanState
from stockplan.domain.purchase import OrderLine, OrderState, batch_on_its_way
from stockplan.domain.stock import StockForm, SupplyForm
from stockplan.store.rows import Rows, Work, among, as_moment, by_few, inserting, known_day, rows_of

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

_LINE = (
    "key", "plan", "plan_key", "product", "supplier", "form", "width_mm", "length_mm", "price_pence", "order_by",
    "arrives_on", "state",
)  # fmt: skip


def read_states(source: Session | Rows) -> dict[int, PlanState]:
    """Read what has become of each plan; one that is not listed is only proposed."""
    found: dict[int, PlanState] = {}
    query = "SELECT plan, state FROM plan_state ORDER BY plan, at, CASE state WHEN 'accepted' THEN 0 ELSE 1 END"
    for plan, state in rows_of(source).run(query):
        found[plan] = PlanState(state)
    return found


def accepted_since(source: Session | Rows, moment: datetime, number: int) -> set[int]:
    """Read which plans were accepted after a plan was made.

    Parameters
    ----------
    source
        Where to read.
    moment
        From which on, UTC.
    number
        Number of the plan: what was made after it was accepted after it too, though a clock put right says otherwise.
    """
    query = "SELECT plan, at FROM plan_state WHERE state = 'accepted'"
    return {plan for plan, at in rows_of(source).run(query) if plan > number or as_moment(at) > moment}


def write_state(work: Work, plan: int, state: PlanState, who: str) -> None:
    """Write what has become of a plan; a state it had before is written anew, and the last one written is the last.

    Parameters
    ----------
    work
        Where to write.
    plan
        Number of the plan.
    state
        What it is now.
    who
        By whose hand.
    """
    others = work.rows.run(
        "SELECT at FROM plan_state WHERE plan = :plan AND state <> :state", {"plan": plan, "state": state}
    )
    later = [as_moment(at) + timedelta(microseconds=1) for (at,) in others]  # a clock may have been set back since
    values = {"plan": plan, "state": state, "at": max([work.at, *later]), "who": who}
    work.rows.run("DELETE FROM plan_state WHERE plan = :plan AND state = :state", values)
    work.rows.run(inserting("plan_state", values), values)


def read_lines(source: Session | Rows) -> list[OrderLine]:
    """Read every order line, in order of key."""
    found = []
    for row in rows_of(source).run(f"SELECT {', '.join(_LINE)} FROM order_line"):
        key, plan, plan_key, product, supplier, form, width, length, price, order_by, arrives_on, state = row
        by, due = known_day(order_by), known_day(arrives_on)
        found.append(
            OrderLine(
                key, plan, plan_key, product, supplier, SupplyForm(form), width, length, price, by, due,
                OrderState(state),
            )
        )  # fmt: skip
    if any(line.coming for line in found):
        found = _with_batches(rows_of(source), found)
    return sorted(found, key=lambda line: _by_number(line.key))


def _with_batches(rows: Rows, lines: Sequence[OrderLine]) -> list[OrderLine]:
    """Put to each line the batch in which the rest of its order came, where that is one."""
    order_of = {line.key: (batch_on_its_way(line.key), line.product, line.supplier) for line in lines}
    came: dict[tuple[str, str, str], set[str]] = {}
    for table in ("stock_item", "gone_item"):
        query = f"SELECT came.order_key, thing.batch FROM order_receipt AS came JOIN {table} AS thing USING (tag)"
        for key, batch in rows.run(query):
            came.setdefault(order_of[key], set()).add(batch)
    one = {order: next(iter(batches)) for order, batches in came.items() if len(batches) == 1}
    return [replace(line, batch=one.get(order_of[line.key], "")) for line in lines]


def _by_number(key: str) -> tuple[object, ...]:
    """Sort `P2-10` after `P2-9`."""
    plan, _, order = key[1:].partition("-")
    return (int(plan), int(order), "") if plan.isdigit() and order.isdigit() else (0, 0, key)


def write_lines(work: Work, lines: Sequence[OrderLine]) -> None:
    """Write new order lines."""
    rows = [
        {**{name: getattr(line, name) for name in _LINE}, "form": line.form.value, "state": line.state.value}
        for line in lines
    ]
    if rows:
        work.rows.run_each(inserting("order_line", _LINE), rows)


def change_line(work: Work, key: str, **values: Any) -> None:
    """Change columns of one order line.

    Parameters
    ----------
    key
        Which.
    values
        New values by name of column.
    """
    new = ", ".join(f"{name} = :{name}" for name in values)
    plain = {name: value.value if isinstance(value, OrderState) else value for name, value in values.items()}
    work.rows.run(f"UPDATE order_line SET {new} WHERE key = :key", {**plain, "key": key})


def read_receipts(source: Session | Rows) -> dict[str, str]:
    """Read under which tags orders came in: the order's key for each tag."""
    return {tag: key for tag, key in rows_of(source).run("SELECT tag, order_key FROM order_receipt")}  # noqa: C416


def write_receipt(work: Work, tag: str, key: str) -> None:
    """Write that an order came in under a tag.

    Parameters
    ----------
    work
        Where to write.
    tag
        Of what came.
    key
        Of the order.
    """
    values = {"tag": tag, "order_key": key}
    work.rows.run(inserting("order_receipt", values), values)


def delete_receipt(work: Work, tag: str) -> None:
    """Take back that an order came in under a tag."""
    work.rows.run("DELETE FROM order_receipt WHERE tag = :tag", {"tag": tag})


def was_ordered(source: Session | Rows, key: str) -> bool:
    """Say whether an order was ever placed; what was only drafted may have come in all the same."""
    query = "SELECT 1 FROM order_line WHERE key = :key AND ordered_on IS NOT NULL"
    return any(True for _ in rows_of(source).run(query, {"key": key}))


def read_reserved(source: Session | Rows) -> dict[str, int]:
    """Read for which plan each reserved tag is reserved."""
    query = "SELECT tag, plan FROM stock_item WHERE plan IS NOT NULL"
    return {tag: plan for tag, plan in sorted(map(tuple, rows_of(source).run(query)))}  # noqa: C416


def plans_going(source: Session | Rows) -> Counter[int]:
    """Count how many sources each plan is still to cut, those still to come among them."""
    going = Counter(read_reserved(source).values())
    going.update(line.plan for line in read_lines(source) if line.coming and line.plan is not None)
    return going


def read_plan_texts(source: Session | Rows, numbers: Iterable[int]) -> dict[int, str]:
    """Read the files of some plans, by number."""
    rows, found = rows_of(source), {}
    for number in sorted(set(numbers)):
        for (text,) in rows.run("SELECT plan_json FROM stored_plan WHERE number = :number", {"number": number}):
            found[number] = text
    return found


def read_plan_texts_with(source: Session | Rows, words: str) -> list[str]:
    """Read the files of the plans that hold some words, the last one made first; at most three.

    Parameters
    ----------
    words
        Letters and digits alone.
    """
    query = "SELECT plan_json FROM stored_plan WHERE plan_json LIKE :words ORDER BY number DESC LIMIT 3"
    return [text for (text,) in rows_of(source).run(query, {"words": f"%{words}%"})]


def read_spans(source: Session | Rows) -> list[tuple[int, date, date]]:
    """Read number, first and last day of every stored plan, in the order made."""
    return [(number, first, last) for number, first, last, _, _ in read_made(source)]


def read_made(source: Session | Rows) -> list[tuple[int, date, date, date, int]]:
    """Read number, first and last day, day made and net cost in pence of every stored plan, in the order made."""
    query = "SELECT number, window_first, window_last, today, net_cost_pence FROM stored_plan ORDER BY number"
    return [
        (number, known_day(first), known_day(last), known_day(made), net)
        for number, first, last, made, net in rows_of(source).run(query)
    ]


def plans_cut_for(source: Session | Rows, jobs: Iterable[str]) -> set[int]:
    """Read the numbers of the plans by which something was cut for some jobs."""
    rows, found = rows_of(source), set()
    for few in by_few(jobs):
        condition, values = among("job", few)
        query = (
            f"SELECT DISTINCT plan FROM piece_cut JOIN gone_item ON gone_item.tag = piece_cut.source WHERE {condition}"
        )
        found |= {plan for (plan,) in rows.run(query, values) if plan is not None}
    return found


def tags_cut_by(source: Session | Rows, plan: int) -> set[str]:
    """Read what was cut by a plan."""
    query = "SELECT tag FROM gone_item WHERE plan = :plan AND how = 'cut'"
    return {tag for (tag,) in rows_of(source).run(query, {"plan": plan})}


def read_promised(source: Session | Rows, codes: Iterable[str] | None = None) -> list[Job]:
    """Read jobs with their strips, but without their measured lawns, in order of lay date and code.

    Parameters
    ----------
    codes
        Only these jobs; default all.
    """
    rows, found = rows_of(source), []
    for condition, values in [("1 = 1", {})] if codes is None else [among("code", few) for few in by_few(codes)]:
        strips: dict[str, list[Strip]] = {}
        query = (
            "SELECT strip.job, label, width_mm, length_mm, count FROM strip JOIN job ON job.code = strip.job "
            f"WHERE {condition} ORDER BY strip.job, position"
        )
        for job, label, width, length, count in rows.run(query, values):
            strips.setdefault(job, []).append(Strip(label, width, length, count))
        query = f"SELECT code, site, product, lay_on, pile_towards, batch_rule FROM job WHERE {condition}"
        for code, site, product, lay_on, towards, rule in rows.run(query, values):
            stated = tuple(strips.get(code, ()))
            found.append(Job(code, site, product, known_day(lay_on), towards, BatchRule(rule), stated))
    return sorted(found, key=lambda job: (job.lay_on, job.code))


def read_weights(source: Session | Rows) -> dict[str, int]:
    """Read what a square metre of each product weighs, grams."""
    return {code: grams for code, grams in rows_of(source).run("SELECT code, weight_g_m2 FROM product")}  # noqa: C416


def read_full_widths(source: Session | Rows, products: Iterable[str]) -> dict[str, int]:
    """Read the width of the widest roll of some products, offered or in the yard, mm; else of their widest part.

    Parameters
    ----------
    products
        At most `FEW`.
    """
    rows, only = rows_of(source), among("product", sorted(products))
    found: dict[str, int] = {}
    for whole in (True, False):
        widest: dict[str, int] = {}
        for table, loose in (("supply_option", SupplyForm.CUT_LENGTH.value), ("stock_item", StockForm.OFFCUT.value)):
            condition = f"{only[0]} AND form {'<>' if whole else '='} '{loose}'"
            query = f"SELECT product, max(width_mm) FROM {table} WHERE {condition} GROUP BY product"
            for product, width in rows.run(query, only[1]):
                widest[product] = max(width, widest.get(product, 0))
        found = {**widest, **found}
    return found


def tags_ever(source: Session | Rows, letter: str) -> set[str]:
    """Read every tag that was ever used and begins with a letter, large or small."""
    rows, found = rows_of(source), set()
    # What came and was undone is in neither table; its tag may still be on some grass.
    for table in ("stock_item WHERE", "gone_item WHERE", "movement WHERE reverses > 0 AND"):
        query = f"SELECT tag FROM {table} (tag LIKE :large OR tag LIKE :small)"
        found |= {tag for (tag,) in rows.run(query, {"large": f"{letter.upper()}%", "small": f"{letter.lower()}%"})}
    return found
