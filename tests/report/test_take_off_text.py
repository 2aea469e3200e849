"""The take-off as it is printed."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date

import sample_lawns

from stockplan.domain.jobs import BatchRule, Job, Strip
from stockplan.domain.materials import TakeOffSettings
from stockplan.domain.surfaces import surfaces_of
from stockplan.domain.take_off import take_off, together
from stockplan.report.take_off import TakeOffSheet, take_off_json, take_off_text

USUAL = TakeOffSettings()
PLAIN, LAYOUT = sample_lawns.sample(sample_lawns.PLAIN)  # 6 × 10 m; one seam of 10 m
STRIPS = Job("J9", "2 Elm\x1b[31m", "K30", date(2026, 12, 2), "house", BatchRule.ONE, (Strip("A", 4000, 5000, 2),))


def sheet(*jobs: tuple[Job, int | None], settings: TakeOffSettings = USUAL) -> TakeOffSheet:
    rows = []
    for job, plan in jobs:
        layout = job.layouts[0] if job.layouts and plan else None
        rows.append((job, take_off(job.code, surfaces_of(job, layout), settings), plan))
    return TakeOffSheet(tuple(rows), together([one for _, one, _ in rows], settings), settings)


def words(text: str) -> list[str]:
    return [" ".join(line.split()) for line in text.splitlines()]


def test_a_job_without_a_site_has_no_gap_where_it_would_stand() -> None:
    nowhere = replace(PLAIN, site="")
    assert words(take_off_text(sheet((nowhere, 3))))[0] == "J301, Tue 1 Dec, K30: as laid out in plan 3"
    assert words(take_off_text(sheet((nowhere, None))))[0] == "J301, Tue 1 Dec, K30"


def test_a_lawn_laid_out_is_printed_whole() -> None:
    lines = words(take_off_text(sheet((PLAIN, 3))))
    assert lines[:10] == [
        "J301, Tue 1 Dec, K30: 5 Quince Court, back, as laid out in plan 3",
        "lawn 60.0 m², grass as cut 61.2 m², waste 2.0 %, seams 10.00 m, edges 32.00 m",
        "material needed to load",
        "joining tape 10.50 m 1 roll of 20.0 m",
        "adhesive 3.5 to 5.0 kg 1 tub of 5 kg",
        "edging 33.60 m 12 lengths of 3.0 m",
        "edge fixings 107 2 packs of 100",
        "infill sand 360 to 480 kg 15 to 20 bags of 25 kg",
        "fine stone 4,080 kg 5 bulk bags of 850 kg",
        "membrane 37.20 m 1 roll of 2.0 × 50.0 m",
    ]


def test_cautions_for_silica_lifting_adhesive_and_knives_always_stand_below() -> None:
    text = " ".join(words(take_off_text(sheet((STRIPS, None)))))
    for part in ("Silica: ", "0.1 mg/m³", "no dry sweeping", "Lifting: ", "Adhesive: ", "isocyanates", "Knives: "):
        assert part in text
    assert "Guidance, not clearance" in text
    assert "local codes" in text
    assert "licence" in text
    assert "no standard" in text
    assert "a bag of sand of 25 kg is not for one person" in text
    light = " ".join(words(take_off_text(sheet((STRIPS, None), settings=replace(USUAL, sand_bag_g=15_000)))))
    assert "a bag of sand weighs 15 kg" in light


def test_what_is_not_known_is_said_and_not_printed_as_nothing() -> None:
    lines = words(take_off_text(sheet((STRIPS, None))))
    assert lines[0] == "J9, Wed 2 Dec, K30: 2 Elm?[31m"
    assert lines[1] == "grass as cut 40.0 m², seams 5.00 m"
    assert not any(line.startswith(("edging", "membrane", "edge fixings")) for line in lines)
    assert any(line.startswith("J9: given as strips alone") for line in lines)


def test_jobs_together_say_that_something_is_missing_and_once_for_whom() -> None:
    lines = words(
        take_off_text(
            sheet((PLAIN, 3), (STRIPS, None), (replace(STRIPS, code="J10", strips=(Strip("A", 4000, 5000),)), None))
        )
    )
    at = lines.index("Together, 3 jobs; what is not known of some is not in it")
    assert "joining tape 15.75 m 1 roll of 20.0 m" in lines[at:]
    assert "infill sand 720 to 960 kg 29 to 39 bags of 25 kg" in lines[at:]
    (told,) = [line for line in lines if "given as strips alone" in line]
    assert told.startswith("J9, J10: ")
    whole = words(take_off_text(sheet((PLAIN, 3), (replace(PLAIN, code="J302"), 3))))
    assert "Together, 2 jobs" in whole


def test_json_has_whole_numbers_and_null_for_what_is_not_known() -> None:
    document = json.loads(take_off_json(sheet((PLAIN, 3), (STRIPS, None))))
    assert (document["format"], document["version"]) == ("stockplan-take-off", 1)
    first, second = document["jobs"]
    assert (first["job"], first["plan"], first["lawn_mm2"], first["seam_mm"]) == ("J301", 3, 60_000_000, 10_000)
    assert first["waste_percent"] == 1.96
    assert (second["plan"], second["lawn_mm2"], second["waste_percent"], second["edge_mm"]) == (None,) * 4
    assert [need["material"] for need in first["needs"]][:2] == ["joining tape", "adhesive"]
    sand = next(need for need in document["together"] if need["material"] == "infill sand")
    assert sand == {
        "material": "infill sand",
        "unit": "g",
        "least": 600_000,
        "most": 800_000,
        "pack": 25_000,
        "packs_least": 24,
        "packs_most": 32,
    }
    assert any("silica" in caution.casefold() for caution in document["cautions"])
