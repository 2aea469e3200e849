"""Plans that are sound by construction pass; a plan with any one field changed does not; nothing makes it raise."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import date, timedelta
from enum import Enum
from typing import Any

from breaking import every, put
from builders import Case
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import sound_cases

from stockplan.domain.check import Violation, check
from stockplan.domain.plan import PlannedLeftover, ProductPlan

# What a plan may say freely: words, effort, and what the checker can only judge from one side.
FREE = {"reason", "remedy", "work", "seed", "ended_by", "seconds", "foreman_cost_pence", "lower_bound_pence"}
FREE |= {
    "fingerprint"
}  # says what the plan was asked for, not what it is; `stockplan why` holds it against the request


@given(case=sound_cases())
@settings(max_examples=150, deadline=None)
def test_a_plan_made_by_cutting_passes(case: Case) -> None:
    assert check(case.request, case.plan) == ()


@given(case=sound_cases())
@settings(max_examples=60, deadline=None)
def test_every_cut_parts_one_thing_in_two(case: Case) -> None:
    """So cuts are one fewer than parts: a count of cuts that owes nothing to drops and lanes."""
    for cuts in case.plan.cuts():
        left = [leftover for leftover in case.plan.leftovers() if leftover.source == cuts.source]
        assert cuts.crosscuts + cuts.rips == len(list(cuts.pieces())) + len(left) - 1


def _other(value: Any, step: int) -> Any:
    if isinstance(value, bool):
        return not value
    if isinstance(value, Enum):
        choices = list(type(value))
        return choices[(choices.index(value) + 1) % len(choices)]
    if isinstance(value, int):
        return value + step
    if isinstance(value, str):
        return value + "x"
    if isinstance(value, date):
        return value + timedelta(days=step % 7 or 1 if step > 0 else -1)
    if isinstance(value, tuple):
        return value[1:] if step % 2 else value + value[:1]
    return value


@given(case=sound_cases(), data=st.data())
@settings(max_examples=300, deadline=None)
def test_no_field_of_a_plan_goes_unguarded(case: Case, data: st.DataObject) -> None:
    node = data.draw(st.sampled_from(every(case.plan)))
    names = [f.name for f in fields(node) if f.name not in FREE and getattr(node, f.name) != ()]
    if isinstance(node, PlannedLeftover) and not case.request.costs.leftovers_have_worth:
        names.remove("keep")  # where leftovers count for nothing a sound one may be kept or not
    names = [name for name in names if not hasattr(getattr(node, name), "__dataclass_fields__")]
    name = data.draw(st.sampled_from(names))
    step = data.draw(st.integers(-3000, 3000).filter(bool))
    if name in {"first", "last"}:
        step = -1 if name == "first" else 1  # a window that ends before it begins cannot be made at all
    broken = put(case.plan, node, replace(node, **{name: _other(getattr(node, name), step)}))
    assert check(case.request, broken), f"{type(node).__name__}.{name} changed and nobody noticed"


@given(case=sound_cases(), data=st.data())
@settings(max_examples=150, deadline=None)
def test_a_wrecked_plan_is_judged_not_choked_on(case: Case, data: st.DataObject) -> None:
    plan = case.plan
    for _ in range(data.draw(st.integers(1, 6))):
        node = data.draw(st.sampled_from(every(plan)))
        name = data.draw(st.sampled_from([f.name for f in fields(node)]))
        value = getattr(node, name)
        if name in {"first", "last"}:
            continue  # a window that ends before it begins cannot be made at all
        if isinstance(value, bool | Enum | tuple):
            value = _other(value, data.draw(st.integers(0, 1)))
        elif isinstance(value, int):
            value = data.draw(st.sampled_from([0, -1, 1, -value, value * 1000]))
        elif isinstance(value, str):
            value = data.draw(st.sampled_from(["", "nobody", "new-1", "G30-0", "G30", "A"]))
        elif isinstance(value, date):
            value = data.draw(st.sampled_from([date.min, date.max]))
        plan = put(plan, node, replace(node, **{name: value}))
    violations = check(case.request, plan)
    assert all(isinstance(v, Violation) and v.message and str(v) for v in violations)


@given(case=sound_cases())
@settings(max_examples=30, deadline=None)
def test_several_faults_are_all_named(case: Case) -> None:
    """Three unrelated faults in one product's plan: each is reported, none hides another."""
    planned: ProductPlan = case.plan.products[0]
    cuts = planned.cuts[0]
    broken = replace(
        planned,
        lower_bound_pence=planned.net_cost_pence + 1,
        cutting_cost_pence=planned.cutting_cost_pence + 1,
        cuts=(replace(cuts, batch="painted"), *planned.cuts[1:]),
    )
    rules = {violation.rule for violation in check(case.request, put(case.plan, planned, broken))}
    assert {"bound", "money adds up", "batch"} <= rules
