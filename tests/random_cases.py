"""Sound plans at random, by construction: sources cut up first, and the pieces then asked for."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from math import floor

from builders import MONDAY, TODAY, Case, DropSpec, LaneSpec, Want, build, ground_of_order, ground_of_stock

from stockplan.domain.jobs import BatchRule, Job, Strip, Window
from stockplan.domain.plan import (
    Order,
    Shortfall,
)
from stockplan.domain.request import CostSettings, PlanRequest
from stockplan.domain.stock import Product, StockForm, StockItem, SupplyForm, SupplyOption

Pick = Callable[[int, int], int]  # a whole number from the first to the last, both included


def some(pick: Pick, most: int) -> int:
    """All of it now and then, else some of it."""
    return most if pick(0, 3) == 0 else pick(1, most)


def random_cuts(pick: Pick, width_mm: int, length_mm: int) -> list[DropSpec]:
    """Cut a source into drops, lanes and pieces at random."""
    drops: list[DropSpec] = []
    for _ in range(pick(1, 3)):
        if length_mm == 0:
            break
        drop = some(pick, length_mm)
        length_mm -= drop
        lanes: list[LaneSpec] = []
        room = width_mm
        for _ in range(pick(1, 3)):
            if room == 0:
                break
            lane = some(pick, room)
            room -= lane
            wants: list[Want] = []
            left = drop
            for _ in range(pick(1, 2)):
                if left:
                    wants.append(Want(some(pick, lane), some(pick, left)))
                    left -= wants[-1].length_mm
            lanes.append((lane, wants))
        drops.append((drop, lanes))
    return drops


def _random_stock(pick: Pick, product: str) -> list[StockItem]:
    items = []
    for number in range(pick(0, 3)):
        form = list(StockForm)[pick(0, 2)]
        width = pick(300, 4000) if form is StockForm.OFFCUT else (4000, 3970, 2000)[pick(0, 2)]
        batch = ("B1", "B2", "")[pick(0, 2)]
        tag, length = f"{product}-{number}", pick(1000, 25000)
        items.append(StockItem(tag, product, batch, form, width, length, "yard", pick(0, 1500)))
    return items


def _random_supply(pick: Pick, product: str) -> list[SupplyOption]:
    roll = SupplyOption(product, "Fernlea Mills", SupplyForm.ROLL, 4000, 25000, pick(90000, 200000), pick(0, 5))
    cut = SupplyOption(
        product, "Ashcombe", SupplyForm.CUT_LENGTH, 2000 * pick(1, 2), 12050, pick(2000, 6000), pick(0, 5)
    )
    return [roll, cut]


def _buy(pick: Pick, key: str, option: SupplyOption) -> Order:
    length = option.length_mm if option.form is SupplyForm.ROLL else 100 * pick(10, option.length_mm // 100)
    metres = 1 if option.form is SupplyForm.ROLL else Fraction(length, 1000)
    price = floor(option.price_pence * metres + Fraction(1, 2))
    arrives = MONDAY - timedelta(days=1)
    order_by = arrives - timedelta(days=option.lead_days)
    return Order(key, option.product, option.supplier, option.form, option.width_mm, length, price, order_by, arrives)


def _ask(pick: Pick, product: str, wants: Mapping[str, Sequence[Want]], last: date) -> list[Job]:
    """Turn pieces into jobs: within one batch each, but for one that takes any."""
    asked: dict[str, list[Want]] = {}
    for number, (_, group) in enumerate(sorted(wants.items())):
        for want in group:
            want.job = f"{product}-X" if pick(0, 3) == 0 else f"{product}-J{number}{pick(0, 2)}"
            asked.setdefault(want.job, []).append(want)
    jobs = []
    for code, group in sorted(asked.items()):
        strips: dict[tuple[int, int], Strip] = {}
        for want in group:
            key = (want.width_mm, want.length_mm)
            strip = strips.get(key, Strip("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"[len(strips)], *key, 0))
            strips[key] = replace(strip, count=strip.count + 1)
            want.strip, want.number = strip.label, strip.count + 1
        rule = BatchRule.ANY if code.endswith("X") or pick(0, 1) else BatchRule.ONE
        lay_on = MONDAY + timedelta(days=pick(0, (last - MONDAY).days))
        jobs.append(Job(code, "somewhere", product, lay_on, "house", rule, tuple(strips.values())))
    return jobs


def random_case(pick: Pick) -> Case:
    """Cut sources up at random, ask for the pieces back, and add up what it costs: sound by construction."""
    last = MONDAY + timedelta(days=pick(0, 6))
    stock: list[StockItem] = []
    supply: list[SupplyOption] = []
    orders: list[Order] = []
    jobs: list[Job] = []
    short: list[Shortfall] = []
    specs: dict[str, list[DropSpec]] = {}
    for product in ("G30", "S20")[: pick(1, 2)]:
        held, offered = _random_stock(pick, product), _random_supply(pick, product)
        grounds = [ground_of_stock(item) for item in held if pick(0, 3)]
        for _ in range(pick(0 if grounds else 1, 2)):
            orders.append(_buy(pick, f"new-{len(orders) + 1}", offered[pick(0, 1)]))
            grounds.append(ground_of_order(orders[-1]))
        wants: dict[str, list[Want]] = {}
        for ground in grounds:
            specs[ground.key] = random_cuts(pick, ground.width_mm, ground.length_mm)
            for _, lanes in specs[ground.key]:
                for _, pieces in lanes:
                    wants.setdefault(ground.batch, []).extend(pieces)
        jobs += _ask(pick, product, wants, last)
        if pick(0, 2) == 0:
            strips = (Strip("A", 5000, 3000, count=2), Strip("B", 1000, 1000))
            jobs.append(Job(f"{product}-S", "far", product, last, "road", BatchRule.ONE, strips))
            short += [Shortfall(f"{product}-S", s.label, s.count, "no roll is so wide") for s in strips]
        stock, supply = stock + held, supply + offered
    costs = CostSettings(pick(1, 300), pick(1, 300), pick(0, 3) > 0)
    products = tuple(Product(code, "grass", 2500) for code in ("G30", "S20"))
    request = PlanRequest(Window(MONDAY, last), TODAY, products, tuple(supply), tuple(stock), tuple(jobs), costs)
    proven = pick(0, 1)
    return build(request, specs, orders, short, lower=lambda net: net if proven else pick(0, net))
