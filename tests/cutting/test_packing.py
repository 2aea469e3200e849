"""The bench: what it says a cut costs is what the pattern costs, and a piece taken out leaves what was there before."""

from __future__ import annotations

from random import Random

import pytest
from small_problems import GRASS, cut_lengths, item, job, problem, rolls

from stockplan.bench.weeks import week
from stockplan.cutting.assemble import tidy
from stockplan.cutting.budget import Budget
from stockplan.cutting.foreman import foreman_plan
from stockplan.cutting.instance import Instance, build_instance
from stockplan.cutting.packing import Bench, Opened, pieces_on
from stockplan.cutting.recreate import Recreate
from stockplan.cutting.solution import Solution, trimmed
from stockplan.domain.jobs import BatchRule


def small_instance(random: Random) -> Instance:
    """Offcuts, a part roll, rolls and cut lengths, with pieces of any size to the millimetre."""
    sizes = " ".join(f"{random.randint(300, 4000)}x{random.randint(300, 5000)}" for _ in range(6))
    stock = [
        item("C1", f"{random.randint(600, 4000)}x{random.randint(1000, 6000)}"),
        item("C2", f"{random.randint(600, 4000)}x{random.randint(1000, 6000)}"),
        item("P1", f"{random.choice([2000, 3970, 4000])}x{random.randint(3000, 9000)}", form="part_roll"),
    ]
    supply = [rolls("4000x12000", 50_000), cut_lengths("4000x9050", 5_500)]
    return build_instance(problem([job("J1", sizes, rule=BatchRule.ANY)], stock, supply), GRASS)


def filled(bench: Bench, random: Random) -> list[Opened]:
    """Sources of one batch with pieces put on them at random places."""
    batch = random.randrange(len(bench.instance.batches))
    pieces = [i for i, piece in enumerate(bench.types) if piece.batch == batch]
    closed = [i for i, source in enumerate(bench.sources) if source.batch == batch]
    opened: tuple[Opened, ...] = ()
    for _ in range(random.randint(1, 9)):
        spots = list(bench.spots(random.choice(pieces), opened, closed)) if pieces else []
        if not spots:
            continue
        spot = random.choice(spots)
        before = opened[spot.at].cost if spot.at >= 0 else 0
        assert spot.delta == spot.after.cost - before
        opened = (*(one for at, one in enumerate(opened) if at != spot.at), spot.after)
    return list(opened)


def fits(bench: Bench, one: Opened) -> bool:
    """Drops fit the source, lanes the width, pieces their lane, and the lengths noted are the lengths there are."""
    source = bench.sources[one.source]
    lanes = [(length, lane) for length, lanes in one.drops for lane in lanes]
    return (
        one.used == sum(length for length, _ in one.drops) <= source.length_mm
        and all(sum(width for width, _, _ in lanes) <= source.width_mm for _, lanes in one.drops)
        and all(used == sum(bench.length[p] for p in pieces) <= length for length, (_, used, pieces) in lanes)
        and all(bench.width[p] <= width for _, (width, _, pieces) in lanes for p in pieces)
    )


@pytest.mark.parametrize("seed", range(40))
def test_costs_kept_on_the_bench_are_the_costs_of_the_pattern(seed: int) -> None:
    random = Random(seed)
    bench = Bench(small_instance(random))
    for _ in range(5):
        for one in filled(bench, random):
            pattern = bench.pattern(one)
            assert fits(bench, one)
            assert one.cost == pattern.cost(bench.instance)
            assert bench.from_pattern(pattern) == one
            assert tidy(pattern).cost(bench.instance) <= pattern.cost(bench.instance)


@pytest.mark.parametrize("seed", range(40))
def test_a_piece_taken_out_leaves_the_others_and_closes_up(seed: int) -> None:
    random = Random(seed)
    bench = Bench(small_instance(random))
    for one in filled(bench, random):
        piece = random.choice(pieces_on(one))
        after = bench.without(one, piece)
        left = pieces_on(one)
        left.remove(piece)
        if not left:
            assert after is None
            continue
        assert after is not None
        assert fits(bench, after)
        assert sorted(pieces_on(after)) == sorted(left)
        assert after.cost == bench.pattern(after).cost(bench.instance)
        assert after.used <= one.used


