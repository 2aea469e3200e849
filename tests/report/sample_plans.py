"""Small sound plans made by construction: cut grass as written, and ask for exactly the pieces that come out."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from stockplan.domain.jobs import BatchRule, Job, Strip, Window
from stockplan.domain.plan import (
    NEW_BATCH,
    Drop,
    Lane,
    Order,
    Piece,
    Plan,
    PlannedLeftover,
    PlanStatus,
    ProductPlan,
    Shortfall,
    SourceCuts,
    StockUsed,
)
from stockplan.domain.request import CostSettings, PlanRequest
from stockplan.domain.stock import Product, StockForm, StockItem, SupplyForm, SupplyOption
from stockplan.domain.units import MM2_PER_M2
from stockplan.domain.worth import Leftover, UnitCost, keep_reason, leftover_worth, stock_worth

TODAY = date(2026, 11, 20)
WINDOW = Window(date(2026, 11, 30), date(2026, 12, 4))

# A piece to cut: job, strip, copy, width, length.
Cut = tuple[str, str, int, int, int]
# A drop to cut: its length, and its lanes as (width, pieces).
DropCut = tuple[int, Sequence[tuple[int, Sequence[Cut]]]]


@dataclass(frozen=True)
class Source:
    """Something to cut: a stock item, or an order and the product it is of."""

    thing: StockItem | Order
    widest_mm: int

    @property
    def key(self) -> str:
        return self.thing.tag if isinstance(self.thing, StockItem) else self.thing.key

    @property
    def batch(self) -> str:
        return self.thing.batch_key if isinstance(self.thing, StockItem) else NEW_BATCH

    @property
    def rolled(self) -> bool:
        return self.thing.form not in (StockForm.OFFCUT, SupplyForm.CUT_LENGTH)

    @property
    def cost(self) -> UnitCost:
        if isinstance(self.thing, StockItem):
            return UnitCost(self.thing.cost_pence_per_m2, MM2_PER_M2)
        return UnitCost(self.thing.price_pence, self.thing.width_mm * self.thing.length_mm)


def cut(source: Source, drops: Sequence[DropCut]) -> tuple[SourceCuts, tuple[PlannedLeftover, ...]]:
    """Cut a source from its cut end, drop by drop and lane by lane; whatever no piece takes is a leftover."""
    width, length = source.thing.width_mm, source.thing.length_mm
    made: list[Drop] = []
    left: list[tuple[int, int, int, int]] = []
    crosscuts = rips = along = 0
    for drop_length, lane_cuts in drops:
        lanes: list[Lane] = []
        across = 0
        for lane_width, wanted in lane_cuts:
            pieces: list[Piece] = []
            position = along
            for job, strip, number, piece_width, piece_length in wanted:
                place = (across, position, piece_width, piece_length)
                pieces.append(Piece(job, strip, number, source.key, source.batch, *place))
                if piece_width < lane_width:
                    left.append((across + piece_width, position, lane_width - piece_width, piece_length))
                    rips += 1
                position += piece_length
                crosscuts += position < along + drop_length
            if position < along + drop_length:
                left.append((across, position, lane_width, along + drop_length - position))
            lanes.append(Lane(across, lane_width, tuple(pieces)))
            across += lane_width
            rips += across < width
        if across < width:
            left.append((across, along, width - across, drop_length))
        made.append(Drop(along, drop_length, tuple(lanes)))
        along += drop_length
        crosscuts += along < length
    if along < length:
        left.append((0, along, width, length - along))
    cuts = SourceCuts(source.key, source.thing.product, source.batch, width, length, tuple(made), crosscuts, rips)
    return cuts, tuple(_leftover(source, place) for place in left)


def _leftover(source: Source, place: tuple[int, int, int, int]) -> PlannedLeftover:
    _, along, width, length = place
    tail = width == source.thing.width_mm and along + length == source.thing.length_mm
    on_core = tail and source.rolled
    shape = Leftover(width, length, on_core, source.widest_mm)
    value = leftover_worth(shape, source.cost)
    becomes = StockForm.PART_ROLL if on_core else StockForm.OFFCUT
    return PlannedLeftover(source.key, *place, becomes, value > 0, value, keep_reason(shape))


def product_plan(
    code: str,
    widest_mm: int,
    cut_sources: Sequence[tuple[StockItem | Order, Sequence[DropCut]]],
    short: Sequence[Shortfall] = (),
    bound_pence: int | None = None,
    saved_pence: int = 0,
) -> ProductPlan:
    """The plan of one product; `bound_pence` None means proven, `saved_pence` is what it saves on the foreman's."""
    done = [cut(Source(thing, widest_mm), drops) for thing, drops in cut_sources]
    orders = tuple(thing for thing, _ in cut_sources if isinstance(thing, Order))
    items = [thing for thing, _ in cut_sources if isinstance(thing, StockItem)]
    used = tuple(StockUsed(item.tag, stock_worth(item, widest_mm)) for item in items)
    leftovers = tuple(left for _, many in done for left in many)
    costs = CostSettings()
    cutting = sum(c.crosscuts * costs.crosscut_pence + c.rips * costs.rip_pence for c, _ in done)
    net = sum(o.price_pence for o in orders) + sum(u.value_pence for u in used) + cutting
    net -= sum(left.value_pence for left in leftovers)
    bound = net if bound_pence is None else bound_pence
    status = PlanStatus.SHORT if short else PlanStatus.OPTIMAL if bound == net else PlanStatus.FEASIBLE
    return ProductPlan(
        product=code,
        status=status,
        net_cost_pence=net,
        lower_bound_pence=bound,
        foreman_cost_pence=net + saved_pence,
        orders=orders,
        cuts=tuple(c for c, _ in done),
        stock_used=used,
        leftovers=leftovers,
        short=tuple(short),
        cutting_cost_pence=cutting,
        work=1234,
        seed=0,
        ended_by="proof" if bound == net else "work limit",
        seconds=0.8,
    )


