"""Answers for several ways to lay a lawn, put together."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date
from math import inf

import pytest
from estimator_yards import LAYOUT, WIDEST, lying

from stockplan.domain.cover import Coverage, Laying, Offer, Question, Ready
from stockplan.domain.cover_answers import cover
from stockplan.domain.cover_lawn import laid, most_pence, put_together, rank
from stockplan.domain.pieces import Pieces, in_order
from stockplan.domain.request import CostSettings
from stockplan.domain.stock import SupplyForm, SupplyOption
from stockplan.report.cover_text import verdict

TODAY = date(2026, 11, 26)
LENGTHS = SupplyOption("G30", "Ashcombe", SupplyForm.CUT_LENGTH, 4000, 20_000, 5000, 2)


def asked(*tags: tuple[str, int, int], ways: tuple[tuple[Pieces, float, int], ...], most: int = 3) -> Coverage:
    """Ask for each way (pieces, bearing, what its seam costs), and put the answers together."""
    free = [lying(*tag) for tag in tags]
    offer = Offer(free, (LENGTHS,), {"G30": WIDEST}, costs=CostSettings(200, 300), layout=LAYOUT)
    found = []
    for pieces, bearing, seam_pence in ways:
        laying = Laying("", pieces, len(pieces) - 1, 2000 * (len(pieces) - 1), seam_pence, bearing, f"pile {bearing}")
        found.append(laid(cover(Question(pieces, ("G30",), TODAY, most=most), offer), laying))
    return put_together(found, most)


def test_answers_of_both_directions_are_ranked_together_and_lettered_as_they_come() -> None:
    along, across = ((1900, 3300),), ((3200, 2000),)
    found = asked(("K-1", 3200, 2000), ("K-2", 2000, 3300), ways=((along, 90.0, 0), (across, 0.0, 0)))
    free = found.of(Ready.FREE)
    assert [(one.laying.label, one.takes[0].source.key) for one in free if one.laying] == [("A", "K-1"), ("B", "K-2")]
    assert found.question.pieces == across == found.layings[0].pieces
    assert [one.cost_pence for one in free] == sorted(one.cost_pence for one in free)
    # Two metres at full width are cheaper to buy than three metres and thirty.
    assert [one.laying.label for one in found.of(Ready.BUY) if one.laying] == ["A", "B"]


def test_one_piece_comes_before_a_cheaper_way_with_a_seam_which_is_told_after_it() -> None:
    one, two = ((2100, 6200),), ((4000, 2200), (2160, 2200))
    tags = (("P-1", 4000, 13_000), ("P-2", 4000, 12_000), ("K-1", 4000, 2200), ("K-2", 2160, 2200))
    found = asked(*tags, ways=((two, 90.0, 1200), (one, 0.0, 0)), most=2)
    free = found.of(Ready.FREE)
    assert [len(answer.takes) for answer in free] == [1, 1, 2]
    assert free[2].cost_pence < free[0].cost_pence
    assert free[2].cost_pence == free[2].grass_pence + 1200
    assert [answer.laying.label for answer in free if answer.laying] == ["A", "A", "B"]


def test_the_verdict_points_at_the_first_answer_in_one_piece() -> None:
    one, two = ((2100, 6200),), ((4000, 2200), (2160, 2200))
    found = asked(("K-1", 4000, 2200), ("K-2", 2160, 2200), ways=((two, 90.0, 1200), (one, 0.0, 0)))
    assert [answer.ready for answer in found.answers][:2] == [Ready.FREE, Ready.BUY]
    assert verdict(found).endswith("cover it and are free, laid with one seam of 2.00 m. In one piece: answer 2.")
    assert not verdict(asked(("K-1", 2160, 7000), ways=((one, 0.0, 0),))).endswith("answer 2.")


def test_ways_that_lean_alike_and_take_from_the_same_things_are_told_once() -> None:
    ways = tuple((((2000 + wider, 5000), (2000 - wider, 5000)), 0.0, 3000) for wider in (0, 100, 200))
    found = asked(("P-1", 4000, 20_000), ways=ways)
    assert len(found.of(Ready.FREE)) == len(found.of(Ready.BUY)) == 1
    assert {one.label for one in found.layings} == {""}
    assert list(found.answers) == sorted(found.answers, key=rank)


def test_misses_are_those_of_the_first_way_and_only_where_nothing_is_free() -> None:
    along, across = ((1900, 3300),), ((3200, 2000),)
    assert not asked(("K-1", 3200, 2000), ways=((along, 90.0, 0), (across, 0.0, 0))).misses
    found = asked(("K-1", 1800, 3300), ways=((along, 90.0, 0), (across, 0.0, 0)))
    assert found.layings[0].pieces == found.question.pieces == across
    assert (found.misses[0].across_mm, found.misses[0].along_mm) == (1400, 0)


@pytest.mark.parametrize("seed", range(40))
def test_looking_no_further_than_is_worth_while_leaves_no_answer_out(seed: int) -> None:
    draw = random.Random(seed)
    sizes = [1000, 1500, 2000, 2500, 3000, 4000]
    free = [
        replace(
            lying(f"K-{number}", draw.choice(sizes), draw.choice(sizes) + draw.choice((0, 2000)), draw.choice("AB")),
            condition=draw.choice(("", "", "", "", "wet")),
        )
        for number in range(draw.randint(8, 20))
    ]
    ways = []
    for number in range(5):
        pieces = in_order(tuple((draw.choice(sizes), draw.choice(sizes)) for _ in range(draw.choice((1, 2, 2, 2)))))
        seams = draw.choice((0, 1, 1)) * (len(pieces) - 1)
        ways.append(
            Laying("", pieces, seams, 2000 * seams, 100 * seams, draw.choice((0.0, 0.0, 0.0, 90.0)), f"pile {number}")
        )
    offer = Offer(free, (LENGTHS,), {"G30": WIDEST}, costs=CostSettings(200, 300), layout=LAYOUT)
    most = draw.choice((1, 2, 3))

    def answered(way: Laying, highest: float) -> Coverage:
        return laid(cover(Question(way.pieces, ("G30",), TODAY, most=most), offer, most_pence=highest), way)

    found: dict[int, Coverage] = {}
    fully: dict[int, Coverage] = {}
    for place in sorted(range(len(ways)), key=lambda place: ways[place].seams > 0):
        highest = most_pence(found.values(), ways[place], most)
        found[place] = answered(ways[place], highest)
        fully[place] = found[place] if highest == inf else answered(ways[place], inf)
    told = put_together([found[place] for place in range(len(ways))], most)
    everything = put_together([fully[place] for place in range(len(ways))], most)
    assert told.answers == everything.answers
    assert told.misses == everything.misses
