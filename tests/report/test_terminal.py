"""What the terminal shows: complete, within its width, in the owner's order, and nothing trusted that was typed."""

import io
import re
from dataclasses import replace

import pytest
import sample_plans
from builders import JOB, build, new_order, read_cuts, small_request
from rich.cells import cell_len
from rich.console import Console

from stockplan.domain.jobs import BatchRule
from stockplan.domain.plan import Plan, PlanStatus, Shortfall
from stockplan.report.headline import headlines
from stockplan.report.plan_file import plan_to_json
from stockplan.report.plan_reader import read_plan, read_request
from stockplan.report.terminal import render_plan
from stockplan.report.words import day

SAMPLES = [sample_plans.one_source, sample_plans.mixed, sample_plans.many_sources, sample_plans.nothing_to_do]


def shown(request, plan, width=80, **options) -> str:
    output = io.StringIO()
    render_plan(Console(file=output, width=width, **options), request, plan)
    return output.getvalue()


@pytest.mark.parametrize("width", [60, 80, 120])
@pytest.mark.parametrize("sample", SAMPLES, ids=lambda sample: sample.__name__)
def test_no_line_is_longer_than_the_terminal(sample, width):
    text = shown(*sample(), width)
    assert max(cell_len(line) for line in text.splitlines()) <= width


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.parametrize("sample", SAMPLES, ids=lambda sample: sample.__name__)
def test_every_job_tag_and_order_is_there(sample, width):
    request, plan = sample()
    text = shown(request, plan, width)
    wanted = {job.code for job in request.jobs} | {cuts.source for cuts in plan.cuts()}
    wanted |= {order.key for order in plan.orders()}
    assert {word for word in wanted if not re.search(rf"(?<!\w){re.escape(word)}(?!\w)", text)} == set()


def test_sections_come_in_the_order_an_owner_reads():
    text = shown(*sample_plans.mixed())
    headings = [
        "Plan for 2026-11-30", "net cost", "To order", "Cuts in G30", "Cuts in L40", "Leftovers to keep",
        "Leftovers to bin", "Short: not covered", "Totals", "Before anyone cuts or lifts",
    ]  # fmt: skip
    places = [text.index(heading) for heading in headings]
    assert places == sorted(places)


def test_a_plan_that_costs_nothing_is_known_to_be_the_cheapest():
    request, plan = sample_plans.one_source()
    free = replace(plan.products[0], net_cost_pence=0, lower_bound_pence=0)
    assert re.search(r"^no plan costs less than +0\.00$", shown(request, replace(plan, products=(free,))), re.M)
    unproven = replace(plan.products[0], lower_bound_pence=0)
    assert re.search(r"^no plan costs less than +not known$", shown(request, replace(plan, products=(unproven,))), re.M)


def test_of_the_grass_needed_what_is_left_short_is_told_where_there_is_any():
    assert re.search(r"^of it left short, m² +124\.0$", shown(*sample_plans.mixed()), re.M)  # 4 × 31 m
    assert "left short" not in shown(*sample_plans.one_source())


def test_without_colour_there_is_no_escape_and_nothing_is_lost(monkeypatch):
    request, plan = sample_plans.mixed()
    piped = shown(request, plan)
    assert "\x1b" not in piped
    coloured = shown(request, plan, force_terminal=True, color_system="truecolor")
    assert re.sub(r"\x1b\[[0-9;]*m", "", coloured) == piped
    monkeypatch.setenv("NO_COLOR", "1")
    quiet = shown(request, plan, force_terminal=True)
    assert not re.search(r"\x1b\[[0-9;]*3[0-7]m", quiet)


def test_what_was_typed_is_printed_not_obeyed():
    text = shown(*sample_plans.rude_names())
    assert "\x1b" not in text
    assert "R<&1>" in text
    assert "[red]B&7" in text
    assert 'bay "bay" [bold]?[31m' in text
    assert "J[i]<script>" in text


def test_the_price_order_day_and_jobs_of_an_order_are_there():
    text = shown(*sample_plans.mixed(), 120)
    line = next(line for line in text.splitlines() if line.strip().startswith("new-1 "))
    for part in ("Fri 20 Nov", "Fri 27 Nov", "G30 roll", "1,100.00", "J103, J104, J105"):
        assert part in line
    assert "Thornbury Turf Supply" in text
    assert "2 orders, 2,200.00 together" in text


def test_a_heavy_roll_bears_a_note_and_a_light_offcut_none():
    text = shown(*sample_plans.mixed())
    assert "about 252 kg; too heavy for hands: use plant" in text
    assert re.search(r"about 3 kg$", text, re.MULTILINE)
    assert "does not mean that it may be lifted" in " ".join(text.split())


