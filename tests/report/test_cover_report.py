"""Answers on covers in words and as JSON against the published schema."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import jsonschema
import pytest
from schemas import closed, published, validator

from stockplan.domain.cover import Coverage, Offer, Proposed, Question, Ready
from stockplan.domain.cover_answers import cover
from stockplan.domain.cover_promise import Load, LoadDrop, LoadLane, Promise, PromisedJob
from stockplan.domain.cover_source import Source, source_of
from stockplan.domain.pieces import in_order
from stockplan.domain.stock import StockForm, StockItem, SupplyForm, SupplyOption
from stockplan.report.cover_json import cover_to_json
from stockplan.report.cover_text import TURNED, answer_line, cover_text, miss_line, verdict

TODAY = date(2026, 11, 26)
THURSDAY = TODAY + timedelta(days=7)
SCHEMA = published("cover")
VALIDATOR = validator(SCHEMA)
CUTS = SupplyOption("G30", "Ashcombe", SupplyForm.CUT_LENGTH, 4000, 6000, 5000, 2)
JOBS = {"J204": PromisedJob(THURSDAY), "J205": PromisedJob(THURSDAY)}
HELD = Promise(quote="Q-7", until=THURSDAY)


def lying(tag: str, width: int, length: int, batch: str = "B1", bay: str = "C3") -> Source:
    return source_of(StockItem(tag, "G30", batch, StockForm.OFFCUT, width, length, bay, 1000), 4000)


def reserved(source: Source, *pieces: tuple[str, tuple[int, int]]) -> Load:
    return Load(source, 3, tuple(LoadDrop(one[1][1], (LoadLane(one[1][0], (one,)),)) for one in pieces))


def answered(*pieces: tuple[int, int], lay_on: date | None = None, **offer: Any) -> Coverage:
    given = {"free": (), "supply": (), "widest_mm": {"G30": 4000}, **offer}
    return cover(Question(in_order(pieces), ("G30",), TODAY, lay_on), Offer(**given))


def everything() -> Coverage:
    """A seam, a rest, two promised things, a purchase in time and misses, one of which would fit turned."""
    return answered(
        (3100, 1800),
        free=[lying("K-1", 1600, 1800), lying("K-2", 1600, 1900), lying("T-1", 1900, 3200, "B2")],
        rests=[lying("R-7", 4000, 3000)],
        held=[(lying("K-5", 3200, 2000), HELD)],
        loads=[reserved(lying("R-1", 4000, 5000), ("J204", (4000, 4000)))],
        jobs=JOBS,
        supply=[CUTS],
        lay_on=THURSDAY,
    )  # fmt: skip


def test_json_fits_the_schema_which_is_valid_itself() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    for coverage in (everything(), answered((3100, 1800))):
        VALIDATOR.validate(json.loads(cover_to_json(coverage, "GBP")))


def test_the_schema_states_every_key() -> None:
    document = json.loads(cover_to_json(everything(), "GBP", held=("K-1",)))
    assert {answer["ready"] for answer in document["answers"]} == {"free", "rest", "promised", "buy"}
    validator(closed(SCHEMA)).validate(document)


@pytest.mark.parametrize(
    "change",
    [
        lambda document: document.update(version=2),
        lambda document: document["answers"][0].update(ready="soon"),
        lambda document: document["answers"][0].update(takes=[]),
        lambda document: document["misses"][0].update(lacks_across_mm=-1),
        lambda document: document["question"].pop("lay_on"),
    ],
)
def test_a_broken_document_fails_the_schema(change: Any) -> None:
    document = json.loads(cover_to_json(everything(), "GBP"))
    change(document)
    assert not VALIDATOR.is_valid(document)


def test_costs_add_up_in_the_document() -> None:
    for answer in json.loads(cover_to_json(everything(), "GBP"))["answers"]:
        freeing = (answer["freeing"] or {}).get("cost") or 0
        assert answer["cost"] == pytest.approx(answer["grass_cost"] + answer["seam_cost"] + freeing)
        assert answer["grass_cost"] == pytest.approx(sum(take["cost"] for take in answer["takes"]))


def test_free_is_said_with_tag_and_bay() -> None:
    # 13.76 m² at 10.00 × 0.61 × 0.88667 are worth 74.42, 8.00 m² × 0.61 × 0.76667 are worth 37.41; a crosscut and a rip
    found = answered((3100, 1800), free=[lying("K-112", 3200, 4300)])
    assert verdict(found) == "Yes: K-112 in bay C3 covers it and is free."
    assert answer_line(found.answers[0]) == (
        "K-112, bay C3, batch B1: offcut 3.20 × 4.30; crosscut at 1.80, rip at 3.10; leaves 3.20 × 2.50; costs 42.01"
    )


def test_cuts_are_told_lane_by_lane() -> None:
    found = answered((1200, 2000), (900, 2200), (900, 2200), free=[lying("C-105", 2100, 5000)])
    line = answer_line(found.answers[0])
    assert "rip at 1.20, cut lane 1 at 2.00, cut lane 2 at 2.20 and 4.40; leaves 1.20 × 3.00; " in line
    exact = answered((3200, 1800), free=[lying("K-1", 3200, 1800)])
    assert "no cut: it is the size itself; nothing left worth keeping; " in answer_line(exact.answers[0])


def test_every_sort_of_answer_has_its_heading_and_its_number() -> None:
    text = cover_text(everything(), "GBP")
    headings = ("Free now", "Left over once a plan is cut", "Promised, and what freeing", "To buy", "Nearest misses")
    assert [heading for heading in headings if heading not in text] == []
    assert [f"\n {number}. " in text for number in range(1, 6)] == [True] * 5


def test_a_seam_is_told_with_its_length_and_cost() -> None:
    found = everything()
    assert verdict(found).endswith("with a seam of 1.80 m along the pile.")
    assert "one seam of 1.80 m along the pile, 10.80" in answer_line(found.of(Ready.FREE)[0])


def test_freeing_names_plan_job_day_and_replacement() -> None:
    """Planned: the offcut at 0.9 of 200.00 less 1 m at 0.75 and a crosscut; instead 4 m at 50.00 a metre."""
    line = next(answer_line(one) for one in everything().of(Ready.PROMISED) if one.freeing and one.freeing.promise.plan)
    assert "reserved by plan 3 for J204 (Thu 3 Dec); instead J204 from cut length 4.00 × 4.00 from Ashcombe" in line
    assert "which makes it 48.00 dearer than planned; costs " in line
    assert line.endswith(" in all")


def test_a_job_that_gets_cheaper_and_a_cost_that_is_not_proven_are_said_to_be() -> None:
    planned = reserved(lying("R-1", 4000, 5000), ("J204", (4000, 4000)))
    found = answered((4000, 4500), loads=[planned], jobs=JOBS, free=[lying("K-1", 4000, 4000)])
    (answer,) = found.of(Ready.PROMISED)
    assert answer.freeing is not None
    assert "J204 from K-1 in bay C3, which makes it 8.00 cheaper than planned; costs" in answer_line(answer)
    unproven = replace(answer, freeing=replace(answer.freeing, proven=False))
    assert "makes it at least 8.00 cheaper than planned; costs at most" in answer_line(unproven)
    said = verdict(replace(found, answers=(unproven,)))
    assert said.startswith("Not from what is free. Cheapest is to free R-1 in bay C3; that costs at most")
    saving = replace(unproven, freeing=replace(answer.freeing, cost_pence=-100_000, proven=False))
    assert answer_line(saving).endswith(f"saves at least {-saving.cost_pence / 100:.2f} in all")


def test_a_promised_thing_is_not_said_to_be_all_there_is_where_grass_is_sold_as_well() -> None:
    planned = reserved(lying("R-1", 4000, 5000), ("J204", (2000, 4000)))
    found = answered((1900, 1800), loads=[planned], jobs=JOBS, supply=[CUTS])
    assert found.of(Ready.BUY)
    assert verdict(found).startswith("Not from what is free. Cheapest is R-1 in bay C3: promised, but gives this too")
    (answer,) = found.of(Ready.PROMISED)
    assert answer.freeing is not None
    unknown = replace(answer, freeing=replace(answer.freeing, cost_pence=None))
    said = verdict(replace(found, answers=(unknown,)))
    assert said.startswith("Nothing else covers it in time but what is promised: R-1 in bay C3; what freeing costs")


def test_what_is_still_cut_from_it_is_told_with_how_it_is_cut_for_all() -> None:
    planned = reserved(lying("R-1", 4000, 7000), ("J204", (4000, 4000)), ("J205", (4000, 2000)))
    found = answered((4000, 3000), loads=[planned], jobs=JOBS, free=[lying("K-1", 4000, 2000)])
    (answer,) = found.of(Ready.PROMISED)
    assert "of the 4.00 × 3.00 left beside those of the plan's cuts that stay: no cut: it is" in answer_line(answer)
    assert "instead J204 still from it, J205 from K-1 in bay C3; costs" in answer_line(answer)
    VALIDATOR.validate(json.loads(cover_to_json(found, "GBP")))


def test_a_piece_that_comes_to_what_is_freed_is_told_with_how_it_is_cut_for_all() -> None:
    """R-1 gives what R-2 was to give beside the question, so that R-2 is given back and nothing is wasted beside it."""
    planned = reserved(lying("R-1", 4000, 7000), ("J204", (4000, 4000)))
    beside = reserved(lying("R-2", 4000, 6000), ("J204", (1000, 3000)))
    found = answered((3000, 3000), loads=[planned, beside], jobs=JOBS)
    answer = next(one for one in found.of(Ready.PROMISED) if one.takes[0].source.key == "R-1")
    line = answer_line(answer)
    assert "of the 4.00 × 3.00 left beside those of the plan's cuts that stay: rip at 3.00; nothing left" in line
    assert "instead J204 still from it, J204 also from R-1 itself; " in line
    VALIDATOR.validate(json.loads(cover_to_json(found, "GBP")))


def test_a_hold_names_quote_and_last_day_and_claims_no_cost() -> None:
    line = next(
        answer_line(one) for one in everything().of(Ready.PROMISED) if one.freeing and one.freeing.promise.quote
    )
    assert "held for Q-7 until Thu 3 Dec 2026, then free; what that quote would need instead is not known" in line


def test_a_tag_with_a_comma_is_put_in_quotation_marks_and_the_lay_day_has_its_year() -> None:
    found = answered((3000, 1800), free=[lying("C-115, no arrow", 3100, 4000)], lay_on=date(2027, 1, 4))
    text = cover_text(found, "GBP")
    assert 'Yes: "C-115, no arrow" in bay C3 covers it' in text
    assert ' 1. "C-115, no arrow", bay C3, batch' in text
    assert "to be laid Mon 4 Jan 2027." in text


def test_misses_are_told_in_centimetres_and_direction() -> None:
    found = answered((3170, 1850), free=[lying("K-1", 3100, 1800), lying("T-1", 1900, 3200)])
    near, turned = map(miss_line, found.misses)
    assert near.endswith("G30 offcut 3.10 × 1.80, 7 cm short across the pile and 5 cm short along the pile")
    assert turned.endswith(f"127 cm short across the pile; {TURNED}")


def test_what_is_bought_is_said_with_day_and_price() -> None:
    assert verdict(answered((3100, 1800), supply=[CUTS])) == (
        "No, but it can be bought: cut length 4.00 × 1.80 from Ashcombe, here Sat 28 Nov, 90.00."
    )


def test_alike_purchases_are_said_once_with_how_many() -> None:
    found = answered((4000, 5000), (4000, 5000), supply=[CUTS])
    twice = "2 times, each cut length 4.00 × 5.00 from Ashcombe, here Sat 28 Nov, 250.00"
    assert verdict(found) == f"No, but it can be bought: {twice}."
    assert answer_line(found.answers[0]).startswith(f"{twice}; no cut")


def test_too_late_is_said() -> None:
    found = answered((3100, 1800), supply=[CUTS], lay_on=TODAY + timedelta(days=1))
    assert verdict(found) == "Not in time: the first that would do can be cut from Sat 28 Nov."
    assert "too late" in answer_line(found.answers[0])


def test_of_several_that_are_too_late_the_first_to_come_is_said() -> None:
    left = replace(lying("P1-1", 4000, 3000), from_day=THURSDAY)
    found = answered((3100, 1800), rests=[left], supply=[CUTS], lay_on=TODAY + timedelta(days=1))
    assert [answer.ready for answer in found.answers] == [Ready.REST, Ready.BUY]
    assert verdict(found) == "Not in time: the first that would do can be cut from Sat 28 Nov."


def test_what_is_left_of_grass_that_cost_nothing_is_kept_all_the_same() -> None:
    gift = source_of(StockItem("K-9", "G30", "B1", StockForm.OFFCUT, 4000, 3700, "C3", 0), 4000)
    (answer,) = answered((3100, 1800), free=[gift]).answers
    assert "leaves 4.00 × 1.90 and 0.90 × 1.80; costs 5.00" in answer_line(answer)
    small = source_of(StockItem("K-9", "G30", "B1", StockForm.OFFCUT, 3500, 2700, "C3", 0), 4000)
    assert "nothing left worth keeping" in answer_line(answered((3100, 1800), free=[small]).answers[0])


def test_a_plan_nobody_has_accepted_is_told_to_want_it() -> None:
    found = answered((3100, 1800), free=[lying("K-112", 3200, 4300)])
    found = replace(found, proposed=(Proposed("K-112", 2, ("J204", "J205")),))
    assert "Beware: plan 2, which nobody has accepted yet, would cut K-112 for J204 and J205." in cover_text(
        found, "GBP"
    )
    VALIDATOR.validate(json.loads(cover_to_json(found, "GBP")))


def test_nothing_is_said_plainly() -> None:
    assert verdict(answered((3100, 1800))).startswith("No: nothing in the yard")


def test_names_people_typed_cannot_move_the_cursor() -> None:
    found = answered((3100, 1800), free=[lying("K\x1b[2J", 3200, 4300, bay="\x07")])
    assert cover_text(found, "GBP").replace("\n", "").isprintable()
