"""Why a plan is as it is: in words, in the terminal, in the plan file and as JSON against the published schemas."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from datetime import date
from typing import Any

import jsonschema
import pytest
import sample_plans
from rich.console import Console
from schemas import closed, published, validator

from stockplan.domain.jobs import BatchRule
from stockplan.domain.plan import Plan
from stockplan.domain.reasons import BatchGround, BatchReason, Instead, OrderReason, Otherwise, Sooner, Why
from stockplan.domain.request import PlanRequest
from stockplan.report.plan_file import plan_to_json
from stockplan.report.plan_reader import read_plan, read_request
from stockplan.report.reasons import batch_words, order_words
from stockplan.report.terminal import render_plan
from stockplan.report.why_text import why_text, why_to_json

SOONER = (
    Sooner("new-2", date(2026, 11, 27), date(2026, 11, 30)),
    Sooner("new-3", date(2026, 12, 1), date(2026, 12, 4)),
)
ORDERS = {
    "J1 would be short": OrderReason("new-1", ("J1",), True, ("J1",)),
    "J1 and J2 would be short; J3 from R-1": OrderReason(
        "new-1", ("J1", "J2", "J3"), True, ("J1", "J2"), (Instead("J3", ("R-1",)),)
    ),
    "J1 from R-1, R-2 and new-3; net cost at most 34.20 more": OrderReason(
        "new-1", ("J1",), True, (), (Instead("J1", ("R-1", "R-2", "new-3")),), 3420
    ),
    "J1 from R-1; net cost no more": OrderReason("new-1", ("J1",), True, (), (Instead("J1", ("R-1",)),), 0),
    "J2 would be short; J1 from new-2; needs new-2 ordered by Fri 27 Nov and new-3 by Tue 1 Dec": OrderReason(
        "new-1", ("J1",), True, ("J2",), (Instead("J1", ("new-2",)),), None, SOONER
    ),
    "not worked out": OrderReason("new-1", ("J1",)),
}
BATCHES = {
    "pinned by hand": BatchReason("J1", ("B1",), BatchGround.PINNED),
    "begun in it; the rest is of the same batch": BatchReason("J1", ("B1",), BatchGround.BEGUN),
    "no other batch has 4.00 × 9.40 in one piece": BatchReason(
        "J1", ("B1",), BatchGround.ONLY, lacking_mm=(4000, 9400)
    ),
    "no batch in the yard has 4.00 × 9.40 in one piece": BatchReason(
        "J1", ("new",), BatchGround.ONLY, lacking_mm=(4000, 9400)
    ),
    "no batch in the yard could hold it in time": BatchReason("J1", ("new",), BatchGround.ONLY),
    "no one batch could hold all of it in time": BatchReason("J1", ("B1", "B2"), BatchGround.ONLY),
    "no room was found in another beside the other jobs": BatchReason("J1", ("B1",), BatchGround.NO_ROOM),
    "no room was found for all of it in one beside the other jobs": BatchReason(
        "J1", ("B1", "B2"), BatchGround.NO_ROOM
    ),
    "instead from new grass: at most 12.30 more": BatchReason("J1", ("B1",), BatchGround.CHEAPEST, ("new",), 1230),
    "all of it from B2: no more": BatchReason("J1", ("B1", "B2"), BatchGround.CHEAPEST, ("B2",), 0),
    "not worked out": BatchReason("J1", ("B1",), BatchGround.NOT_WORKED_OUT),
}


@pytest.mark.parametrize("words", sorted(ORDERS))
def test_an_order_says_what_would_happen_without_it(words: str) -> None:
    assert order_words(ORDERS[words]) == words


@pytest.mark.parametrize("words", sorted(BATCHES))
def test_a_job_says_why_its_batch(words: str) -> None:
    assert batch_words(BATCHES[words]) == words


def explained() -> tuple[PlanRequest, Plan]:
    """A plan with a reason of every sort."""
    request, plan = sample_plans.mixed()
    first, *rest = plan.products
    told = replace(first, order_reasons=tuple(ORDERS.values()), batch_reasons=tuple(BATCHES.values()))
    return request, replace(plan, products=(told, *rest))


def test_reasons_come_back_from_the_plan_file_which_fits_its_schema() -> None:
    request, plan = explained()
    text = plan_to_json(request, plan)
    assert read_plan(text) == plan
    assert plan_to_json(read_request(text), read_plan(text)) == text
    definitions = closed(published("plan"))["$defs"]
    document = json.loads(text)
    for name in ("order_reason", "batch_reason"):
        schema = {"$defs": definitions, "$ref": f"#/$defs/{name}"}
        for record in document[f"{name}s"]:
            validator(schema).validate(record)
    assert {record["reason"] for record in document["batch_reasons"]} == set(BATCHES)


def test_a_file_of_a_plan_without_reasons_has_none_of_the_keys() -> None:
    assert not {"order_reasons", "batch_reasons"} & json.loads(plan_to_json(*sample_plans.mixed())).keys()


def printed(request: PlanRequest, plan: Plan) -> str:
    out = io.StringIO()
    render_plan(Console(file=out, width=120), request, plan)
    return out.getvalue()


def test_the_terminal_tells_what_was_worked_out_and_how_to_ask_for_the_rest() -> None:
    lines = [line.strip() for line in printed(*explained()).splitlines()]
    start = lines.index("Without one of them, and with nothing bought in its place:")
    assert lines[start + 1] == "new-1: J1 would be short"
    assert "What would happen without the others: stockplan why ORDER" in lines
    assert any("pinned by hand" in line for line in lines)
    assert "Of the other jobs: stockplan why JOB" in lines
    assert not any("not worked out" in line for line in lines)
    assert "Why from these batches" not in printed(*sample_plans.mixed())


# --- one question in earnest ------------------------------------------------------------------------------------------

EXACTLY = Otherwise("B2", (), (Instead("J101", ("R-2",)),), 200, 200, True)
BETWEEN = Otherwise("new", (), (Instead("J101", ("a new roll",)),), 1000, 1230, False)
AT_MOST = Otherwise("B3", (), (Instead("J101", ("R-3",)),), -400, 1300, False)
LESS = Otherwise("B3", (), (Instead("J101", ("R-3",)),), None, -50, False)
NO_ROOM = Otherwise("B4", ("J101",), (), None, None, False)
PROVEN_NO_ROOM = Otherwise("B5", ("J101",), (), None, None, True)
IN_ANOTHER = Why(
    "J101",
    "G30",
    True,
    ("R-1",),
    ("B1",),
    BatchGround.CHEAPEST,
    None,
    (EXACTLY, BETWEEN, AT_MOST, NO_ROOM, PROVEN_NO_ROOM),
)
WITHOUT = Why(
    "new-1",
    "G30",
    False,
    ("J101",),
    otherwise=(Otherwise("nothing bought in its place", ("J101",), (), None, None, True),),
)
IN_TIME = replace(WITHOUT, otherwise=(replace(WITHOUT.otherwise[0], sooner=SOONER),))
SHORT = Why("J101", "G30", True, (), short="nothing is on offer", remedies="1 day later (2026-12-01)")


def said(why: Why, rule: BatchRule = BatchRule.ONE) -> list[str]:
    request, _ = sample_plans.mixed()
    job = replace(request.jobs[0], code="J101", batch_rule=rule) if why.is_job else None
    return why_text(why, job, 3).splitlines()


def test_each_way_is_told_with_how_sure_it_is() -> None:
    head, asked, *ways, found = said(IN_ANOTHER)
    assert head.endswith("is cut from R-1, batch B1, in plan 3.")
    assert asked == "From another batch, and what the whole plan of its grass then costs:"
    assert ways == [
        "  B2: exactly 2.00 more; J101 from R-2",
        "  new grass: at least 10.00, at most 12.30 more; J101 from a new roll",
        "  B3: at most 13.00 more; J101 from R-3",
        "  B4: no room was found",
        "  B5: no room, proven",
    ]
    assert found.startswith("'At most' is what a plan that was found costs more")


def test_a_job_that_may_mix_is_said_to_be_asked_of_one_other_batch_at_a_time() -> None:
    asked = said(IN_ANOTHER, BatchRule.ANY)[1]
    assert asked == "All of it from one other batch, and what the whole plan of its grass then costs:"


def test_a_plan_that_costs_less_says_to_plan_again() -> None:
    *_, way, found, again = said(replace(IN_ANOTHER, otherwise=(LESS,)))
    assert way == "  B3: 0.50 less; J101 from R-3"
    assert found.startswith("'At most'")
    assert again.endswith("plan again, for longer.")


def test_a_source_and_a_job_left_short_are_told() -> None:
    assert said(WITHOUT) == [
        "new-1 serves J101 in plan 3.",
        "Without it, and what the whole plan of its grass then costs:",
        "  nothing bought in its place: J101 would be short, proven that no plan leaves less short",
    ]
    head, *rest = said(SHORT)
    assert head.endswith("is left short in plan 3.")
    assert rest == ["Why: nothing is on offer.", "Would mend it: 1 day later (2026-12-01)."]
    assert said(replace(SHORT, remedies=""))[-1] == "What would mend it was not found in time."
    later = replace(WITHOUT.otherwise[0], short=(), most_pence=0, instead=(Instead("J101", ("new-2",)),), sooner=SOONER)
    assert said(replace(WITHOUT, otherwise=(later,)))[-1].endswith(
        "no more, proven; J101 from new-2; needs new-2 ordered by Fri 27 Nov and new-3 by Tue 1 Dec"
    )
    pinned = Why("J101", "G30", True, ("R-1",), ("B1",), BatchGround.PINNED)
    assert said(pinned)[1:] == ["Why: pinned by hand."]


@pytest.mark.parametrize("why", [IN_ANOTHER, WITHOUT, SHORT, IN_TIME])
def test_json_fits_the_schema_which_states_every_key(why: Why) -> None:
    schema = published("why")
    jsonschema.Draft202012Validator.check_schema(schema)
    document: dict[str, Any] = json.loads(why_to_json(why, 3, "GBP"))
    validator(closed(schema)).validate(document)
    assert not validator(schema).is_valid(document | {"ground": "a whim"})
