"""Rows that tie what a job takes of a source to its batch's share of it: bounds with them are bounds, and closer."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from random import Random

import pytest
from every_way_to_cut import WholeProblem
from small_problems import GRASS, item, job, problem, rolls
from test_brute_force import PENCE, random_request
from whole_program import best_whole

from stockplan.cutting import exact
from stockplan.cutting.ascent import first_price
from stockplan.cutting.beside import Effort
from stockplan.cutting.bounds import lagrangian_bound
from stockplan.cutting.boxed import Boxed
from stockplan.cutting.budget import Budget
from stockplan.cutting.building import build_instance
from stockplan.cutting.exact import Exact
from stockplan.cutting.foreman import foreman_plan
from stockplan.cutting.instance import Instance, PieceType, Source
from stockplan.cutting.kinds import kinds_of
from stockplan.cutting.links import Link, charged_once, discounted, links_of, most_held, rebates
from stockplan.cutting.master import Master
from stockplan.cutting.pricers import Pricers
from stockplan.cutting.set_tables import SetTables
from stockplan.cutting.solution import trimmed
from stockplan.cutting.touching import charges_of, most_valuable
from stockplan.cutting.valuing import Priced
from stockplan.domain.request import CostSettings, PlanRequest


def every_table(instance: Instance) -> list[SetTables]:
    found = kinds_of(instance, 30_000)
    assert found is not None
    return [SetTables(kind, lambda: False) for kind in found]


def every_set(tables: SetTables, c: int) -> list[tuple[dict[PieceType, int], int]]:
    """Every set of pieces that one source of a class can be cut into, and its cost."""
    costs = tables.tables[c].costs
    return [(dict(tables.pieces(c, n)), int(costs[n])) for n in range(len(costs)) if math.isfinite(costs[n])]


def priced_by_every_set(
    instance: Instance, prices: Mapping[PieceType, float], links: Mapping[Source, Mapping[Link, float]]
) -> list[Priced]:
    """Every stock source at its best, by going through all sets of pieces; purchases as the recursions price them."""
    found = [p for pricer in Pricers(instance).each for p in pricer.price(prices) if p.source.copies is None]
    for tables in every_table(instance):
        if tables.kind.sources[0].copies is None:
            continue
        for c, lengths in enumerate(tables.kind.lengths):
            source = lengths.sources[0]
            floor = 0.0
            for made, cost in every_set(tables, c):
                worth = sum(prices[t] * n for t, n in made.items())
                charged = sum(pence * link.taken(made) for link, pence in links.get(source, {}).items())
                floor = min(floor, cost - worth + charged)
            found.append(Priced(source, source.value_pence - floor))
    return found


def many_alike(seed: int) -> PlanRequest:
    """Two jobs of two or three strips that are alike, and offcuts of two batches that mostly hold one of them."""
    random = Random(seed)
    sizes = [(500 * random.randint(2, 4), 500 * random.randint(4, 8)) for _ in range(2)]
    counts = random.choice([(2, 2), (2, 3), (3, 2)])
    jobs = [job(f"J{n}", f"{w}x{h}*{count}") for n, ((w, h), count) in enumerate(zip(sizes, counts, strict=True))]
    stock = []
    for number in range(4):
        width, length = random.choice(sizes)
        form, batch = random.choice(("offcut", "part_roll")), random.choice(("B1", "B2"))
        wider, longer = 500 * random.randint(0, 1), 500 * random.randint(0, 3)
        stock.append(item(f"T{number}", f"{width + wider}x{length + longer}", batch, form, random.choice((300, 1000))))
    costs = CostSettings(random.choice([0, 200]), random.choice([0, 300]), random.random() < 0.85)
    return problem(jobs, stock, [rolls("3000x6000", random.randint(8000, 20_000))], costs)


def ceiling(instance: Instance, best: tuple[int, int]) -> float:
    """Cost of the best plan, penalties included."""
    pieces_short, net_cost = best
    return net_cost + pieces_short * instance.penalties[0] / instance.jobs[0].piece_count


@pytest.mark.parametrize("block", range(4))
def test_at_any_prices_of_the_rows_the_bound_is_below_the_best(block: int) -> None:
    charged = 0
    for seed in range(25 * block, 25 * block + 25):
        request, random = random_request(seed), Random(seed)
        instance = build_instance(request, GRASS)
        found = WholeProblem(request).solve()
        for scale in (500, 1500, 4000):
            prices = {
                t: random.uniform(0, scale) * t.width_mm * t.length_mm / 1_000_000 for t in instance.piece_types()
            }
            links = {
                source: {link: random.choice((0.0, random.uniform(0, 3000))) for link in rows}
                for source, rows in links_of(instance).items()
            }
            charged += sum(pence > 0 for rows in links.values() for pence in rows.values())
            priced = priced_by_every_set(instance, prices, links)
            bound = lagrangian_bound(instance, prices, priced, rebates(instance, links))
            assert bound <= ceiling(instance, (found.pieces_short, found.net_cost)) + PENCE, seed
    assert charged > 25


def relaxed(instance: Instance, *, tied: bool) -> Exact:
    one = Exact(instance, every_table(instance), trimmed(instance, foreman_plan(instance)).patterns)
    if tied:
        one.master.tie(link for rows in links_of(instance).values() for link in rows)
    one.relax(Budget(math.inf), lambda _: None)
    return one


def test_with_every_row_held_the_best_plan_stays_in_the_list() -> None:
    closed = 0
    for seed in range(100, 160):
        request = random_request(seed)
        instance = build_instance(request, GRASS)
        found = WholeProblem(request).solve()
        if found.pieces_short or not any(s.copies for s in instance.sources):
            continue
        one = relaxed(instance, tied=True)
        assert one.bound <= found.net_cost + PENCE, seed
        if not one.relaxed:  # no bound above nothing
            continue
        columns = one.listed(found.net_cost - one.bound + PENCE, Budget(math.inf))
        assert columns is not None
        start = trimmed(instance, foreman_plan(instance))
        sets = {c.pattern(n): int(c.costs[n]) for c in columns for n in range(len(c.numbers))}
        over_list = best_whole(instance, sets, start, Effort(20, lambda: False))
        assert over_list.answer is not None
        assert over_list.answer.net_cost(instance) <= found.net_cost, seed
        closed += 1
    assert closed > 20


def test_half_a_job_takes_no_more_than_half_of_a_source(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two batches hold a cheap offcut each for one strip of two, and a dear roll.

    In shares either batch serves half of the job, wholly from its offcut. In whole numbers the second strip comes off a
    roll, and with the rows the relaxation says so.
    """
    stock = [
        item("K1", "2000x4000", "B1", pence=100), item("R1", "2000x4000", "B1", "roll", pence=1000),
        item("K2", "2000x4000", "B2", pence=100), item("R2", "2000x4000", "B2", "roll", pence=1000),
    ]  # fmt: skip
    request = problem([job("J1", "2000x4000*2")], stock, [rolls("4000x25000", 1_000_000)])
    instance = build_instance(request, GRASS)
    best = WholeProblem(request).solve().net_cost
    assert relaxed(instance, tied=False).bound == pytest.approx(best, abs=1)
    monkeypatch.setattr(exact, "ROWS_A_ROUND", 0)
    assert relaxed(instance, tied=False).bound < best / 3