def jobs_of(plan: ProductPlan, sites: dict[str, tuple[str, date, str]], rule: BatchRule) -> tuple[Job, ...]:
    """Ask for exactly the pieces a plan cuts."""
    strips: dict[str, dict[str, Strip]] = {}
    for cuts in plan.cuts:
        for piece in cuts.pieces():
            mine = strips.setdefault(piece.job, {})
            count = max(piece.number, mine[piece.strip].count if piece.strip in mine else 0)
            mine[piece.strip] = Strip(piece.strip, piece.width_mm, piece.length_mm, count)
    return tuple(
        Job(code, *_site(sites, code)[:1], plan.product, *_site(sites, code)[1:], rule, tuple(mine.values()))
        for code, mine in sorted(strips.items())
    )


def _site(sites: dict[str, tuple[str, date, str]], code: str) -> tuple[str, date, str]:
    return sites.get(code, (f"Plot {code}, Larkfield Rise", WINDOW.last, "house"))


def item(tag: str, form: StockForm, width_mm: int, length_mm: int, batch: str = "B7", bay: str = "3") -> StockItem:
    return StockItem(tag, "G30", batch, form, width_mm, length_mm, bay, 1100)


def roll_order(key: str, product: str = "G30", length_mm: int = 25_000) -> Order:
    order_by, arrives = date(2026, 11, 20), date(2026, 11, 27)
    price = 44 * length_mm // 10
    return Order(key, product, "Thornbury Turf Supply", SupplyForm.ROLL, 4000, length_mm, price, order_by, arrives)


def supply(product: str = "G30", length_mm: int = 25_000) -> SupplyOption:
    price = 44 * length_mm // 10
    return SupplyOption(product, "Thornbury Turf Supply", SupplyForm.ROLL, 4000, length_mm, price, 7)


def one_source() -> tuple[PlanRequest, Plan]:
    """One part roll, three drops: a full-width piece, two lanes with a lane crosscut, a trimmed piece; a long tail."""
    roll = item("R-014", StockForm.PART_ROLL, 4000, 17_000)
    drops: list[DropCut] = [
        (5200, [(4000, [("J101", "A", 1, 4000, 5200)])]),
        (
            5200,
            [
                (2100, [("J101", "B", 1, 2100, 2600), ("J101", "B", 2, 2100, 2600)]),
                (1900, [("J102", "A", 1, 1900, 3900)]),
            ],
        ),
        (3000, [(1500, [("J102", "B", 1, 1200, 3000)]), (1400, [("J102", "C", 1, 1400, 2950)])]),
    ]
    part = product_plan("G30", 4000, [(roll, drops)], bound_pence=10_000, saved_pence=2310)
    jobs = jobs_of(part, {"J101": ("12 Mill Lane", date(2026, 11, 30), "house")}, BatchRule.ONE)
    return _request_and_plan([part], [roll], [supply()], jobs)


def mixed() -> tuple[PlanRequest, Plan]:
    """A 25 m roll to order beside tiny offcuts, two products, one job short, one held item wanted."""
    order = roll_order("new-1")
    tiny = item("O-003", StockForm.OFFCUT, 700, 1200, "", "offcut rack 1")
    thin = item("O-009", StockForm.OFFCUT, 620, 6400)
    drops: list[DropCut] = [
        (6200, [(2000, [("J103", "A", 1, 2000, 6200)]), (1700, [("J103", "B", 1, 1700, 6150)])]),
        (6200, [(4000, [("J104", "A", 1, 4000, 6200)])]),
        (
            900,
            [
                (600, [("J104", "B", 1, 600, 900)]),
                (600, [("J104", "B", 2, 600, 900)]),
                (450, [("J104", "C", 1, 450, 300), ("J104", "C", 2, 450, 300), ("J104", "C", 3, 450, 300)]),
                (80, [("J104", "D", 1, 80, 900)]),
            ],
        ),
        (7400, [(4000, [("J105", "A", 1, 3950, 7400)])]),
    ]
    short = Shortfall("J117", "B", 1, "no single batch has 31.00 m at 4.00 m across", "a 31 m length, or two batches")
    part = product_plan(
        "G30",
        4000,
        [
            (order, drops),
            (tiny, [(1200, [(700, [("J106", "A", 1, 650, 700), ("J106", "B", 1, 700, 450)])])]),
            (thin, [(1250, [(620, [("J107", "A", 1, 600, 1250)])]), (1000, [(600, [("J107", "B", 1, 600, 1000)])])]),
        ],
        short=[short],
        saved_pence=8800,
    )
    part = replace(part, held_wanted=("K-112",), fingerprint="0f" * 32)
    jobs = jobs_of(part, {}, BatchRule.ANY)
    unmet = Job("J117", "The Old Dairy", "G30", WINDOW.last, "road", BatchRule.ONE, (Strip("B", 4000, 31_000, 1),))
    other = product_plan(
        "L40", 4000, [(roll_order("new-2", "L40"), [(9000, [(4000, [("J120", "A", 1, 4000, 9000)])])])]
    )
    jobs = (*jobs, unmet, *jobs_of(other, {}, BatchRule.ONE))
    return _request_and_plan([part, other], [tiny, thin], [supply(), supply("L40")], jobs)


