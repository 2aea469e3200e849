"""The sheet of one roll as a yard hand reads it."""

from __future__ import annotations

from dataclasses import replace

from builders import JOB, OTHER_ROLL, ROLL, build, read_cuts, small_request

from stockplan.domain.refit import refit
from stockplan.domain.standing import Standing
from stockplan.report.cut_sheet import SheetFacts, cut_sheet, leftover_list, missing_words
from stockplan.report.handling import CAUTIONS

REQUEST = small_request()
FACTS = SheetFacts((JOB,), 2500)


def of(**changes: object) -> Standing:
    item = replace(ROLL, **changes)  # type: ignore[arg-type]
    request = small_request(stock=(ROLL, OTHER_ROLL))
    planned = build(request, {"R-1": read_cuts(request, "3000: J1.A1", "2000: J1.B1 | J1.B2")}).plan.products[0].cuts[0]
    fitted = refit(planned, item, 4000)
    return Standing(7, "R-1", item, fitted.cuts, fitted.leftovers, fitted.lost)


def test_sheet_names_the_thing_its_place_its_weight_its_jobs_and_its_plan() -> None:
    head = cut_sheet(of(), FACTS).split("\n\n")[0]
    # 40 m² of 2.5 kg and 5 % for core and wrap
    assert head.splitlines() == [
        "R-1: roll 4.00 × 10.00 m of G30",
        "  batch B7, bay north",
        "  about 105 kg; too heavy for hands: use plant",
        "  for J1 (Mon 30 Nov), by plan 7",
        "  Left: as you stand at the cut end and look along the pile.",
    ]
    plain = small_request()
    cuts = build(plain, {"R-1": read_cuts(plain, "3000: J1.A1")}).plan.products[0].cuts[0]
    assert "Left:" not in cut_sheet(replace(of(), cuts=cuts, leftovers=()), FACTS)  # nothing is measured from it
    assert "bay not recorded" in cut_sheet(of(bay=""), FACTS)
    assert "batch unknown (R-1)" in cut_sheet(of(batch=""), FACTS)


def test_every_piece_and_leftover_has_its_weight_and_leftovers_their_numbers() -> None:
    text = "\n".join(" ".join(line.split()) for line in cut_sheet(of(), FACTS).splitlines())
    assert "J1 A 4.00 × 3.00 about 32 kg 2 people at least, or plant" in text
    assert "J1 B (2) 1.50 × 2.00 about 8 kg" in text
    assert leftover_list(of(), 2500).splitlines()[1:] == [
        "  1  keep as offcut 1.00 × 2.00     about 6 kg",
        "  2  keep as part roll 4.00 × 5.00  about 53 kg  use plant",
    ]


def test_every_caution_goes_with_every_sheet() -> None:
    words = " ".join(cut_sheet(of(), FACTS).split())
    assert all(caution in words for caution in CAUTIONS)


def test_a_sheet_fits_a_page_and_loses_no_word_by_it() -> None:
    jobs = tuple(replace(JOB, code=f"J{number}") for number in range(1, 30))
    request = small_request(stock=(ROLL, OTHER_ROLL))
    cuts = build(request, {"R-1": read_cuts(request, "3000: J1.A1", "2000: J1.B1 | J1.B2")}).plan.products[0].cuts[0]
    fitted = refit(cuts, ROLL, 4000)
    standing = Standing(7, "R-1", ROLL, fitted.cuts, fitted.leftovers, fitted.lost)
    text = cut_sheet(standing, SheetFacts(jobs, 2500, ("J1: " + "wants one batch and more " * 9,)))
    assert max(map(len, text.splitlines())) <= 80
    lines = text.splitlines()
    second = next(index for index, line in enumerate(lines) if line.startswith("   2  "))
    assert lines[second].startswith("   2  crosscut 2.00 from the cut end (5.00 from    keep as offcut 1.00 × 2.00")
    assert lines[second + 1 : second + 3] == ["      the start); rip 1.50 | 1.50 | 1.00 from the", "      left"]
    words = " ".join(text.split())
    assert "J28 (Mon 30 Nov), J29 (Mon 30 Nov), by plan 7 CAREFUL: J1: wants one batch and more wants" in words


def test_no_name_is_torn_at_its_hyphens() -> None:
    job = replace(JOB, code="AB-CD-EF-GH")
    request = small_request(job)
    cuts = build(request, {"R-1": read_cuts(request, f"2000: {job.code}.B1 | {job.code}.B2")}).plan.products[0].cuts[0]
    lane = cuts.drops[0].lanes[0]
    wide = replace(lane, width_mm=1600, pieces=(lane.pieces[0], replace(lane.pieces[0], width_mm=1400, number=2)))
    one = replace(of(), cuts=replace(cuts, drops=(replace(cuts.drops[0], lanes=(wide,)),)), leftovers=())
    text = cut_sheet(one, SheetFacts((job,), 2500))
    assert "   2  lane 1: crosscut 2.00 | 2.00, trim         AB-CD-EF-GH B (1)  1.50 × 2.00\n" in text
    assert "      AB-CD-EF-GH B (1) to 1.50 and AB-CD-EF-GH " in text


def test_cuts_that_no_longer_fit_are_not_on_it() -> None:
    text = cut_sheet(of(length_mm=4500), FACTS)
    assert "J1 A" in text
    assert "J1 B" not in text


def test_nothing_left_over_has_no_list() -> None:
    assert leftover_list(replace(of(), leftovers=()), 2500) == ""


def test_warnings_stand_out_and_nothing_typed_moves_the_cursor() -> None:
    text = cut_sheet(of(bay="F1\x1b[2J"), replace(FACTS, warnings=("J1: wants one batch\nand more",)))
    assert "  CAREFUL: J1: wants one batch?and more" in text
    assert "\x1b" not in text


def test_what_a_job_lacks_in_words() -> None:
    assert missing_words("J1", {"A": 1, "B": 2}) == "J1 now lacks 1 piece of A and 2 pieces of B"