@pytest.mark.parametrize("block", range(4))
def test_at_any_prices_of_rows_that_count_pieces_the_bound_is_below_the_best(block: int) -> None:
    charged = 0
    for seed in range(15 * block, 15 * block + 15):
        request, random = many_alike(seed), Random(seed)
        instance = build_instance(request, GRASS)
        found = WholeProblem(request).solve()
        apart = Pricers(instance, apart=True).each
        for scale in (500, 1500, 4000):
            prices = {
                t: random.uniform(0, scale) * t.width_mm * t.length_mm / 1_000_000 for t in instance.piece_types()
            }
            links = {
                source: {link: random.choice((0.0, random.uniform(0, 3000))) for link in rows}
                for source, rows in links_of(instance, counted=True).items()
            }
            charged += sum(pence > 0 for rows in links.values() for pence in rows.values())
            priced = [
                one for pricer in apart for one in pricer.price(discounted(prices, links.get(pricer.sources[0], {})))
            ]
            bound = lagrangian_bound(instance, prices, priced, rebates(instance, links))
            assert bound <= ceiling(instance, (found.pieces_short, found.net_cost)) + PENCE, seed
    assert charged > 25


def test_generation_with_rows_ends_between_the_plain_relaxation_and_the_best() -> None:
    lifted = ended = 0
    for seed in range(200, 230):
        request = many_alike(seed)
        instance = build_instance(request, GRASS)
        pricers = Pricers(instance)
        if not pricers.exact or not any(s.copies for s in instance.sources):
            continue
        found = WholeProblem(request).solve()
        budget = Budget(math.inf)
        prices = {t: first_price(instance, t) for t in instance.piece_types()}
        plain = Boxed(instance, pricers, prices, budget, share=0.5)
        plain.run(lambda _: None)
        compare_without_fences(plain)
        apart = Pricers(instance, apart=True)
        one = Boxed(instance, apart, plain.prices, budget, share=0.05, tied=True)
        one.run(lambda _: None)
        most = ceiling(instance, (found.pieces_short, found.net_cost))
        assert plain.bound - 0.001 * most - 1 <= one.bound <= most + PENCE, seed
        lifted += one.bound > plain.bound + 1
        ended += 1
    assert ended > 10
    assert lifted > 5


def compare_without_fences(boxed: Boxed) -> None:
    """What a relaxation costs without its fences: as one that never had any, over the same patterns."""
    fresh = Master(boxed.instance, {p: float(p.cost(boxed.instance)) for p in boxed.master.columns})
    assert fresh.solve()
    before, fenced = boxed.master.value, boxed.master.prices()
    assert boxed.master.unfenced() == pytest.approx(fresh.value, abs=10 * PENCE), "costs here are whole pence"
    assert (boxed.master.value, boxed.master.prices()) == (before, fenced), "as they were"
    assert boxed.master.solve()
    assert boxed.master.value == pytest.approx(before, abs=1), "and fences are where they were"