def many_sources(sources: int = 12, seed: int = 1) -> tuple[PlanRequest, Plan]:
    """Sources of every size, cut at random into sound pieces for a dozen jobs."""
    chance = random.Random(seed)
    cut_sources: list[tuple[StockItem | Order, Sequence[DropCut]]] = []
    copies: dict[tuple[str, str], int] = {}
    for index in range(sources):
        thing: StockItem | Order
        if index % 5 == 0:
            thing = roll_order(f"new-{index // 5 + 1}")
        else:
            width = chance.choice([4000, 4000, 2000, 1300, 760, 600])
            length = chance.randrange(1200, 20_000 if width == 4000 else 5000, 10)
            form = StockForm.PART_ROLL if width == 4000 else StockForm.OFFCUT
            thing = item(f"R-{index:03}", form, width, length, chance.choice(["B7", "B8", ""]), chance.choice("1234"))
        drops = _random_drops(chance, thing, copies)
        cut_sources.append((thing, drops))
    part = product_plan("G30", 4000, cut_sources, bound_pence=1000, saved_pence=31_415)
    stock = [thing for thing, _ in cut_sources if isinstance(thing, StockItem)]
    return _request_and_plan([part], stock, [supply()], jobs_of(part, {}, BatchRule.ANY))


def _random_drops(chance: random.Random, thing: StockItem | Order, copies: dict[tuple[str, str], int]) -> list[DropCut]:
    drops: list[DropCut] = []
    left = thing.length_mm
    while left >= 400 and (not drops or chance.random() < 0.8):
        drop_length = min(left, chance.randrange(300, 6500, 10))
        lanes: list[tuple[int, list[Cut]]] = []
        room = thing.width_mm
        while room >= 300 and (not lanes or chance.random() < 0.7):
            lane_width = room if chance.random() < 0.3 else chance.randrange(250, room + 1, 10)
            lanes.append((lane_width, _random_lane(chance, lane_width, drop_length, copies)))
            room -= lane_width
        drops.append((drop_length, lanes))
        left -= drop_length
    return drops


def _random_lane(
    chance: random.Random, lane_width: int, drop_length: int, copies: dict[tuple[str, str], int]
) -> list[Cut]:
    pieces: list[Cut] = []
    room = drop_length
    while room >= 250 and (not pieces or chance.random() < 0.5):
        length = room if chance.random() < 0.5 else chance.randrange(200, room + 1, 10)
        width = lane_width if chance.random() < 0.7 else lane_width - chance.randrange(10, 100, 10)
        job = f"J{chance.randrange(201, 213)}"
        # A strip letter stands for one size; a new size gets a new name.
        strip = f"{width}x{length}"
        number = copies[job, strip] = copies.get((job, strip), 0) + 1
        pieces.append((job, strip, number, width, length))
        room -= length
    return pieces


def rude_names() -> tuple[PlanRequest, Plan]:
    """Names that would break a drawing or colour a terminal if they were trusted."""
    roll = StockItem("R<&1>", "G30", "[red]B&7", StockForm.PART_ROLL, 4000, 8000, '"bay" [bold]\x1b[31m', 1100)
    drops: list[DropCut] = [(3000, [(4000, [("J[i]<script>", "A&B", 1, 4000, 3000)])])]
    part = product_plan("G30", 4000, [(roll, drops)])
    jobs = jobs_of(part, {"J[i]<script>": ("1 <b>Lane</b> :smile:\n2nd line", WINDOW.first, "]]>")}, BatchRule.ONE)
    return _request_and_plan([part], [roll], [supply()], jobs)


def nothing_to_do() -> tuple[PlanRequest, Plan]:
    """A window without a job."""
    return _request_and_plan([], [], [supply()], ())


def _request_and_plan(
    parts: list[ProductPlan], stock: list[StockItem], offers: list[SupplyOption], jobs: tuple[Job, ...]
) -> tuple[PlanRequest, Plan]:
    products = (Product("G30", "30 mm garden grass", 2400), Product("L40", "40 mm lawn grass", 2900))
    request = PlanRequest(WINDOW, TODAY, products, tuple(offers), tuple(stock), jobs)
    return request, Plan(WINDOW, TODAY, "GBP", tuple(parts))