@pytest.mark.parametrize("seed", range(20))
def test_what_a_place_is_remembered_to_add_is_the_least_of_all_places(seed: int) -> None:
    random = Random(seed)
    bench = Bench(small_instance(random))
    for one in filled(bench, random):
        assert one.held == set(pieces_on(one))
        for piece in range(len(bench.types)):
            least = min((spot.delta for spot in bench.spots(piece, (one,), [])), default=None)
            assert bench.gain(piece, one) == bench.gain(piece, one) == least
            if least is not None:
                assert bench.placed(piece, one).cost == one.cost + least
            opened = bench.newly(piece, one.source)
            assert (opened and opened.cost) == min(
                (spot.delta for spot in bench.spots(piece, (), [one.source])), default=None
            )


#   +-----------+-----+          +-----------+-----+
#   |    A      | /// |  put B   |    A      |  B  |   take B out again
#   +-----------+-----+   -->    +-----------+-----+   and the first is back
def test_putting_a_piece_beside_another_and_taking_it_out_again_changes_nothing() -> None:
    bench = Bench(build_instance(problem([job("J1", "2500x3000 1500x3000")], [item("C1", "4000x5000")]), GRASS))
    narrow, wide = range(2)
    (first,) = {spot.after for spot in bench.spots(wide, (), [0]) if len(spot.after.drops[0][1]) == 1}
    for spot in bench.spots(narrow, (first,), []):
        assert bench.without(spot.after, narrow) == first


def test_a_piece_that_is_not_there_cannot_be_taken_out() -> None:
    bench = Bench(build_instance(problem([job("J1", "2500x3000 1500x3000")], [item("C1", "4000x5000")]), GRASS))
    one = next(bench.spots(1, (), [0])).after
    assert one.held == {1}
    with pytest.raises(ValueError, match="not on source"):
        bench.without(one, 0)


# --- whole answers ----------------------------------------------------------------------------------------------------


def assert_feasible(instance: Instance, answer: Solution) -> None:
    """Copies suffice, every source makes what is cut from it, every unit has one batch, demand is met."""
    for source in {pattern.source for pattern in answer.patterns}:
        used = sum(count for pattern, count in answer.patterns.items() if pattern.source == source)
        assert source.copies is None or used <= source.copies
    made = dict.fromkeys(instance.piece_types(), 0)
    for pattern, count in answer.patterns.items():
        for piece, number in pattern.made().items():
            assert pattern.source.makes(piece)
            made[piece] += count * number
    assert all(made[piece] >= count for piece, count in answer.demand(instance).items())
    for number, group in enumerate(instance.groups):
        units = sum(n for (g, _), n in answer.given.items() if g == number)
        assert units == (0 if group.job in answer.short else group.units)


@pytest.mark.parametrize("seed", range(12))
def test_the_foremans_plan_is_feasible_and_trimming_it_never_costs(seed: int) -> None:
    instance = build_instance(week("S", seed), GRASS)
    answer = foreman_plan(instance)
    assert_feasible(instance, answer)
    leaner = trimmed(instance, answer)
    assert_feasible(instance, leaner)
    assert leaner.net_cost(instance) <= answer.net_cost(instance)


@pytest.mark.parametrize("seed", range(6))
def test_ruin_and_recreate_keeps_an_answer_feasible_and_never_makes_it_worse(seed: int) -> None:
    instance = build_instance(week("S", seed), GRASS)
    start = trimmed(instance, foreman_plan(instance))
    search = Recreate(instance, seed)
    assert search.state_of(start).cost == start.rank(instance)[0]
    better = search.run(start, 200, Budget(deadline=float("inf")))
    assert_feasible(instance, better)
    assert better.rank(instance)[0] <= start.rank(instance)[0]
    assert search.state_of(better).cost == better.rank(instance)[0]
