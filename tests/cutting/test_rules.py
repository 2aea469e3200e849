"""The rules of the trade, one small case each; cut end at the top, width across the page."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import pytest
from small_problems import GRASS, MONDAY, TODAY, cut_lengths, item, job, problem, rolls, sound_plan

from stockplan.domain.jobs import BatchRule, Job
from stockplan.domain.plan import PlanStatus, ProductPlan
from stockplan.domain.request import PlanRequest
from stockplan.domain.stock import StockForm, StockItem, SupplyForm, SupplyOption


def planned(
    jobs: Sequence[Job], stock: Sequence[StockItem] = (), supply: Sequence[SupplyOption] = ()
) -> tuple[PlanRequest, ProductPlan]:
    request = problem(jobs, stock, supply)
    (product,) = sound_plan(request).products
    return request, product


def batches_of(product: ProductPlan, code: str) -> set[str]:
    return {piece.batch for cuts in product.cuts for piece in cuts.pieces() if piece.job == code}


def sources_of(product: ProductPlan, code: str) -> set[str]:
    return {piece.source for cuts in product.cuts for piece in cuts.pieces() if piece.job == code}


def short_jobs(product: ProductPlan) -> set[str]:
    return {shortfall.job for shortfall in product.short}


def said(product: ProductPlan, code: str) -> tuple[str, str]:
    """Reason and remedy of a short job: the same for all of its strips."""
    ((reason, remedy),) = {(s.reason, s.remedy) for s in product.short if s.job == code}
    return reason, remedy


def mended(request: PlanRequest, code: str, remedy: str) -> PlanRequest:
    """The request with one remedy carried out as a reader would."""
    (short,) = [one for one in request.jobs if one.code == code]
    if more := re.fullmatch(r"([\d.]+) m more of (.+) in one length", remedy):
        length = round(float(more[1]) * 1000)
        extra = item("extra", f"{request.widest_mm(GRASS)}x{length}", more[2], "part_roll")
        return replace(request, stock=(*request.stock, extra))
    if later := re.fullmatch(r"(\d+) days? later \((\d{4}-\d\d-\d\d)\)", remedy):
        day = short.lay_on + timedelta(days=int(later[1]))
        assert day == date.fromisoformat(later[2])
        changed = replace(short, lay_on=day)
    else:
        assert remedy == "leave to mix batches"
        changed = replace(short, batch_rule=BatchRule.ANY)
    return replace(request, jobs=tuple(changed if one is short else one for one in request.jobs))


def assert_every_remedy_covers(request: PlanRequest, product: ProductPlan, code: str, count: int) -> None:
    _, remedy = said(product, code)
    remedies = remedy.split(" or ")
    assert len(remedies) == count
    for one in remedies:
        (after,) = sound_plan(mended(request, code, one)).products
        assert code not in short_jobs(after), one


# --- batch ------------------------------------------------------------------------------------------------------------

#    P1 (B1)        P2 (B2)
#   +--------+     +--------+
#   | 4 × 3  |     | 4 × 3  |      J1 wants 4 × 3 m twice: enough in all, not enough of either batch
#   +--------+     +--------+
TWO_BATCHES = [item("P1", "4000x3000", "B1", "part_roll"), item("P2", "4000x3000", "B2", "part_roll")]


def test_a_job_of_one_batch_is_not_made_of_two() -> None:
    request, product = planned([job("J1", "4000x3000*2")], TWO_BATCHES)
    assert product.status is PlanStatus.SHORT
    reason, remedy = said(product, "J1")
    assert "no single batch" in reason
    assert "leave to mix batches" in remedy
    assert_every_remedy_covers(request, product, "J1", 2)


def test_a_job_of_any_batch_may_mix() -> None:
    _, product = planned([job("J1", "4000x3000*2", rule=BatchRule.ANY)], TWO_BATCHES)
    assert product.short == ()
    assert batches_of(product, "J1") == {"B1", "B2"}


#    P1 (B1) 4 × 3     P2 (B2) 4 × 6.5
#   +--------+        +--------+
#   |        |        |   J1   | 3
#   +--------+        |   J1   | 6      both strips off B2, though P1 fits one of them exactly
#                     +--------+ 6.5
def test_a_job_stays_together_where_one_batch_holds_it() -> None:
    stock = [TWO_BATCHES[0], item("P2", "4000x6500", "B2", "part_roll")]
    _, product = planned([job("J1", "4000x3000*2")], stock)
    assert batches_of(product, "J1") == {"B2"}


#    C1 (?)         C2 (?)
#   +--------+     +--------+
#   | 4 × 3  |     | 4 × 3  |      two offcuts of unknown batch are two batches
#   +--------+     +--------+
def test_an_unknown_batch_serves_alone() -> None:
    stock = [item("C1", "4000x3000", ""), item("C2", "4000x3000", "")]
    _, product = planned([job("J1", "4000x3000*2")], stock)
    assert short_jobs(product) == {"J1"}
    _, product = planned([job("J1", "4000x3000")], stock)
    assert batches_of(product, "J1") <= {"unknown (C1)", "unknown (C2)"}
    _, product = planned([job("J1", "4000x3000*2", rule=BatchRule.ANY)], stock)
    assert batches_of(product, "J1") == {"unknown (C1)", "unknown (C2)"}


#     new-1            new-2
#   +--------+       +--------+
#   | 4 × 25 |       | 4 × 2  |      a whole roll and a cut length, bought together: one batch
#   +--------+       +--------+
def test_all_that_is_bought_in_one_plan_is_one_batch() -> None:
    supply = [rolls("4000x25000", 110_000), cut_lengths("4000x12000", 5_500)]
    _, product = planned([job("J1", "4000x25000 4000x2000")], (), supply)
    assert {order.form for order in product.orders} == {SupplyForm.ROLL, SupplyForm.CUT_LENGTH}
    assert batches_of(product, "J1") == {"new"}


#    P1 (called 'new')     new-1
#   +--------+           +--------+
#   | 4 × 3  |           |  roll  |      a name is not a batch
#   +--------+           +--------+
def test_a_batch_in_the_yard_that_is_called_new_is_not_what_is_bought() -> None:
    stock = [item("P1", "4000x3000", "new", "part_roll", pence=10)]
    _, product = planned([job("J1", "4000x3000 4000x2900")], stock, [rolls("4000x6000", 24_000)])
    assert product.short == ()
    assert sources_of(product, "J1") == {"new-1"}


# --- size and direction -----------------------------------------------------------------------------------------------


#   0    3.0       0     4.0
#   +-----+        +-------+
#   | C1  |        |  J1   | 3       3 across and 4 along is not 4 across and 3 along
#   |     |        +-------+
#   +-----+ 4
def test_nothing_is_turned() -> None:
    stock = [item("C1", "3000x4000"), item("P1", "4000x1000", "B2", "part_roll")]
    request, product = planned([job("J1", "4000x3000"), job("J2", "3000x4000", day=1)], stock)
    assert short_jobs(product) == {"J1"}
    assert sources_of(product, "J2") == {"C1"}
    assert_every_remedy_covers(request, product, "J1", 1)


#   0        3.97          0         4.0
#   +----------+           +----------+
#   |    P1    |           |    J1    |     30 mm short across the pile
#   +----------+           +----------+
def test_a_roll_is_as_wide_as_it_was_measured() -> None:
    stock = [item("P1", "3970x6000", form="part_roll")]
    _, product = planned([job("J1", "4000x3000"), job("J2", "3970x3000", day=1)], stock)
    assert short_jobs(product) == {"J1"}
    assert said(product, "J1")[0].endswith("nothing is that wide across the pile")
    assert sources_of(product, "J2") == {"P1"}
    # 397 for 400 cm is full width: the tail of 3.97 × 3 m keeps 0.90 of its 10.00 a m².
    assert [left.value_pence for left in product.leftovers] == [10_719]


#   0   2.0
#   +----+ 0
#   | J1 |
#   +----+ 3       a 2 m roll's tail stays on its core at 0.90 of its cost; as a loose piece it would be worth less
#   |tail|
#   +----+ 10
def test_the_tail_of_a_narrow_roll_stays_a_part_roll() -> None:
    stock = [item("R1", "2000x10000", form="part_roll")]
    _, product = planned([job("J1", "2000x3000")], stock, [rolls("4000x25000", 110_000)])
    (left,) = product.leftovers
    assert (left.becomes, left.along_mm, left.width_mm, left.length_mm) == (StockForm.PART_ROLL, 3000, 2000, 7000)
    assert left.value_pence == 12_600


# --- time -------------------------------------------------------------------------------------------------------------

#   Mon 23      ...      Sun 29   Mon 30   Tue 1
#   ordered              arrives  laid               in time
#   ordered                       arrives  laid      laid the day it arrives is too late


def test_an_order_in_time_arrives_the_day_before() -> None:
    _, product = planned([job("J1", "4000x3000")], (), [rolls("4000x25000", 110_000, lead_days=6)])
    (order,) = product.orders
    assert (order.order_by, order.arrives_on) == (TODAY, MONDAY - timedelta(days=1))


def test_an_order_that_arrives_on_the_day_is_too_late() -> None:
    request, product = planned([job("J1", "4000x3000")], (), [rolls("4000x25000", 110_000, lead_days=7)])
    reason, remedy = said(product, "J1")
    assert product.orders == ()
    assert "arrives before it is laid" in reason
    assert remedy == "1 day later (2026-12-01)"
    assert_every_remedy_covers(request, product, "J1", 1)


def test_a_dearer_supplier_serves_the_job_that_cannot_wait() -> None:
    supply = [rolls("4000x6000", 20_000, lead_days=8), rolls("4000x6000", 26_000, lead_days=2)]
    _, product = planned([job("J1", "4000x5500"), job("J2", "4000x5500", day=4)], (), supply)
    price = {order.key: order.price_pence for order in product.orders}
    assert [price[source] for source in sources_of(product, "J1")] == [26_000]
    assert [price[source] for source in sources_of(product, "J2")] == [20_000]


# --- money ------------------------------------------------------------------------------------------------------------


#     cut length          roll
#   +--------+ 0       +--------+ 0
#   |   J1   |         |   J1   |        3 m at 55.00 is 165.00; a roll at 1,100.00 less 0.90 of 22 m is 228.80
#   +--------+ 3       +--------+ 3
#                      |  tail  |
#                      +--------+ 25
def test_a_small_job_is_cheaper_as_a_cut_length() -> None:
    supply = [rolls("4000x25000", 110_000), cut_lengths("4000x12000", 5_500)]
    _, product = planned([job("J1", "4000x3000")], (), supply)
    (order,) = product.orders
    assert (order.form, order.length_mm) == (SupplyForm.CUT_LENGTH, 3000)
    assert product.net_cost_pence == 16_500


def test_a_large_job_is_cheaper_off_a_roll() -> None:
    supply = [rolls("4000x25000", 110_000), cut_lengths("4000x12000", 5_500)]
    _, product = planned([job("J1", "4000x11000*2")], (), supply)
    assert [order.form for order in product.orders] == [SupplyForm.ROLL]


#     A 2 × 2          B 1.5 × 3
#   +-------+         +-----+            the smaller offcut fits J1 best, and then nothing is left for J2
#   | J1|   |         |     |
#   +-------+         |     |
#                     +-----+
#
#   +-------+         +-----+
#   |  J2   |         | J1| |            J1 off the larger one leaves A for J2, and nothing is bought
#   +-------+         |     |
#                     +-----+
def test_the_best_fitting_offcut_is_not_always_the_one_to_take() -> None:
    stock = [item("A", "2000x2000"), item("B", "1500x3000")]
    _, product = planned([job("J1", "1000x2000"), job("J2", "2000x2000", day=1)], stock, [rolls("4000x25000", 110_000)])
    assert product.orders == ()
    assert (sources_of(product, "J1"), sources_of(product, "J2")) == ({"B"}, {"A"})
    assert product.foreman_cost_pence is not None
    assert product.foreman_cost_pence > product.net_cost_pence


#    P1 4 × 4         R1 4 × 10, unopened
#   +--------+       +--------+
#   |   J1   | 3     |        |
#   +--------+       |        |          a fresh roll is not broken while a part roll serves
#   |  tail  | 4     +--------+
#   +--------+
def test_a_fresh_roll_is_not_broken_while_a_part_roll_serves() -> None:
    stock = [item("P1", "4000x4000", "B1", "part_roll"), item("R1", "4000x10000", "B2", "roll")]
    _, product = planned([job("J1", "4000x3000")], stock)
    assert sources_of(product, "J1") == {"P1"}


# --- short ------------------------------------------------------------------------------------------------------------


#    P1 (B1) 4 × 5
#   +--------+
#   |        | 3        J1 wants 4 × 3 m twice: 1 m more of B1 is not a strip, 3 m more is
#   |........| 5
#   +--------+
def test_what_is_said_to_mend_a_shortfall_does_and_less_does_not() -> None:
    stock = [item("P1", "4000x5000", "B1", "part_roll")]
    request, product = planned([job("J1", "4000x3000*2")], stock, [rolls("4000x25000", 110_000, lead_days=9)])
    _, remedy = said(product, "J1")
    assert remedy == "3.0 m more of B1 in one length or 3 days later (2026-12-03)"
    assert_every_remedy_covers(request, product, "J1", 2)
    (less,) = sound_plan(mended(request, "J1", "2.9 m more of B1 in one length")).products
    assert short_jobs(less) == {"J1"}
    (sooner,) = sound_plan(mended(request, "J1", "2 days later (2026-12-02)")).products
    assert short_jobs(sooner) == {"J1"}


def test_a_job_too_wide_for_anything_says_so_and_does_not_spoil_the_rest() -> None:
    stock = [item("P1", "4000x9000", "B1", "part_roll"), item("C1", "2500x3200", "B2")]
    others = [job("J1", "4000x3000 1500x2000"), job("J2", "2400x3000", day=1)]
    _, alone = planned(others, stock)
    _, product = planned([*others, job("J3", "5000x3000 1000x1000")], stock)
    assert short_jobs(product) == {"J3"}
    assert {(s.strip, s.count) for s in product.short} == {("S1", 1), ("S2", 1)}
    assert "S1 (5.00 × 3.00): nothing is that wide across the pile" in said(product, "J3")[0]
    assert product.cuts == alone.cuts
    assert product.net_cost_pence == alone.net_cost_pence


def test_a_job_longer_than_anything_says_how_long_there_is() -> None:
    _, product = planned([job("J1", "4000x9000")], [item("P1", "4000x8000", form="part_roll")])
    assert said(product, "J1")[0].endswith("nothing that wide is longer than 8.00 m")


#    P1 (B1) 4 × 3, the only grass there is in time; J0 cannot wait, the others can be bought
#   +--------+
#   |   J0   |      or three strips of J1 to J3 beside one another: cheaper, but then J0 is short
#   +--------+
def test_a_job_that_cannot_wait_is_covered_at_whatever_cost_to_those_that_can() -> None:
    stock = [item("P1", "4000x3000", "B1", "part_roll", pence=0)]
    others = [job(f"J{n}", "500x3000", day=4) for n in range(1, 8)]
    supply = [rolls("500x3000", 100_000, lead_days=8)]
    _, product = planned([job("J0", "4000x3000"), *others], stock, supply)
    assert short_jobs(product) == set()
    assert sources_of(product, "J0") == {"P1"}


@pytest.mark.parametrize("seed", range(5))
def test_every_remedy_offered_in_a_crowded_yard_covers_the_job(seed: int) -> None:
    """More jobs than the yard holds, and what is on offer comes too late for some of them."""
    jobs = [
        job(f"J{n}", f"4000x{2500 + 100 * ((7 * n + seed) % 9)} 1500x{2000 + 100 * (n % 5)}", day=n % 4)
        for n in range(5)
    ]
    stock = [item("P1", f"4000x{6000 + 500 * seed}", "B1", "part_roll"), item("P2", "4000x5000", "B2", "part_roll")]
    request, product = planned(jobs, stock, [rolls("4000x25000", 110_000, lead_days=8)])
    assert short_jobs(product)
    for code in sorted(short_jobs(product)):
        for remedy in said(product, code)[1].split(" or "):
            (after,) = sound_plan(mended(request, code, remedy)).products
            assert len(short_jobs(after)) < len(short_jobs(product)), (code, remedy)
