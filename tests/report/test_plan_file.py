"""The plan file against its published schema, its own sums, and the plan it was written from."""

import copy
import json
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import Any

import jsonschema
import pytest
import sample_plans
from schemas import published, validator

from stockplan.domain.check import check
from stockplan.domain.plan import Plan
from stockplan.domain.request import PlanRequest
from stockplan.errors import StoreError
from stockplan.report.json_text import json_document
from stockplan.report.plan_file import plan_to_json
from stockplan.report.plan_reader import read_plan, read_request

SAMPLES: list[Callable[[], tuple[PlanRequest, Plan]]] = [
    sample_plans.one_source,
    sample_plans.mixed,
    sample_plans.many_sources,
    sample_plans.rude_names,
    sample_plans.nothing_to_do,
]
SCHEMA = published("plan")
VALIDATOR = validator(SCHEMA)
every_sample = pytest.mark.parametrize("sample", SAMPLES, ids=lambda sample: sample.__name__)


def written(sample: Callable[[], tuple[PlanRequest, Plan]] = sample_plans.mixed) -> dict[str, Any]:
    return json.loads(plan_to_json(*sample()), parse_float=Decimal)


@every_sample
def test_samples_are_sound(sample):
    assert [str(violation) for violation in check(*sample())] == []


def test_schema_is_itself_valid():
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"


@every_sample
def test_file_fits_schema(sample):
    assert [error.message for error in VALIDATOR.iter_errors(json.loads(plan_to_json(*sample())))] == []


def test_schema_states_every_key_written():
    """Every object's keys are described, so that the schema documents the whole file."""

    def undescribed(value: Any, node: dict[str, Any], path: str) -> list[str]:
        while "$ref" in node:
            node = SCHEMA["$defs"][node["$ref"].rsplit("/", 1)[1]]
        if isinstance(value, dict):
            found = [f"{path}.{key}" for key in value if key not in node.get("properties", {})]
            for key in value.keys() - {name.rsplit(".", 1)[1] for name in found}:
                found += undescribed(value[key], node["properties"][key], f"{path}.{key}")
            return found
        if isinstance(value, list):
            return [fault for item in value for fault in undescribed(item, node["items"], f"{path}[]")]
        return []

    assert undescribed(written(), SCHEMA, "plan") == []


def test_schema_names_every_part_of_the_net_cost():
    """Seams too, which only plans that lay lawns out have."""
    totals = SCHEMA["$defs"]["totals"]["properties"]
    parts = {key for key in totals if key.endswith(("_cost", "_value"))} - {"net_cost"}
    assert {"order_cost", "seam_cost"} < parts
    assert [part for part in sorted(parts) if part not in totals["net_cost"]["description"]] == []


MUTATIONS: dict[str, Callable[[dict[str, Any]], Any]] = {
    "no format": lambda d: d.pop("format"),
    "later version": lambda d: d.update(version=2),
    "no totals": lambda d: d.pop("totals"),
    "status unknown": lambda d: d["products"][0].update(status="best"),
    "negative gap": lambda d: d["products"][0].update(gap=-0.1),
    "piece without source": lambda d: d["pieces"][0].pop("source"),
    "piece beyond the edge": lambda d: d["pieces"][0].update(across_mm=-1),
    "length in metres": lambda d: d["pieces"][0].update(length_mm=5.2),
    "copy nought": lambda d: d["pieces"][0].update(number=0),
    "price as text": lambda d: d["orders"][0].update(price="1100.00"),
    "day the wrong way round": lambda d: d["orders"][0].update(order_by="20-11-2026"),
    "no such day": lambda d: d["orders"][0].update(order_by="2026-02-30"),
    "form unknown": lambda d: d["orders"][0].update(form="tile"),
    "source without drops": lambda d: d["cuts"][0].update(drops=[]),
    "binned but valued": lambda d: next(left for left in d["leftovers"] if not left["keep"]).update(value=1),
    "keep as a word": lambda d: d["leftovers"][0].update(keep="yes"),
    "short without reason": lambda d: d["short"][0].update(reason=""),
    "currency in words": lambda d: d.update(currency="pounds"),
}


@pytest.mark.parametrize("name", MUTATIONS)
def test_broken_file_fails_schema(name):
    document = json.loads(plan_to_json(*sample_plans.mixed()))
    VALIDATOR.validate(document)
    broken = copy.deepcopy(document)
    MUTATIONS[name](broken)
    assert not VALIDATOR.is_valid(broken)


@every_sample
def test_net_cost_adds_up_from_the_file_alone(sample):
    document = written(sample)
    totals = document["totals"]
    parts = totals["order_cost"] + totals["stock_value"] - totals["leftover_value"] + totals["cutting_cost"]
    assert totals["net_cost"] == parts == sum(product["net_cost"] for product in document["products"])
    assert totals["order_cost"] == sum(order["price"] for order in document["orders"])
    assert totals["stock_value"] == sum(used["value"] for used in document["stock_used"])
    assert totals["leftover_value"] == sum(left["value"] for left in document["leftovers"] if left["keep"])
    cuts, costs = document["cuts"], document["costs"]
    assert totals["cutting_cost"] == sum(c["crosscuts"] * costs["crosscut"] + c["rips"] * costs["rip"] for c in cuts)