def test_every_piece_has_its_weight_and_how_many_people_it_takes():
    request, plan = sample_plans.mixed()
    text = " ".join(shown(request, plan, 200).split())
    assert text.count("Pieces weigh about:") == len(list(plan.cuts()))
    weighed = re.findall(r"(\d+) kg( \((?:2 people|3 people|plant)\))?[,\s]", text.split("Pieces weigh about:", 1)[1])
    assert any(note for _, note in weighed)
    assert any(int(kg) <= 16 and not note for kg, note in weighed)


def test_a_shortfall_says_why_and_what_would_mend_it():
    text = " ".join(shown(*sample_plans.mixed(), 120).split())
    assert "no single batch has 31.00 m at 4.00 m across" in text
    assert "Would mend it: a 31 m length, or two batches" in text


def test_a_stored_plan_shows_the_same():
    request, plan = sample_plans.mixed()
    text = plan_to_json(request, plan)
    assert shown(read_request(text), read_plan(text)) == shown(request, plan)


def test_no_jobs_no_orders():
    text = shown(*sample_plans.nothing_to_do())
    assert "No jobs in this window" in text
    assert "Nothing: the yard covers it." in text


def test_nothing_to_order_says_what_covers_the_jobs_and_whether_all_of_them():
    request, plan = sample_plans.mixed()
    bought = {order.key for order in plan.orders()}

    def told(request, *, short=True, cut=True) -> str:
        products = tuple(
            replace(
                one,
                orders=(),
                cuts=tuple(cuts for cuts in one.cuts if cut and cuts.source not in bought),
                short=one.short if short else (),
            )
            for one in plan.products
        )
        text = " ".join(shown(request, replace(plan, products=products), 120).split())
        return text.split("To order ", 1)[1].split(". ", 1)[0]

    cut_from = {cuts.source for cuts in plan.cuts()}
    coming = tuple(replace(one, arrives_on=plan.today) if one.tag in cut_from else one for one in request.stock)
    assert told(request, short=False) == "Nothing: the yard covers it"
    assert told(request) == "Nothing: the yard covers all that is not short"
    assert told(replace(request, stock=coming)).startswith(
        "Nothing: the yard and what is on its way cover all that is not"
    )
    assert told(request, cut=False).startswith("Nothing; what is short is told below")


def one_product(**changes) -> Plan:
    _, plan = sample_plans.one_source()
    facts = {
        "net_cost_pence": 100_000,
        "lower_bound_pence": 100_000,
        "foreman_cost_pence": 105_000,
        "status": PlanStatus.OPTIMAL,
    }
    return replace(plan, products=(replace(plan.products[0], **{**facts, **changes}),))


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({}, "G30: net cost 1,000.00; 50.00 (4.8 %) less than the foreman's plan; proven the cheapest."),
        (
            {"status": PlanStatus.FEASIBLE, "lower_bound_pence": 99_000},
            "G30: net cost 1,000.00; 50.00 (4.8 %) less than the foreman's plan; "
            "no plan can save more than 10.00 (1.0 %).",
        ),
        (
            {"status": PlanStatus.FEASIBLE, "lower_bound_pence": 99_950, "ended_by": "clock"},
            "G30: net cost 1,000.00; 50.00 (4.8 %) less than the foreman's plan; "
            "no plan can save more than 0.50 (0.05 %); the search ran out of time.",
        ),
        (
            {"foreman_cost_pence": 100_000},
            "G30: net cost 1,000.00; the same as the foreman's plan; proven the cheapest.",
        ),
        (
            {"foreman_cost_pence": 90_000},
            "G30: net cost 1,000.00; 100.00 (11.1 %) more than the foreman's plan; proven the cheapest.",
        ),
        (
            {"foreman_cost_pence": None},
            "G30: net cost 1,000.00; the foreman's plan leaves short a job that this one covers; proven the cheapest.",
        ),
    ],
)
def test_headline_of_one_product(changes, sentence):
    assert headlines(one_product(**changes)) == [sentence]


def test_headline_of_several_products_begins_with_the_whole():
    whole, *each = headlines(sample_plans.mixed()[1])
    assert whole.startswith("Whole plan: net cost 1,458.20; 88.00 (5.7 %) less than the foreman's plan; 1 piece short")
    assert whole.endswith("; 1 piece short, see below; for the rest proven the cheapest.")
    assert [sentence[:4] for sentence in each] == ["G30:", "L40:"]


