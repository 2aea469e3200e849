"""Covering, holding and freeing as typed: on the phone, and after plans were accepted."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from builders import MONDAY, ROLL, small_request
from schemas import published, validator
from simple_planner import simple_plan
from typed_commands import WEEK, fill, run

from stockplan.actions.covering import Grass, ask_cover, hold_answer
from stockplan.domain.jobs import BatchRule, Job, Strip
from stockplan.domain.plan import Plan
from stockplan.domain.request import PlanRequest
from stockplan.domain.stock import Product, StockForm, StockItem, SupplyForm, SupplyOption
from stockplan.errors import StockplanError

TODAY = ("--today", "2026-11-23")
OFFCUT = StockItem("K-112", "G30", "B7", StockForm.OFFCUT, 3200, 2000, "C3", 1000)
NARROW = replace(OFFCUT, tag="K-113", width_mm=1700)
OTHER = replace(NARROW, tag="K-114", length_mm=2300)


def yard(*items: StockItem) -> PlanRequest:
    request = small_request()
    cut = SupplyOption("G30", "Ashcombe", SupplyForm.CUT_LENGTH, 4000, 15_000, 5000, 2)
    return replace(request, stock=(*request.stock, *items), supply=(*request.supply, cut))


def cover(*arguments: str) -> str:
    result = run("cover", *arguments)
    assert result.exit_code == 0, result.output
    return result.stdout


def answers(*arguments: str) -> list[dict[str, object]]:
    document = json.loads(cover(*arguments, "--json"))
    validator(published("cover")).validate(document)
    found: list[dict[str, object]] = document["answers"]
    return found


def test_a_free_offcut_is_named_first(store: Path) -> None:
    fill(store, yard(OFFCUT))
    assert "Yes: K-112 in bay C3 covers it and is free." in cover("3.1x1.8", "--product", "G30", *TODAY)
    assert "Yes: K-112" in cover("3.1x1.8", "--family", "g3", *TODAY)


def test_what_is_held_and_nearly_covers_it_is_among_the_nearest_misses(store: Path) -> None:
    fill(store, yard(OFFCUT))
    assert run("cover", "3.1x1.8", *TODAY, "--hold", "Q-7", "--until", "2099-12-12").exit_code == 0
    told = cover("3.1x60", *TODAY)
    assert "K-112 in bay C3, batch B7: G30 offcut 3.20 × 2.00, promised, 5800 cm short along the pile" in told


def test_a_hold_keeps_it_until_its_last_day_and_frees_itself(store: Path) -> None:
    fill(store, yard(OFFCUT))
    held = run("cover", "3.1x1.8", *TODAY, "--hold", "Q-7", "--until", "2099-12-12")
    assert held.exit_code == 0, held.output
    assert "Held K-112 (1 thing) for Q-7 up to and including 2099-12-12." in held.stderr
    within = cover("3.1x1.8", "--today", "2099-12-12")
    assert "Yes: K-112" not in within
    assert "held for Q-7 until Sat 12 Dec 2099, then free" in within
    assert "Yes: K-112" in cover("3.1x1.8", "--today", "2099-12-13")


def test_what_is_held_stays_out_of_plans_and_is_asked_for_no_more_after(
    store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[PlanRequest] = []

    def planner(request: PlanRequest, *others: object) -> object:
        asked.append(request)
        return simple_plan(request, *others)

    monkeypatch.setattr("stockplan.cutting.plan_cuts", planner, raising=False)
    later = replace(yard(OFFCUT), jobs=tuple(replace(job, lay_on=date(2100, 1, 4)) for job in yard().jobs))
    fill(store, later)
    cover("3.1x1.8", *TODAY, "--hold", "Q-7", "--until", "2099-12-31")
    run("plan", "--from", "2100-01-04", "--to", "2100-01-08", "--today", "2099-12-31")
    assert [item.tag for item in asked[-1].held] == ["K-112"]
    assert "K-112" not in [item.tag for item in asked[-1].stock]
    run("plan", "--from", "2100-01-04", "--to", "2100-01-08", "--today", "2100-01-01")
    assert not asked[-1].held
    assert "K-112" in [item.tag for item in asked[-1].stock]


def test_a_plan_says_for_whom_the_thing_it_wanted_is_held(store: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def wishful(request: PlanRequest, *others: Any) -> Plan:
        plan = simple_plan(request, *others)
        tags = tuple(item.tag for item in request.held)
        return replace(plan, products=tuple(replace(one, held_wanted=tags) for one in plan.products))

    monkeypatch.setattr("stockplan.cutting.plan_cuts", wishful, raising=False)
    fill(store, yard(OFFCUT))
    cover("3.1x1.8", *TODAY, "--hold", "Q-7", "--until", "2099-12-12")
    made = run("plan", *WEEK)
    assert "G30: would have taken held K-112 (quote Q-7, until Sat 12 Dec 2099)" in made.output
    assert "G30: would have taken, were it not held for a quote: K-112." in made.stdout


def test_both_sides_of_a_seam_are_held_or_neither(store: Path) -> None:
    fill(store, replace(yard(NARROW, OTHER), stock=(NARROW, OTHER)))
    cover("3.1x1.8", *TODAY, "--hold", "Q-7", "--until", "2099-12-12")
    stock = json.loads(run("stock", "--json").stdout)
    assert {item["tag"]: item.get("held_for") or item.get("quote") for item in stock["items"]} == {
        "K-113": "Q-7",
        "K-114": "Q-7",
    }


def test_only_what_lies_free_can_be_held(store: Path) -> None:
    fill(store, replace(yard(), stock=()))
    refused = run("cover", "3.1x1.8", *TODAY, "--hold", "Q-7", "--until", "2099-12-12")
    assert refused.exit_code == 1
    assert "cannot be held: only what lies free in the yard can be" in refused.stderr
    assert run("cover", "3.1x1.8", *TODAY, "--hold", "Q-7").exit_code == 2


def test_what_is_still_on_its_way_cannot_be_held(store: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("stockplan.cutting.plan_cuts", simple_plan, raising=False)
    fill(store, replace(yard(), stock=()))
    for command in (("plan", *WEEK), ("accept", *TODAY), ("order", "P1-1", *TODAY), ("withdraw", "1")):
        assert run(*command).exit_code == 0
    assert answers("4x3", *TODAY)[0]["ready"] == "free"
    refused = run("cover", "4x3", *TODAY, "--hold", "Q-7", "--until", "2099-12-12")
    assert refused.exit_code == 1
    assert "answer 1 cannot be held: P1-1 is on its way, due on 2026-11-29; hold it once it has come" in refused.stderr


def test_an_accepted_plan_turns_free_into_reserved_and_leaves_rests(
    store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("stockplan.cutting.plan_cuts", simple_plan, raising=False)
    fill(store, replace(yard(), stock=(ROLL,)))
    run("plan", *WEEK)
    assert "Beware: plan 1, which nobody has accepted yet, would cut R-1 for J1." in cover("4x3", *TODAY)
    accepted = run("accept", *TODAY)
    assert "Beware" not in cover("4x3", *TODAY)
    assert accepted.exit_code == 0, accepted.output
    found = answers("4x3", *TODAY)
    rest = next(answer for answer in found if answer["ready"] == "rest")
    assert not [answer for answer in found if answer["ready"] == "free"]
    assert rest["from"] == "2026-11-30"
    sooner = answers("4x3", *TODAY, "--lay-on", "2026-11-26")
    promised = next(answer for answer in sooner if answer["ready"] == "promised")
    freeing = promised["freeing"]
    assert isinstance(freeing, dict)
    assert freeing["plan"] == 1
    assert [job["job"] for job in freeing["jobs"]] == ["J1"]
    assert (freeing["replacement"], freeing["stays"]) == ([], ["J1"])
    assert [one["source"] for one in freeing["together"]] == ["R-1"]
    assert "J1 (Mon 30 Nov); still gives that" in str(promised["line"])
    told = cover("4x3", *TODAY, "--lay-on", "2026-11-26")
    assert "Cheapest is R-1 in bay north: promised, but gives this too if it is cut otherwise than planned" in told


def test_freeing_gives_back_what_its_job_was_to_get_from_things_too_small_for_the_question(
    store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """J1 moves to 7 and 2.5 m bought at 50.05 a metre and not cut; P-1 and P-2, 288.00 and 108.00, are whole again.

    Planned were 288.00 less 30.00 for 1 m, and 108.00 less nothing for 0.5 m, with a crosscut each.
    """
    stock = [StockItem(f"P-{place}", "G30", "B7", StockForm.PART_ROLL, 4000, length, "F1", 1000)
             for place, length in ((1, 8000), (2, 3000))]  # fmt: skip
    monkeypatch.setattr("stockplan.cutting.plan_cuts", simple_plan, raising=False)
    job = Job("J1", "", "G30", MONDAY, "", BatchRule.ONE, (Strip("A", 4000, 7000), Strip("B", 4000, 2500)))
    fill(store, small_request(job, stock=stock))
    run("plan", *WEEK)
    assert run("accept", *TODAY).exit_code == 0
    (promised,) = (answer for answer in answers("4x8", *TODAY) if answer["ready"] == "promised")
    assert promised["cost"] == pytest.approx(288 + 475.48 - (288 - 30 + 2) - (108 + 2))
    assert promised["freeing"]["proven"]  # type: ignore[index]


def test_sizes_grass_and_dates_that_cannot_be_are_refused(store: Path) -> None:
    request = yard()
    fill(store, replace(request, products=(*request.products, Product("G40", "forty millimetres", 2800))))
    for arguments, words in (
        (("31x18", "--product", "G30"), "31.00 m across; would be 0.10 to 6 m across the pile"),
        (("7.5x3", "--product", "G30"), "such as 3.1x1.8; what is wider is laid in strips: --lawn '7.5x3'"),
        (("3.1", "--product", "G30"), "write across x along in metres"),
        (("3.1x1.8",), "which grass? name it with --product"),
        (("3.1x1.8", "--product", "G3"), "the store knows no product G3; it knows: G30, G40"),
        (("3.1x1.8", "--product", "G30", *TODAY, "--lay-on", "2026-11-22"), "laid on 2026-11-22, before the day of"),
        (("3.1x1.8", "--family", "sisal"), "no product has 'sisal' in its code or description"),
        (("--lawn", "3.1 x 1.8", "--any-product"), "a lawn is laid out for one grass; name one of G30, G40 with"),
    ):
        refused = run("cover", *arguments)
        assert refused.exit_code == 1, arguments
        assert words in refused.stderr


def test_everything_that_is_wrong_with_a_question_is_told_at_once(store: Path) -> None:
    request = yard()
    fill(store, replace(request, products=(*request.products, Product("G40", "forty millimetres", 2800))))
    late = (*TODAY, "--lay-on", "2026-11-22", "--product", "G3")
    refused = run("cover", "axb", "0x0", "3,1x1,8", *late, "--family", "sisal", "--any-product")
    assert refused.exit_code == 1
    for words in (
        "size 'axb': length 'a' cannot be read",
        "size 'axb': length 'b' cannot be read",
        "size '0x0' is 0.00 m across",
        "size '0x0' is 0.00 m along",
        "'3,1' has a decimal comma; write 3.1",
        "'1,8' has a decimal comma; write 1.8",
        "laid on 2026-11-22, before the day of asking",
        "the store knows no product G3",
        "no product has 'sisal' in its code or description",
    ):
        assert refused.stderr.count(words) == 1, words
    lawn = run("cover", "--lawn", "3x", *late).stderr
    assert [words in lawn for words in ("a side missing", "before the day", "no product G3")] == [True] * 3
    quoted = run("quote", "axb", *late, "--from", "2026-12-09", "--to", "2026-12-01", "--price", "x").stderr
    for words in ("length 'a'", "length 'b'", "before the day", "end before they begin", "no product G3", "amount 'x'"):
        assert words in quoted


def test_what_is_left_of_an_order_is_there_no_sooner_than_it_comes(
    store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("stockplan.cutting.plan_cuts", simple_plan, raising=False)
    fill(store, replace(yard(), stock=()))
    run("plan", *WEEK)
    run("accept", *TODAY)

    def there() -> object:
        found = answers("4x1", *TODAY, "--lay-on", "2026-12-10")
        return next(answer["from"] for answer in found if answer["ready"] == "rest")

    assert there() == "2026-11-30", "when its job is laid"
    assert run("order", "P1-1", "--promised", "2026-12-03", *TODAY).exit_code == 0
    assert there() == "2026-12-03"


def test_a_command_to_copy_has_the_tag_in_quotation_marks(store: Path) -> None:
    fill(store, yard(replace(OFFCUT, tag="C-115, no arrow")))
    refused = run("free", "C-115, no arrow")
    assert refused.exit_code == 1
    assert refused.stderr.endswith("stockplan history 'C-115, no arrow'\n")


def test_blanks_around_the_x_are_read_and_an_unknown_family_is_never_passed_over(store: Path) -> None:
    fill(store, yard(OFFCUT))
    apart = answers("3.1m", "x", "1.8m", "0.9", "x", "1", "--product", "G30", *TODAY)
    assert apart == answers("3.1x1.8", "0.9x1", "--product", "G30", *TODAY)
    for family in ("sisal", " "):
        assert run("cover", "3.1x1.8", "--family", family, "--any-product", *TODAY).exit_code == 1


@pytest.mark.parametrize("command", ["cover", "quote"])
def test_neither_sizes_nor_a_lawn_or_both_is_wrong_usage(store: Path, command: str) -> None:
    fill(store, yard(OFFCUT))
    assert run(command, *TODAY).exit_code == 2
    assert run(command, "3x2", "--lawn", "3 x 2", *TODAY).exit_code == 2


def test_a_lawn_is_laid_out_first(store: Path) -> None:
    fill(store, yard(OFFCUT))
    told = cover("--lawn", "3.0 x 1.7", "--product", "G30", *TODAY)
    assert "Laid out first; sizes as cut, across × along the pile, allowances for trimming in:" in told
    assert "Yes: " in told
    assert "A: 3.10 × 1.90 in one piece; pile along its 1.70 m, either way" in told
    wide = json.loads(cover("--lawn", "7 x 4", "--product", "G30", *TODAY, "--json"))
    validator(published("cover")).validate(wide)
    assert "in 2 strips, one seam of" in wide["note"]
    seamed = wide["answers"][0]
    assert seamed["laid"]["seams"] == 1
    assert seamed["cost"] == pytest.approx(seamed["grass_cost"] + seamed["laid"]["seam_cost"])
    assert sum(size["count"] for size in wide["question"]["sizes"]) >= 2


TWO_LAWNS = """{"type": "FeatureCollection", "features": [
{"type": "Feature", "properties": {}, "geometry": {"type": "Polygon",
 "coordinates": [[[0, 0], [3, 0], [3, 2], [0, 2], [0, 0]]]}},
{"type": "Feature", "properties": {}, "geometry": {"type": "Polygon",
 "coordinates": [[[5, 0], [7.5, 0], [7.5, 1.5], [5, 1.5], [5, 0]]]}}]}"""


@pytest.mark.parametrize("command", ["cover", "quote"])
def test_lawns_of_one_file_that_have_no_names_are_told_apart(store: Path, tmp_path: Path, command: str) -> None:
    fill(store, yard(OFFCUT))
    drawn = tmp_path / "two.geojson"
    drawn.write_text(TWO_LAWNS)
    asked = (command, "--lawn", str(drawn), "--product", "G30", *TODAY)
    result = run(*asked, *(("--seconds", "0.5") if command == "quote" else ()))
    assert result.exit_code == 0, result.stderr
    assert ("2 lawns of 9.8 m² together" in result.stdout) == (command == "quote")
    assert ("in 2 strips without a seam" in result.stdout) == (command == "cover")


@pytest.mark.parametrize("command", ["cover", "quote"])
def test_a_pile_that_no_side_of_the_lawn_can_give_is_refused(store: Path, command: str) -> None:
    fill(store, yard(OFFCUT))
    refused = run(command, "--lawn", "units m; pile towards shed; rectangle 3 x 2", "--product", "G30", *TODAY)
    assert refused.exit_code == 1
    assert "pile 'towards shed', but no edge is called 'shed'; no edge has a name" in refused.stderr


@pytest.mark.parametrize("command", ["cover", "quote"])
def test_a_lawn_that_no_layout_suits_is_told_with_the_sides_that_bear_no_seam(store: Path, command: str) -> None:
    fill(store, yard(OFFCUT))
    notes = "units m; pile towards door; walk; 9 left door, no seam; 3 left; 9 left path, no seam; 3"
    refused = run(command, "--lawn", notes, "--product", "G30", *TODAY)
    assert refused.exit_code == 1
    assert "keeps the firm's rules with no seam at door, path; see: stockplan settings" in refused.stderr


def test_what_is_not_seen_together_with_a_lawn_is_no_matter_where_it_is_not_asked_about(store: Path) -> None:
    fill(store, yard(OFFCUT))
    alone = cover("--lawn", "units m; rectangle 3 x 2", "--product", "G30", *TODAY)
    assert cover("--lawn", "units m; rectangle 3 x 2; unseen from front", "--product", "G30", *TODAY) == alone


def test_a_narrow_strip_is_pointed_out_by_the_firms_own_setting(store: Path) -> None:
    fill(store, yard(OFFCUT))
    asked = ("--lawn", "5.5 x 5.2", "--product", "G30", *TODAY)
    assert "NARROW" not in cover(*asked)
    assert run("settings", "warn_narrow_mm", "2000").exit_code == 0
    assert re.search(r"in 2 strips, one seam of .*; NARROW: one strip covers only 1\.\d+ m\n", cover(*asked))
    assert "NARROW" not in cover("--lawn", "3.0 x 1.7", "--product", "G30", *TODAY)


@pytest.mark.parametrize("command", ["cover", "quote"])
def test_a_very_large_lawn_is_asked_about_again_and_a_file_must_be_there(store: Path, command: str) -> None:
    fill(store, yard(OFFCUT))
    large = (command, "--lawn", "24 x 22", "--product", "G30", *TODAY)
    refused = run(*large)
    assert refused.exit_code == 1
    assert "528.0 m², more than 500 m²; read as feet it would be 49.1 m²" in refused.stderr
    taken = run(*large, "--large-is-right", *(("--seconds", "0.2") if command == "quote" else ()))
    assert taken.exit_code == 0, taken.output
    missing = run(command, "--lawn", "back.txt", "--product", "G30", *TODAY)
    assert missing.exit_code == 1
    assert "back.txt: there is no such file" in missing.stderr


def test_asking_writes_nothing(store: Path) -> None:
    fill(store, yard(OFFCUT))
    before = store.read_bytes()
    cover("3.1x1.8", *TODAY)
    assert store.read_bytes() == before


def test_late_purchases_are_told_as_late(store: Path) -> None:
    fill(store, replace(yard(), stock=()))
    found = answers("3.1x1.8", *TODAY, "--lay-on", date(2026, 11, 25).isoformat())
    assert [answer["in_time"] for answer in found] == [False] * len(found)
    assert found


def test_what_was_measured_again_a_moment_ago_is_not_held_for_what_it_no_longer_covers(store: Path) -> None:
    fill(store, yard(OFFCUT))
    found = ask_cover(None, ((3100, 1800),), Grass(), date(2026, 11, 23)).coverage
    assert run("measure", "K-112", "3.00x1.00", "--as-typed").exit_code == 0
    with pytest.raises(StockplanError, match="K-112 was taken, reserved or measured again a moment ago; ask again"):
        hold_answer(None, found, "Q-7", date(2099, 12, 12))


def test_what_somebody_else_took_a_moment_ago_is_not_held_twice(store: Path) -> None:
    fill(store, yard(OFFCUT))
    first = ask_cover(None, ((3100, 1800),), Grass(), date(2026, 11, 23)).coverage
    hold_answer(None, first, "Q-7", date(2099, 12, 12))
    with pytest.raises(StockplanError, match="held for Q-7 until 2099-12-12"):
        hold_answer(None, first, "Q-8", date(2099, 12, 12))
    assert run("write-off", "K-112", "--why", "lost").exit_code == 0
    with pytest.raises(StockplanError, match="K-112 was taken, reserved or measured again a moment ago"):
        hold_answer(None, first, "Q-8", date(2099, 12, 12))
    with pytest.raises(StockplanError, match=r"that day has passed, found 2020-01-02.*\nthere is no answer 9"):
        hold_answer(None, first, "Q-8", date(2020, 1, 2), 9)
    with pytest.raises(StockplanError, match="there is no answer 9"):
        hold_answer(None, first, "Q-8", date(2099, 12, 12), 9)
