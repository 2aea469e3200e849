"""A quote in words, as JSON and as pages; nothing of its costs reaches the customer."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import date
from html.parser import HTMLParser

import jsonschema
import pytest
from sample_lawns import PLAIN, sample
from schemas import closed, published, validator

from stockplan.domain.jobs import BatchRule, Job
from stockplan.domain.quote import Annex, Quote, RuleOfThumb, Seams
from stockplan.domain.strip import Strip
from stockplan.domain.true_cost import Solved, TrueCost
from stockplan.domain.units import money
from stockplan.report.lawn_drawing import draw_lawns, draw_sheets
from stockplan.report.quote_json import quote_to_json
from stockplan.report.quote_page import customer_page, firm_page
from stockplan.report.quote_text import cost_sentence, figures, quote_text

LAY_ON = date(2026, 12, 3)
STRIPS = (Strip("A", 4000, 5000), Strip("B", 2400, 5000, 2))
ANNEX = Annex(
    "Q-7", "3 Elm Row & Sons <back>", "G30", "thirty millimetres", date(2026, 11, 26), LAY_ON, STRIPS, 29_760_000,
    Seams(2, 9600, 0), ("<?xml version='1.0'?>\n<svg xmlns='http://www.w3.org/2000/svg'><text>A</text></svg>",),
)  # fmt: skip
QUOTE = Quote(
    annex=ANNEX,
    job=Job("Q-7", "", "G30", LAY_ON, "", BatchRule.ONE, STRIPS),
    first=date(2026, 11, 26),
    last=date(2026, 12, 9),
    others=9,
    cost=TrueCost(28_531, 43_717, 41_585),
    with_it=Solved(408_056, 391_234),
    without=Solved(366_471, 355_555),
    alone_pence=43_717,
    rule=RuleOfThumb(29_760_000, 1483, 10),
    binned_mm2=1_300_000,
    sources=(("P-42", "B7", 1), ("R-9", "B7", 2)),
    orders=("roll 4.00 × 25.00 from Fernlea Mills",),
    needs=(("joining tape", "10.08 m: 1 roll of 20.0 m"),),
)
SCHEMA = published("quote")
VALIDATOR = validator(SCHEMA)


def amounts() -> set[str]:
    """Every amount of the quote as it might be printed."""
    pence = {
        28_531, 43_717, 41_585, 408_056, 391_234, 366_471, 355_555, 1483, QUOTE.rule.pence,
    }  # fmt: skip
    printed = {money(one) for one in pence}
    return printed | {one.replace(",", "") for one in printed} | {str(one) for one in pence}


class Shown(HTMLParser):
    """The words of a page, and whether every element is closed."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.open: list[str] = []

    def handle_starttag(self, tag: str, attrs: object) -> None:
        if tag not in ("meta",):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def words_of(page: str) -> str:
    shown = Shown()
    shown.feed(page)
    assert not shown.open
    return " ".join(shown.words)


def test_no_cost_figure_reaches_the_customer() -> None:
    page = customer_page(QUOTE.annex)
    assert not [amount for amount in amounts() if amount in page]
    assert not re.search(r"\b(GBP|cost|price|wastage|supplier|Fernlea|P-42|R-9)\b", words_of(page), re.IGNORECASE)


def test_one_batch_is_promised_only_where_it_is_kept() -> None:
    assert "one dye batch" in customer_page(ANNEX)
    assert "one dye batch" not in customer_page(replace(ANNEX, one_batch=False))


def test_the_firm_page_has_every_figure_and_says_whose_it_is() -> None:
    words = words_of(firm_page(QUOTE, "GBP"))
    assert "For the firm's own eyes" in words
    for _, figure in figures(QUOTE):
        assert figure in words


def test_pages_show_sizes_seams_and_the_drawing_and_escape_what_was_typed() -> None:
    for page in (customer_page(QUOTE.annex), firm_page(QUOTE, "GBP")):
        words = words_of(page)
        assert "3 Elm Row & Sons <back>" in words
        assert "4.00 × 5.00" in words
        assert "2 seams, 9.60 m together" in words
        assert "<svg " in page
        assert "<?xml" not in page
        assert "<td>G30, thirty millimetres</td>" in page
    assert "<td>G30</td>" in customer_page(replace(ANNEX, description=""))


def test_a_drawing_fitted_to_another_page_names_no_scale_but_keeps_its_bar() -> None:
    text = draw_lawns(*sample(PLAIN))
    assert re.search(r">\d\.\d m, scale 1:\d+</text>", text)
    assert "Print at full size" in text
    (fitted,) = draw_sheets(*sample(PLAIN), 500)
    assert re.search(r">\d\.\d m</text>", fitted)
    assert "scale" not in fitted
    assert "full size" not in fitted


def test_json_fits_the_schema_which_states_every_key() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    for quote in (QUOTE, replace(QUOTE, cost=None, alone_pence=None, annex=replace(ANNEX, seams=None, lawn_mm2=None))):
        document = json.loads(quote_to_json(quote, "GBP"))
        VALIDATOR.validate(document)
        validator(closed(SCHEMA)).validate(document)


@pytest.mark.parametrize("key", ["true_cost", "with_job", "rule_of_thumb", "weighing", "window"])
def test_a_document_that_lacks_something_fails_the_schema(key: str) -> None:
    document = json.loads(quote_to_json(QUOTE, "GBP"))
    del document[key]
    assert not VALIDATOR.is_valid(document)


def test_the_text_says_where_grass_is_left_to_plans_with_other_jobs_or_without() -> None:
    alone = "; what plans have reserved is left alone, with what they leave over (that too: stockplan cover)."
    text = quote_text(replace(QUOTE, others=0, left_alone=True), "GBP")
    assert f"no other job of this grass is still to be planned{alone}" in text
    assert "0 other" not in text
    assert alone in quote_text(replace(QUOTE, left_alone=True), "GBP")
    assert "reserved" not in quote_text(replace(QUOTE, others=0), "GBP")


def test_the_text_tells_cost_interval_rule_and_waste() -> None:
    text = quote_text(QUOTE, "GBP")
    assert "It costs about 415.85 GBP in grass, and certainly from 285.31 to 437.17; weighed with 9 other jobs" in text
    assert "29.8 m² at 14.83 and 10 % for wastage are 485.47" in text
    assert "the yard makes it cheap: at least 9 % under the rule" in text
    assert "32.4 % of the pieces is trimmed off on site; 1.3 m² more end in the yard's bin" in text
    assert "Cut, in the best plan known: 1 piece from P-42, 2 pieces from R-9." in text


def test_a_proven_cost_is_said_to_be_proven() -> None:
    sentence = cost_sentence(replace(QUOTE, cost=TrueCost(41_585, 41_585, 41_585)), "GBP")
    assert sentence.startswith("It costs 415.85 GBP in grass, proven;")


def test_work_left_short_by_the_job_is_named_instead_of_a_cost() -> None:
    short = Solved(1, 1, frozenset({("J117", "A", 1)}))
    sentence = cost_sentence(replace(QUOTE, cost=None, with_it=short), "GBP")
    assert "with it J117 is not covered in time" in sentence
