"""What became of a thing, as typed: each movement in words, and from which roll and delivery it comes."""

from __future__ import annotations

import json
import re
from dataclasses import replace

from stores_with_plans import THREE, TODAY, Plan, ok, refused


def lines_of(tag: str) -> list[str]:
    """Lines without number, moment and user."""
    return ok("history", tag).splitlines()


def has(tag: str, words: str) -> bool:
    return any(words in line for line in lines_of(tag))


def test_what_a_cut_gave_and_spoiled_and_where_its_rest_comes_from_is_told(planned: Plan) -> None:
    planned()
    ok("accept", *TODAY)
    said = ok("cut", "R-2", "--done", "--spoiled", "J3/A/2", *TODAY)
    (tag,) = re.findall(r"^Write (P-\w+) on the part roll", said, re.M)
    assert has("R-2", "reserved for plan 1")
    assert has("R-2", "2 pieces for J3, 1 of them spoiled")
    assert has("R-2", f"{tag} came off R-2: part roll 4.00 × 4.00")
    first, second, *_ = lines_of(tag)
    assert re.fullmatch(rf"{tag} was cut off R-2 on \d{{4}}-\d\d-\d\d by \S+ for plan 1", first)
    assert re.fullmatch(r"R-2 came on \d{4}-\d\d-\d\d as part roll 4.00 × 8.00 of G30, batch B8", second)
    document = json.loads(ok("history", tag, "--json"))
    assert document["cut_from"] == ["R-2"]
    assert [movement["kind"] for movement in document["movements"]] == ["returned"]


def test_a_delivery_is_named_and_an_unknown_batch_is_said_to_be_unknown(planned: Plan) -> None:
    planned()
    ok("receive", "R-9", "4.00x25.00", "--product", "G30", "--bay", "E1", "--cost", "9", "--delivery", "D-77")
    (first, *_) = lines_of("R-9")
    assert first.endswith(" with delivery D-77 as roll 4.00 × 25.00 of G30, batch unknown")
    assert has("R-9", "received: roll 4.00 × 25.00, G30, batch unknown, bay E1, delivery D-77")


def test_what_was_cut_for_nobody_has_no_pieces_noted(planned: Plan) -> None:
    planned()
    ok("offcut", "R-1", "--length", "2", "--width", "1.5", "--bay", "C1", "--rest", "7")
    assert has("R-1", "no pieces noted")


def test_a_piece_that_is_still_to_be_cut_is_told_with_its_sheet(planned: Plan) -> None:
    planned()
    assert "J3/A/2 was never in the yard" in refused("history", "J3/A/2")
    ok("accept", *TODAY)
    told = "stockplan: J3/A/2 is a piece that plan 1 is still to cut from R-2; see: stockplan cut R-2\n"
    assert refused("history", "J3/A/2") == told
    assert "J3/A/3 was never in the yard" in refused("history", "J3/A/3")
    ok("cut", "R-2", "--done")
    assert "J3/A/2 is a piece for job J3, cut from R-2" in refused("history", "J3/A/2")


def test_a_piece_of_what_is_still_to_come_is_told_with_its_order(planned: Plan) -> None:
    planned(replace(THREE, stock=()))
    ok("accept", *TODAY)
    assert "plan 1 is still to cut from P1-1; see: stockplan orders\n" in refused("history", "J3/A/2")


def test_a_tag_that_never_was_is_refused(planned: Plan) -> None:
    planned()
    assert "R-77" in refused("history", "R-77")


def test_the_key_of_an_order_is_told_from_a_tag(planned: Plan) -> None:
    planned(replace(THREE, stock=()))
    ok("accept", *TODAY)
    nothing = "P1-1 was never in the yard; it is the key of an order of which nothing has come"
    assert nothing in refused("history", "P1-1")
    ok("order", "P1-1", *TODAY)
    ok("receive-order", "P1-1", "4x25", "--batch", "B9", "--bay", "east", "--tag", "R-9", "--today", "2026-11-29")
    for command in (("history", "P1-1"), ("move", "P1-1", "west"), ("measure", "P1-1", "4x24.9")):
        assert "P1-1 was never in the yard; it is the key of an order that came in as R-9" in refused(*command)


def test_what_is_asked_of_a_piece_as_if_it_were_a_thing_is_told_what_it_is(planned: Plan) -> None:
    planned()
    ok("accept", *TODAY)
    for command in (
        ("condition", "J3/A/2", "wet"),
        ("offcut", "J3/A/2", "--length", "1", "--width", "1", "--bay", "x"),
    ):
        told = refused(*command)
        assert "J3/A/2 was never in the yard; it is a piece that plan 1 is still to cut from R-2; see: stock" in told


def test_a_piece_in_small_letters_and_the_beginning_of_a_tag_are_told_what_may_be_meant(planned: Plan) -> None:
    planned()
    ok("accept", *TODAY)
    assert "j3/a/2 was never in the yard; perhaps the piece J3/A/2 is meant\n" in refused("history", "j3/a/2")
    for tag in ("R-8, no arrow", "R-80", "R-8/2"):
        ok("receive", tag, "4x5", "--product", "G30", "--bay", "north", "--cost", "11")
    assert "perhaps R-8, no arrow or R-8/2 is meant\n" in refused("move", "r-8", "south")
    assert "meant" not in refused("history", "R")