@every_sample
def test_areas_balance_exactly_from_the_file_alone(sample):
    document = written(sample)
    totals = document["totals"]

    def square(records: list[dict[str, Any]]) -> Decimal:
        return sum((Decimal(r["width_mm"] * r["length_mm"]) for r in records), Decimal(0)) / 1_000_000

    pieces = square(document["pieces"])
    assert square(document["cuts"]) == pieces + totals["area_kept_m2"] + totals["area_binned_m2"]
    assert totals["area_ordered_m2"] == square(document["orders"])
    tags = {used["source"] for used in document["stock_used"]}
    assert totals["area_from_stock_m2"] == square([p for p in document["pieces"] if p["source"] in tags])


def test_totals_worked_by_hand():
    """One part roll of 4 × 17 m = 68 m²; kept 1.9 × 1.3 + 1.1 × 3 + 4 × 3.6 = 20.17; binned 0.3 × 3 + 1.4 × 0.05."""
    totals = written(sample_plans.one_source)["totals"]
    assert totals["area_kept_m2"] == Decimal("20.17")
    assert totals["area_binned_m2"] == Decimal("0.97")
    assert totals["area_needed_m2"] == Decimal("46.86")  # 68 − 20.17 − 0.97
    assert totals["waste_percent"] == Decimal("2.03")  # 0.97 ÷ (68 − 20.17)
    assert (totals["offcuts_used"], totals["rolls_ordered"]) == (0, 0)


def test_needed_area_counts_what_is_short():
    document = written()
    wanted = sum(s["width_mm"] * s["length_mm"] * s["count"] for job in document["jobs"] for s in job["strips"])
    cut = sum(piece["width_mm"] * piece["length_mm"] for piece in document["pieces"])
    assert document["totals"]["area_needed_m2"] == Decimal(wanted) / 1_000_000
    assert wanted - cut == 4000 * 31_000


def test_gap_is_rounded_to_six_places():
    request, plan = sample_plans.one_source()
    product = replace(plan.products[0], net_cost_pence=300, lower_bound_pence=200)
    document = json.loads(plan_to_json(request, replace(plan, products=(product,))))
    assert document["products"][0]["gap"] == document["totals"]["gap"] == 0.333333


def test_money_has_two_decimals_in_the_text():
    text = plan_to_json(*sample_plans.mixed())
    assert '"price": 1100.00,' in text
    assert '"crosscut": 2.00,' in text
    assert '"foreman_cost": null' in plan_to_json(*_without_foreman())


def _without_foreman() -> tuple[PlanRequest, Plan]:
    request, plan = sample_plans.one_source()
    return request, replace(plan, products=(replace(plan.products[0], foreman_cost_pence=None),))


@pytest.mark.parametrize("sample", [*SAMPLES, _without_foreman], ids=lambda sample: sample.__name__)
def test_reading_back_gives_the_plan_and_the_same_text(sample):
    request, plan = sample()
    text = plan_to_json(request, plan)
    assert read_plan(text) == plan
    assert plan_to_json(request, read_plan(text)) == text
    assert plan_to_json(read_request(text), read_plan(text)) == text


def test_text_is_the_same_every_time_and_ends_with_a_newline():
    first, second = plan_to_json(*sample_plans.many_sources()), plan_to_json(*sample_plans.many_sources())
    assert first == second
    assert first.endswith("}\n")
    assert list(json.loads(first)) == [
        "format", "version", "window", "currency", "products", "orders", "pieces", "cuts", "stock_used", "leftovers",
        "short", "jobs", "costs", "totals",
    ]  # fmt: skip


def test_letters_of_every_kind_survive():
    request, plan = sample_plans.one_source()
    jobs = (replace(request.jobs[0], site="Łąka 5 — 芝生\u2028\x00"), *request.jobs[1:])
    text = plan_to_json(replace(request, jobs=jobs), plan)
    assert read_request(text).jobs[0].site == "Łąka 5 — 芝生\u2028\x00"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "not a plan file"),
        ("[1, 2]", "not a plan file"),
        ('{"format": "something-else"}', "not a plan file"),
        ('{"format": "stockplan-plan", "version": 9}', "version 9 cannot be read"),
        ('{"format": "stockplan-plan", "version": 1}', "'window' is missing"),
    ],
)
def test_what_is_no_plan_file_is_refused(text, message):
    with pytest.raises(StoreError, match=message):
        read_plan(text)


@pytest.mark.parametrize(
    ("right", "wrong", "message"),
    [
        ('"net_cost": 535.14', '"net_cost": 535.145', "53514.5 should be a whole number"),
        ('"status": "feasible"', '"status": "splendid"', "splendid"),
        ('"along_mm": 7800', '"along_mm": 15000', "do not lie in its lanes"),
        ('"2026-11-30", "to"', '"2026-13-30", "to"', "month"),
    ],
)
def test_a_damaged_plan_file_is_refused(right, wrong, message):
    text = plan_to_json(*sample_plans.one_source())
    assert right in text
    damaged = text.replace(right, wrong)
    with pytest.raises(StoreError, match=message):
        read_plan(damaged)


def test_numbers_without_an_exact_form_are_refused():
    with pytest.raises(TypeError, match="float has no exact form"):
        json_document({"price": 0.1})
