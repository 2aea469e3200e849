"""One pile direction over everything seen together, from wishes in words."""

from dataclasses import replace
from datetime import date

import pytest

from stockplan.domain.jobs import BatchRule, Job
from stockplan.domain.lawn import EdgeNote, Lawn, LawnPlace, Point
from stockplan.domain.pile import PileKind, PileWish, parse_pile
from stockplan.domain.pile_direction import job_wish, pile_doubts, pile_faults, pile_groups
from stockplan.errors import UnitError

# y up on paper; the house stands along the bottom edge, walked from left to right.
SQUARE = (Point(0, 0), Point(6000, 0), Point(6000, 4000), Point(0, 4000))
HOUSE_BELOW = (EdgeNote(0, "house"), EdgeNote(2, "path", no_seam=True))


def lawn(label: str = "back", **changes: object) -> Lawn:
    return Lawn(label, SQUARE, **{"notes": HOUSE_BELOW, "place": LawnPlace.BACK, **changes})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "text",
    [
        "towards house",
        "from garden wall",
        "bearing 135",
        "bearing 0.5",
        "square to house",
        "along road",
        "along 90",
        "open",
    ],
)
def test_a_wish_reads_back_as_it_is_written(text: str) -> None:
    assert str(parse_pile(text)) == text
    assert parse_pile(f"  {text.upper()} ").kind is parse_pile(text).kind


@pytest.mark.parametrize(
    "text", ["", "house", "towards", "towardshouse", "bearing house", "bearing 360", "open 3", "along -5.."]
)
def test_what_is_no_wish_is_refused(text: str) -> None:
    if text == "along -5..":  # any words may name an edge
        assert parse_pile(text).edge == "-5.."
        return
    with pytest.raises(UnitError, match="pile"):
        parse_pile(text)


@pytest.mark.parametrize(
    ("wish", "bearing", "either_way"),
    [
        ("towards house", 180.0, False),
        ("from HOUSE", 0.0, False),
        ("towards path", 0.0, False),
        ("bearing 135", 135.0, False),
        ("square to path", 0.0, True),
        ("along house", 270.0, True),
        ("along 45", 45.0, True),
        ("open", None, True),
    ],
)
def test_each_form_of_wish_on_a_rectangle(wish: str, bearing: float | None, either_way: bool) -> None:
    (group,) = pile_groups([lawn()], parse_pile(wish))
    assert (group.direction.bearing, group.direction.either_way) == (bearing, either_way)


def test_common_practice_is_towards_the_house_behind_it_and_outward_in_front() -> None:
    back, front, other = (lawn(place.value, place=place) for place in LawnPlace)
    assert [pile_groups([one])[0].direction.bearing for one in (back, front, other)] == [180.0, 0.0, None]
    (both,) = pile_groups([front, back])
    assert both.direction.bearing == 180.0
    assert "common practice" in both.direction.why


def test_a_house_between_two_lawns_is_leant_towards_at_the_back_whichever_was_measured_first() -> None:
    """Over both the pile leans down the page: towards the house from the lawn above it, away from it below.

    back
    house
    front
    """
    above = (EdgeNote(2, "house"),)
    back, front = lawn(y_bearing=0.0), lawn("front", place=LawnPlace.FRONT, notes=above, y_bearing=0.0)
    told = {pile_groups(group)[0].direction for group in ((back, front), (front, back))}
    assert [(one.bearing, one.why) for one in told] == [(180.0, "towards house (common practice in back gardens)")]
    (only_front,) = pile_groups([front, replace(back, notes=())])
    assert only_front.direction.bearing == 180.0
    assert pile_doubts([front, replace(back, notes=())]) == []


def test_walking_the_outline_the_other_way_round_changes_no_direction() -> None:
    mirrored = Lawn("back", SQUARE[::-1], notes=(EdgeNote(2, "house"),), place=LawnPlace.BACK)
    assert mirrored.side(2) == (Point(6000, 0), Point(0, 0))
    assert pile_groups([mirrored])[0].direction.bearing == 180.0


def test_edges_of_one_name_count_by_their_length() -> None:
    corner_plot = lawn(notes=(EdgeNote(0, "house"), EdgeNote(1, "house")))
    (group,) = pile_groups([corner_plot])
    # outward normals 6000 down and 4000 to the right: clockwise from y, 180 - atan(4/6)
    assert group.direction.bearing == pytest.approx(180 - 33.690067525979785)


def test_north_turns_a_direction_into_each_lawns_own_axes() -> None:
    east_up = lawn(y_bearing=90.0)
    (group,) = pile_groups([east_up, lawn("side", y_bearing=0.0)])
    assert group.direction.bearing == 270.0
    assert [group.direction.on(one) for one in group.lawns] == [180.0, 270.0]


