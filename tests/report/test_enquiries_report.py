"""Which enquiries the offcuts cover, in words and as JSON against the published schema."""

from __future__ import annotations

import json

import jsonschema
import pytest
from schemas import closed, published, validator

from stockplan.cutting.matching import match
from stockplan.domain.cover_answers import nearest_misses
from stockplan.domain.cover_search import Desk
from stockplan.domain.cover_source import source_of
from stockplan.domain.enquiries import Pairings, SmallEnquiry
from stockplan.domain.request import CostSettings
from stockplan.domain.stock import StockForm, StockItem
from stockplan.report.enquiries_text import enquiries_text, enquiries_to_json

OFFCUTS = [source_of(StockItem("K-1", "G30", "B1", StockForm.OFFCUT, 2000, 3000, "C3", 1000), 4000)]
ENQUIRIES = (
    SmallEnquiry("balcony", "G30", ((2000, 1500),), 9000),
    SmallEnquiry("kennel", "G30", ((1900, 1500),), 8000),
    SmallEnquiry("shed", "G30", ((1900, 1400),), 7000),
    SmallEnquiry("long", "G30", ((1000, 3500),), 7000),
    SmallEnquiry("unsold", "G30", ((1000, 1000),), None),
)


@pytest.fixture(scope="module")
def parts() -> tuple[object, ...]:
    desks = {"G30": Desk(4000, CostSettings())}
    matched = match(Pairings(ENQUIRIES, [one.worth_pence for one in ENQUIRIES], OFFCUTS, desks, 2))
    misses = {3: nearest_misses(ENQUIRIES[3].pieces, OFFCUTS, 1)[0]}
    return matched, misses, (1, 1, 1, 0, 1), 1, "GBP"


def test_json_fits_the_schema_which_states_every_key(parts: tuple[object, ...]) -> None:
    schema = published("enquiries")
    jsonschema.Draft202012Validator.check_schema(schema)
    document = json.loads(enquiries_to_json(*parts))  # type: ignore[arg-type]
    validator(closed(schema)).validate(document)
    assert [one["enquiry"] for one in document["left"]] == ["shed", "long", "unsold"]
    broken = {**document, "version": 2}
    assert not validator(schema).is_valid(broken)


def test_text_tells_what_is_covered_together_and_why_the_rest_is_not(parts: tuple[object, ...]) -> None:
    text = enquiries_text(*parts)  # type: ignore[arg-type]
    # 6.00 m² at 10.00 × 0.475 × 0.8 are worth 22.80; a crosscut and a trim
    assert text.startswith("2 enquiries of 5 covered from 1 of 1 offcut, gain 142.20 GBP; no other choice gains more.")
    assert "balcony + kennel" in text
    assert "shed (1.90 × 1.40 in G30): 1 offcut would fit, but nothing is gained by it, or another" in text
    assert "long (1.00 × 3.50 in G30): nothing free fits; nearest: K-1 in bay C3" in text
    assert "50 cm short along the pile" in text
    assert "unsold (1.00 × 1.00 in G30): no offer to reckon its worth by" in text