def test_no_saving_is_claimed_where_no_bound_is_known():
    _, plan = sample_plans.mixed()
    plain = replace(plan.products[0], status=PlanStatus.FEASIBLE, short=(), lower_bound_pence=0, ended_by="interrupt")
    (sentence,) = headlines(replace(plan, products=(plain,)))
    assert "the search was too short to tell how much could still be saved; the search was stopped by hand" in sentence
    assert "100.0 %" not in sentence


def test_every_source_says_for_which_jobs_and_when():
    request, plan = sample_plans.mixed()
    text = shown(request, plan, 120)
    jobs = {job.code: job for job in request.jobs}
    for cuts in plan.cuts():
        part = text[text.index(f"\n{cuts.source}: ") :]
        line = next(line for line in part.splitlines() if line.startswith("  for "))
        codes = {piece.job for piece in cuts.pieces()}
        assert set(line.removeprefix("  for ").split(", ")) == {f"{code} ({day(jobs[code].lay_on)})" for code in codes}


def test_what_is_said_of_a_source_stands_under_its_name_where_it_runs_on():
    request, plan = sample_plans.mixed()
    source = next(iter(plan.cuts())).source
    text = shown(request, plan, 24)
    about = text[text.index(f"\n{source}: ") + 1 :].split("\n  for ")[1].split(" Step ")[0].splitlines()
    running_on = [line for line in about[1:] if line.strip()]
    assert running_on
    assert all(line.startswith("  ") for line in running_on)


def test_a_remedy_for_a_whole_job_is_told_once():
    request, plan = sample_plans.mixed()
    job = next(job for job in request.jobs if len(job.strips) > 1)
    short = tuple(Shortfall(job.code, s.label, s.count, "nothing arrives", "2 days later") for s in job.strips)
    product = next(one for one in plan.products if one.product == job.product)
    text = shown(request, replace(plan, products=(replace(product, short=short),)), 120)
    assert text.count("Would mend it: 2 days later") == 1
    assert text.count("as above") == len(job.strips) - 1


@pytest.mark.parametrize(
    ("rule", "second", "told"),
    [(BatchRule.ONE, "Ostrel Depot", True), (BatchRule.ANY, "Ostrel Depot", False), (BatchRule.ONE, "", False)],
)
def test_a_job_of_one_batch_bought_from_two_suppliers_is_pointed_out(rule, second, told):
    request = small_request(replace(JOB, batch_rule=rule))
    first = new_order()
    orders = [first, replace(first, key="new-2", supplier=second or first.supplier)]
    cuts = {"new-1": read_cuts(request, "3000: J1.A1"), "new-2": read_cuts(request, "2000: J1.B1 | J1.B2")}
    text = " ".join(shown(request, build(request, cuts, orders=orders).plan).split())
    mixed = f"J1 takes grass of {' and '.join(sorted([first.supplier, second]))}, seldom of one batch"
    assert ((mixed in text), ("seldom of one batch" in text)) == (told, told)


def test_what_is_ordered_already_is_said_to_be_still_to_come():
    request, plan = sample_plans.one_source()
    (used,) = request.stock
    assert f"bay {used.bay}" in shown(request, plan)
    coming = replace(used, bay="", arrives_on=plan.window.first)
    text = shown(replace(request, stock=(coming,)), plan)
    assert f"{used.tag}: part roll still to come" in text
    assert f"batch {used.batch}, here {day(plan.window.first)} at best" in text
    assert "bay not recorded" not in text


@pytest.mark.parametrize(
    ("short", "told"),
    [
        ([("J103", "A", "2 days later"), ("J103", "B", "2 days later")], False),
        ([("J103", "A", "2 days later"), ("J104", "A", "")], True),
        ([("J103", "A", ""), ("J104", "A", "")], False),
        ([("J103", "A", "2 days later"), ("J120", "A", "3 days later")], False),  # of two grasses
    ],
)
def test_where_several_jobs_are_short_it_is_told_that_planning_again_may_cover_another(short, told):
    request, plan = sample_plans.mixed()
    lacking = [Shortfall(job, strip, 1, "nothing arrives", remedy) for job, strip, remedy in short]
    of = {job.code: job.product for job in request.jobs}
    products = [
        replace(part, short=tuple(one for one in lacking if of[one.job] == part.product)) for part in plan.products
    ]
    text = " ".join(shown(request, replace(plan, products=tuple(products))).split())
    assert ("may cover another of them instead" in text) is told


def test_held_stock_that_the_plan_would_have_cut_is_named():
    text = shown(*sample_plans.mixed(), 120)
    assert "G30: would have taken, were it not held for a quote: K-112." in text
    assert "L40: would have taken" not in text