def test_axes_that_may_not_be_parallel_are_pointed_out() -> None:
    turned = lawn("side", notes=(EdgeNote(1, "house"),))
    (doubt,) = pile_doubts([lawn(), turned])
    assert doubt.startswith("house lies at back 180°, side 90°: right only where their x axes are parallel")
    assert pile_doubts([lawn(y_bearing=0.0), lawn("side", notes=(EdgeNote(1, "house"),), y_bearing=0.0)]) == []
    assert pile_doubts([lawn(), lawn("side")]) == []
    assert pile_doubts([lawn(), turned], parse_pile("bearing 90")) == []
    assert pile_doubts([lawn(cannot_be_seen_with=("side",)), turned]) == []


def test_a_wish_that_names_sides_facing_different_ways_is_pointed_out() -> None:
    front = lawn("front", notes=(EdgeNote(2, "house"),), place=LawnPlace.FRONT, y_bearing=0.0)
    back = lawn(y_bearing=0.0)
    (doubt,) = pile_doubts([front, back], parse_pile("towards house"))
    assert doubt == "house lies at front 0°, back 180°: the pile lies as front has it; else ask for it by a bearing"
    assert pile_groups([front, back], parse_pile("towards house"))[0].direction.bearing == 0.0
    assert pile_doubts([front, back], parse_pile("bearing 0")) == []
    assert pile_doubts([front, back], parse_pile("square to house")) == []
    assert pile_doubts([replace(front, notes=()), back], parse_pile("towards house")) == []


def test_north_known_for_some_lawns_only_is_doubted() -> None:
    (doubt,) = pile_doubts([lawn(y_bearing=30.0), lawn("side", notes=())])
    assert doubt.startswith("north is known for back, and not for side: right only where the y axis there points north")
    assert pile_doubts([lawn(y_bearing=30.0, cannot_be_seen_with=("side",)), lawn("side", notes=())]) == []
    assert pile_doubts([lawn(y_bearing=30.0), lawn("side", notes=(), y_bearing=30.0)]) == []


def test_a_front_lawn_laid_as_the_back_one_is_doubted_until_somebody_says_how_it_is() -> None:
    front = lawn("front", place=LawnPlace.FRONT)
    (doubt,) = pile_doubts([front, lawn()])
    assert doubt.startswith("front is taken to be seen together with back, and its pile leans as there")
    assert pile_doubts([replace(front, cannot_be_seen_with=("back",)), lawn()]) == []
    assert pile_doubts([front, lawn()], parse_pile("towards house")) == []
    assert pile_doubts([front, lawn(pile=parse_pile("bearing 90"))]) == []
    assert pile_doubts([replace(front, notes=()), lawn(notes=())]) == []
    assert pile_doubts([front, lawn("side", place=LawnPlace.OTHER)]) == []


def test_lawns_that_cannot_be_seen_together_go_their_own_ways() -> None:
    front = lawn("front", place=LawnPlace.FRONT, cannot_be_seen_with=("back",))
    back = lawn("back")
    groups = pile_groups([front, back])
    assert [(group.lawns, group.direction.bearing) for group in groups] == [((front,), 0.0), ((back,), 180.0)]
    # a lawn seen with both ties them together again
    (tied,) = pile_groups([front, back, lawn("side")])
    assert [one.label for one in tied.lawns] == ["front", "back", "side"]


def test_a_lawns_own_wish_comes_before_the_jobs() -> None:
    (group,) = pile_groups([lawn(pile=parse_pile("open")), lawn("side")], parse_pile("towards house"))
    assert group.direction.bearing is None


@pytest.mark.parametrize(
    ("note", "stated", "wish"),
    [
        ("House ", None, "towards House"),
        ("the oak", None, None),
        ("house", parse_pile("open"), "open"),
        ("", None, None),
    ],
)
def test_the_note_for_the_crew_counts_where_it_names_an_edge(
    note: str, stated: PileWish | None, wish: str | None
) -> None:
    job = Job("J1", "", "G30", date(2026, 11, 30), note, BatchRule.ONE, (), lawns=(lawn(),), pile=stated)
    assert job_wish(job) == (None if wish is None else parse_pile(wish))


def test_every_fault_in_the_wishes_is_told() -> None:
    assert "no other lawn" in pile_faults([lawn(cannot_be_seen_with=("frnt",))])[0]
    assert "named edges: house, path" in pile_faults([lawn()], parse_pile("towards hose"))[0]
    unlike = [lawn(pile=parse_pile("towards house")), lawn("side", pile=parse_pile("from house"))]
    assert "one direction for all" in pile_faults(unlike)[0]
    all_round = lawn(notes=tuple(EdgeNote(number, "wall") for number in range(4)))
    assert "face all ways" in pile_faults([all_round], parse_pile("towards wall"))[0]
    with pytest.raises(ValueError, match="no edge is called"):
        pile_groups([lawn()], parse_pile("towards hose"))


@pytest.mark.parametrize(
    "parts",
    [
        (PileKind.TOWARDS, "", None),
        (PileKind.BEARING, "", None),
        (PileKind.OPEN, "house", None),
        (PileKind.BEARING, "", 360.0),
    ],
)
def test_a_wish_has_exactly_what_its_form_needs(parts: tuple[PileKind, str, float | None]) -> None:
    with pytest.raises(ValueError, match=r"pile wish|outside"):
        PileWish(*parts)
