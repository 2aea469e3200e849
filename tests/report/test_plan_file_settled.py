"""What was settled before a plan was made is in its file, and comes back from it."""

import json
from dataclasses import replace
from datetime import timedelta

from builders import MONDAY, OTHER_ROLL, ROLL, Case, build, read_cuts, small_request
from schemas import published, validator

from stockplan.domain.check import check
from stockplan.domain.request import CutAlready, Pin
from stockplan.report.figures import plan_figures
from stockplan.report.plan_file import plan_to_json
from stockplan.report.plan_reader import read_plan, read_request

COMING = replace(ROLL, tag="P3-1", batch="new (plan 3)", arrives_on=MONDAY - timedelta(days=2))
DONE = CutAlready("J1", "B", 1, "new (plan 3)")


def settled_case() -> Case:
    request = small_request(stock=(COMING, OTHER_ROLL), pins=(Pin("J1", "P3-1"),), cut_already=(DONE,))
    return build(request, {"P3-1": read_cuts(request, "3000: J1.A1", "2000: J1.B2")})


def test_pins_what_is_cut_and_what_is_on_its_way_come_back() -> None:
    case = settled_case()
    assert check(case.request, case.plan) == ()
    text = plan_to_json(case.request, case.plan)
    request = read_request(text)
    assert (request.pins, request.cut_already) == (case.request.pins, case.request.cut_already)
    assert request.stock == (COMING,)
    assert plan_to_json(request, read_plan(text)) == text
    validator(published("plan")).validate(json.loads(text))


def test_files_without_any_of_it_have_none_of_the_keys() -> None:
    request = small_request()
    case = build(request, {"R-1": read_cuts(request, "3000: J1.A1", "2000: J1.B1 | J1.B2")})
    record = json.loads(plan_to_json(case.request, case.plan))
    assert not {"pins", "cut_already"} & record.keys()
    assert "arrives_on" not in record["stock_used"][0]


def test_grass_needed_leaves_out_what_is_cut() -> None:
    case = settled_case()
    assert plan_figures(case.request, case.plan).needed_mm2 == 4000 * 3000 + 1500 * 2000
