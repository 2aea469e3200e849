"""What is settled before a plan is made: pins, copies cut already, rolls on their way, things held."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from small_problems import MONDAY, TODAY, item, job, problem, rolls, sound_plan

from stockplan.domain.jobs import BatchRule
from stockplan.domain.plan import ProductPlan
from stockplan.domain.request import CutAlready, Pin, PlanRequest


def only(request: PlanRequest) -> ProductPlan:
    (product,) = sound_plan(request).products
    return product


def sources_of(product: ProductPlan, code: str) -> set[str]:
    return {piece.source for cuts in product.cuts for piece in cuts.pieces() if piece.job == code}


TWO_ROLLS = [item("P1", "4000x6000", "B1", "part_roll"), item("P2", "4000x9000", "B2", "part_roll")]


def test_a_pinned_job_is_cut_from_what_it_is_pinned_to_though_that_is_dearer() -> None:
    free = problem([job("J1", "4000x6000")], TWO_ROLLS)
    assert sources_of(only(free), "J1") == {"P1"}
    pinned = replace(free, pins=(Pin("J1", "P2"),))
    assert sources_of(only(pinned), "J1") == {"P2"}


def test_what_one_job_is_pinned_to_serves_others_too() -> None:
    request = problem([job("J1", "4000x3000"), job("J2", "4000x6000")], TWO_ROLLS[1:])
    product = only(replace(request, pins=(Pin("J1", "P2"),)))
    assert product.short == ()
    assert sources_of(product, "J2") == {"P2"}


def test_a_job_that_does_not_fit_on_what_it_is_pinned_to_is_short_rather_than_moved() -> None:
    request = problem([job("J1", "4000x7000")], TWO_ROLLS, [rolls("4000x25000", 100_000)])
    product = only(replace(request, pins=(Pin("J1", "P1"),)))
    assert [s.job for s in product.short] == ["J1"]
    assert "pinned to P1, which cannot give all of it" in product.short[0].reason
    assert product.short[0].remedy.endswith("stockplan unpin J1")


def test_a_job_that_is_begun_in_another_batch_than_it_is_pinned_to_is_told_so() -> None:
    request = problem([job("J1", "4000x2000*2")], TWO_ROLLS)
    begun = replace(request, cut_already=(CutAlready("J1", "S1", 1, "B1"),), pins=(Pin("J1", "P2"),))
    (short,) = only(begun).short
    assert short.reason == "it is begun in batch B1 and pinned to P2, which is of another"
    assert short.remedy == "from P1 instead, without its pin: stockplan unpin J1 or leave to mix batches"
    assert not only(replace(begun, jobs=(job("J1", "4000x2000*2", rule=BatchRule.ANY),))).short


def test_a_job_with_two_pins_may_use_both() -> None:
    stock = [item("P1", "4000x3000", "B1", "part_roll"), item("P3", "4000x3100", "B1", "part_roll"), *TWO_ROLLS[1:]]
    request = replace(problem([job("J1", "4000x2900*2")], stock), pins=(Pin("J1", "P1"), Pin("J1", "P3")))
    assert sources_of(only(request), "J1") == {"P1", "P3"}


def test_copies_cut_already_are_not_cut_again_and_the_batch_is_kept() -> None:
    request = problem([job("J1", "4000x2000*3 1500x2000")], TWO_ROLLS)
    request = replace(request, cut_already=(CutAlready("J1", "S1", 2, "B2"), CutAlready("J1", "S2", 1, "B2")))
    product = only(request)
    pieces = [piece for cuts in product.cuts for piece in cuts.pieces()]
    assert [(p.strip, p.number, p.batch) for p in pieces] == [("S1", 3, "B2")]


def test_the_rest_of_a_job_is_short_when_its_batch_is_used_up() -> None:
    request = problem([job("J1", "4000x2000*3")], TWO_ROLLS, [rolls("4000x25000", 100_000)])
    product = only(replace(request, cut_already=(CutAlready("J1", "S1", 1, "B9"),)))
    assert [(s.strip, s.count) for s in product.short] == [("S1", 2)]


def test_a_job_begun_is_told_how_much_more_of_its_own_batch_would_do() -> None:
    stock = [item("P1", "4000x3000", "B1", "part_roll"), *TWO_ROLLS[1:]]
    request = problem([job("J1", "4000x2000*3")], stock)
    product = only(replace(request, cut_already=(CutAlready("J1", "S1", 1, "B1"),)))
    assert product.short[0].remedy.startswith("2.0 m more of B1 in one length")


def test_a_job_that_a_plan_covers_is_not_left_short_for_one_that_needs_more_pieces() -> None:
    jobs = [job("J1", "4000x3000"), job("J2", "4000x4000*2"), job("J3", "1000x500")]
    request = problem(jobs, [item("P1", "4000x10000", "B1", "part_roll")])
    assert [short.job for short in only(request).short] == ["J1"]
    for covered in ({"J1"}, {"J1", "J3"}):
        assert [short.job for short in only(replace(request, covered=frozenset(covered))).short] == ["J2"]


def test_an_ordered_roll_serves_only_jobs_laid_after_it_comes() -> None:
    coming = replace(item("new-7", "4000x25000", "plan 3", "roll"), arrives_on=MONDAY + timedelta(days=2))
    request = problem([job("J1", "4000x3000", day=2), job("J2", "4000x3000", day=3)], [coming])
    product = only(request)
    assert [s.job for s in product.short] == ["J1"]
    assert sources_of(product, "J2") == {"new-7"}
    assert TODAY < MONDAY


def test_a_held_offcut_is_not_taken_but_named() -> None:
    held = item("K1", "4000x3000", "B7")
    request = problem([job("J1", "4000x3000")], [item("R1", "4000x25000", "B1", "roll")])
    product = only(replace(request, held=(held,)))
    assert sources_of(product, "J1") == {"R1"}
    assert product.held_wanted == ("K1",)
    without = only(replace(request, held=(item("K2", "4000x900", "B7"),)))
    assert without.held_wanted == ()