@pytest.mark.parametrize("draw", [random_request, many_alike])
def test_by_branching_no_set_of_pieces_is_worth_more_than_the_most_valuable_pattern(
    draw: Callable[[int], PlanRequest],
) -> None:
    """Against every set of pieces that can be cut, each charged for the jobs it holds pieces of."""
    branched = 0
    for seed in range(60):
        instance, random = build_instance(draw(seed), GRASS), Random(seed)
        prices = {t: random.uniform(0, 2500) * t.width_mm * t.length_mm / 1e6 for t in instance.piece_types()}
        links = {
            source: {link: random.choice((0.0, random.uniform(0, 6000))) for link in rows}
            for source, rows in links_of(instance).items()
        }
        best = {one.source: one.value for one in priced_by_every_set(instance, prices, links)}
        for pricer in Pricers(instance, apart=True).each:
            source = pricer.sources[0]
            charges = charges_of(pricer, links.get(source, {}))
            if not charges:
                continue
            touched = most_valuable(pricer, prices, charges, source.value_pence)
            assert max(touched.most, source.value_pence) >= best[source] - PENCE, seed
            for pattern in touched.patterns:
                made = pattern.made()
                charged = sum(pence * link.taken(made) for link, pence in links[source].items())
                value = source.value_pence - pattern.cost(instance) + sum(prices[t] * n for t, n in made.items())
                assert value - charged <= touched.most + PENCE, seed
                branched += charged > 0
            if touched.patterns:
                (plain,) = pricer.price(prices)
                assert touched.most <= plain.value, seed
    assert branched > 10


def test_a_row_that_counts_pieces_taken_for_one_that_does_not_allows_as_much_and_charges_no_less() -> None:
    """Against every set of pieces that can be cut."""
    more = 0
    for seed in range(60):
        random = Random(seed)
        across, along, alike = random.randint(1, 2), random.randint(1, 3), random.randint(2, 5)
        stock = [item("T1", f"{across * 1000}x{along * 2000}", "B1"), item("T2", "3000x4000", "B1")]
        jobs = [job("J1", f"1000x2000*{alike}"), job("J2", "1000x2500")]
        instance = build_instance(problem(jobs, stock, [rolls("3000x6000", 15_000)]), GRASS)
        for tables in every_table(instance):
            for c, lengths in enumerate(tables.kind.lengths):
                source = lengths.sources[0]
                both = (links_of(instance), links_of(instance, counted=True))
                rows = {source: {link: random.uniform(0, 6000) for found in both for link in found.get(source, ())}}
                once = {
                    Link(source, group, link.types): pence
                    for (_, group), pence in charged_once(instance, rows).items()
                    for link in links_of(instance).get(source, ())
                    if link.group == group
                }
                assert rebates(instance, {source: once}) == pytest.approx(rebates(instance, rows))
                for made, _ in every_set(tables, c):
                    charged = sum(pence * link.taken(made) for link, pence in once.items())
                    counted = sum(pence * link.taken(made) for link, pence in rows[source].items())
                    assert charged >= counted - PENCE, seed
                    more += charged > counted + PENCE
    assert more > 10


def test_no_source_holds_more_than_is_counted() -> None:
    """Against every set of pieces that can be cut."""
    full = 0
    for seed in range(60):
        instance = build_instance(random_request(seed), GRASS)
        for tables in every_table(instance):
            demand = tables.kind.most
            for c, lengths in enumerate(tables.kind.lengths):
                if lengths.copies is None:
                    continue
                held = [sum(made.values()) for made, _ in every_set(tables, c)]
                most = most_held(lengths.sources[0], demand)
                assert max(held, default=0) <= most, seed
                full += max(held, default=0) == most < sum(demand.values())
    assert full > 10


def test_good_sets_are_those_good_enough_after_charges() -> None:
    """The list at the relaxation's own prices, against going through all sets one by one."""
    listed = charged = 0
    for seed in range(60):
        instance = build_instance(random_request(seed), GRASS)
        one = relaxed(instance, tied=True)
        if not one.relaxed:
            continue
        prices, links, random = one.prices, one.link_prices, Random(seed)
        gap = random.uniform(100, 3000)
        found = one.listed(gap, Budget(math.inf))
        assert found is not None
        floors = one.floors()
        good = {(each.source, each.tables.pieces(each.c, n)) for each in found for n in each.numbers}
        for tables in one.tables:
            for c, lengths in enumerate(tables.kind.lengths):
                source = lengths.sources[0]
                for made, cost in every_set(tables, c):
                    taken = sum(pence * link.taken(made) for link, pence in links.get(source, {}).items())
                    loss = cost - sum(prices.get(t, 0.0) * n for t, n in made.items()) + taken - floors.get(source, 0.0)
                    assert loss >= -1e-6, seed
                    if abs(loss - gap) > 1e-6:
                        assert ((source, tuple(made.items())) in good) == (loss < gap), seed
                    charged += taken > 0
        listed += len(good)
    assert listed > 100
    assert charged > 10
