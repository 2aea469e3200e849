"""Enquiries matched with offcuts: against going through every choice, and against an assignment solver."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from random import Random

import pytest
from ortools.graph.python import linear_sum_assignment

from stockplan.cutting.matching import best_choice, match
from stockplan.domain.cover_search import Desk
from stockplan.domain.cover_source import Source, source_of
from stockplan.domain.enquiries import Matched, Pairings, SmallEnquiry
from stockplan.domain.pieces import in_order
from stockplan.domain.request import CostSettings
from stockplan.domain.stock import StockForm, StockItem


def offcut(tag: str, width: int, length: int, pence: int = 1000, product: str = "G30") -> Source:
    return source_of(StockItem(tag, product, "B1", StockForm.OFFCUT, width, length, "A1", pence), 4000)


def enquiry(name: str, *sizes: tuple[int, int], worth: int | None = 5000, grass: str = "G30") -> SmallEnquiry:
    return SmallEnquiry(name, grass, in_order(sizes), worth)


def pairings(enquiries: Sequence[SmallEnquiry], offcuts: Sequence[Source], together: int) -> Pairings:
    desks = {code: Desk(4000, CostSettings()) for code in ("G30", "G40")}
    return Pairings(enquiries, [one.worth_pence for one in enquiries], offcuts, desks, together)


def random_case(random: Random, asked: int, lying: int) -> tuple[list[SmallEnquiry], list[Source]]:
    enquiries = [
        enquiry(
            f"E{place}",
            *((100 * random.randint(5, 25), 100 * random.randint(10, 30)) for _ in range(random.randint(1, 2))),
            worth=random.randint(1000, 9000),
        )
        for place in range(asked)
    ]
    offcuts = [
        offcut(f"K{place}", 100 * random.randint(6, 35), 100 * random.randint(10, 60), random.choice([800, 1000]))
        for place in range(lying)
    ]
    return enquiries, offcuts


def gain_of(everything: Pairings, source: Source, places: tuple[int, ...]) -> int | None:
    pieces = in_order(tuple(piece for place in places for piece in everything.enquiries[place].pieces))
    take = everything.desks[source.product].take(source, pieces)
    if take is None:
        return None
    return sum(everything.worths[place] or 0 for place in places) - take.cost_pence


def best_of_all(everything: Pairings) -> int:
    """Give every enquiry any offcut or none; offcuts that cannot give what they are given do not count."""
    offcuts, best = everything.offcuts, 0
    for chosen in product(range(-1, len(offcuts)), repeat=len(everything.enquiries)):
        total = 0
        for number, source in enumerate(offcuts):
            places = tuple(place for place, taken in enumerate(chosen) if taken == number)
            if len(places) > everything.together:
                break
            gain = gain_of(everything, source, places) if places else 0
            if gain is None:
                break
            total += gain
        else:
            best = max(best, total)
    return best


def assert_sound(found: Matched, everything: Pairings) -> None:
    used = [one.source.key for one in found.chosen]
    covered = [place for one in found.chosen for place in one.enquiries]
    assert len(set(used)) == len(used)
    assert len(set(covered)) == len(covered)
    assert sorted([*covered, *found.left()]) == list(range(len(everything.enquiries)))
    for one in found.chosen:
        assert one.take is not None
        assert one.gain_pence == gain_of(everything, one.source, one.enquiries)


@pytest.mark.parametrize("seed", range(20))
def test_no_choice_of_all_gains_more(seed: int) -> None:
    enquiries, offcuts = random_case(Random(seed), 4, 3)
    everything = pairings(enquiries, offcuts, Random(seed).choice([1, 2, 3]))
    found = match(everything)
    assert_sound(found, everything)
    assert found.proven
    assert found.gain_pence == best_of_all(everything)


@pytest.mark.parametrize("seed", range(8))
def test_one_enquiry_an_offcut_is_an_assignment_as_another_solver_solves_it(seed: int) -> None:
    enquiries, offcuts = random_case(Random(seed), 14, 12)
    everything = pairings(enquiries, offcuts, 1)
    found = match(everything)
    assert_sound(found, everything)
    solver = linear_sum_assignment.SimpleLinearSumAssignment()
    size = len(enquiries) + len(offcuts)  # an offcut and an enquiry may each be left alone at no gain
    for left in range(size):
        for right in range(size):
            gain = 0
            if left < len(enquiries) and right < len(offcuts):
                gain = max(0, gain_of(everything, everything.offcuts[right], (left,)) or 0)
            solver.add_arc_with_cost(left, right, -gain)
    assert solver.solve() == solver.OPTIMAL
    assert found.gain_pence == -solver.optimal_cost()


def test_taking_the_best_pair_first_would_gain_less() -> None:
    """Both fit the large offcut, only one the small: the small enquiry must leave the large offcut to the other."""
    enquiries = [enquiry("small", (1000, 1000), worth=9000), enquiry("large", (2000, 3000), worth=9000)]
    offcuts = [offcut("K-large", 2000, 3000, 100), offcut("K-small", 1000, 2000, 4000)]
    found = match(pairings(enquiries, offcuts, 1))
    assert {(one.source.key, one.enquiries) for one in found.chosen} == {("K-large", (1,)), ("K-small", (0,))}


def test_two_enquiries_share_an_offcut_where_they_fit_together() -> None:
    enquiries = [enquiry("a", (1000, 2000)), enquiry("b", (1000, 2000))]
    assert match(pairings(enquiries, [offcut("K", 2000, 2000)], 2)).left() == ()
    assert len(match(pairings(enquiries, [offcut("K", 2000, 2000)], 1)).left()) == 1
    assert len(match(pairings(enquiries, [offcut("K", 1900, 2000)], 2)).left()) == 1


def test_nothing_is_cut_at_a_loss_or_from_another_grass() -> None:
    assert not match(pairings([enquiry("a", (1000, 2000), worth=1)], [offcut("K", 2000, 2000)], 2)).chosen
    assert not match(pairings([enquiry("a", (1000, 2000))], [offcut("K", 2000, 2000, product="G40")], 2)).chosen
    assert not match(pairings([enquiry("a", (1000, 2000), worth=None)], [offcut("K", 2000, 2000)], 2)).chosen


def test_the_same_choice_each_time() -> None:
    enquiries, offcuts = random_case(Random(7), 10, 8)
    first, second = (match(pairings(enquiries, offcuts, 2)) for _ in range(2))
    assert first.chosen == second.chosen


def test_no_pairing_no_choice() -> None:
    assert best_choice([]) == ([], True)


@pytest.mark.slow
def test_a_month_of_enquiries_is_matched_and_proven() -> None:
    enquiries, offcuts = random_case(Random(3), 40, 50)
    everything = pairings(enquiries, offcuts, 2)
    found = match(everything, seconds=100)
    assert_sound(found, everything)
    assert found.proven


def test_out_of_time_the_answer_is_sound_and_not_said_to_be_proven() -> None:
    enquiries, offcuts = random_case(Random(3), 12, 12)
    everything = pairings(enquiries, offcuts, 3)
    found = match(everything, seconds=0)
    assert_sound(found, everything)
    assert not found.proven


def test_with_no_time_to_weigh_them_together_pairings_are_taken_one_by_one() -> None:
    enquiries, offcuts = random_case(Random(3), 12, 12)
    everything = pairings(enquiries, offcuts, 2)
    exact = [everything.exact(one) for one in everything.bounded()]
    chosen, proven = best_choice(exact, 0)
    assert not proven
    assert max(exact, key=lambda one: one.gain_pence) in chosen
    assert_sound(Matched(tuple(enquiries), tuple(everything.worths), tuple(chosen), proven), everything)
