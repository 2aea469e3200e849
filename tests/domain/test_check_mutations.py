"""Take sound plans, break one thing in each, and the checker must name the rule that was broken.

Every mutation is tried on the same hundred random plans (fixed seeds) wherever it applies, and must apply often
enough to mean something.
"""

from __future__ import annotations

import random
from functools import lru_cache

import mutations_of_cuts
import mutations_of_terms
import pytest
from builders import Case
from mutations import Mutation
from random_cases import random_case

from stockplan.domain.check import RULES, Rule, check

MUTATIONS = [*mutations_of_cuts.MUTATIONS, *mutations_of_terms.MUTATIONS]
CASES, LEAST = 100, 8


@lru_cache
def cases() -> list[Case]:
    return [random_case(random.Random(seed).randint) for seed in range(CASES)]


@pytest.mark.parametrize(("rule", "mutation"), [pytest.param(r, m, id=f"{r}-{m.__name__}") for r, m in MUTATIONS])
def test_a_broken_plan_is_named_for_what_is_broken(rule: Rule, mutation: Mutation) -> None:
    tried = 0
    for seed, case in enumerate(cases()):
        broken = mutation(case, random.Random(seed).randint)
        if broken is None:
            continue
        tried += 1
        found = check(broken.request, broken.plan)
        assert rule in {violation.rule for violation in found}, f"seed {seed}: found only {[str(v) for v in found]}"
    assert tried >= LEAST, f"applied to only {tried} of {CASES} plans"


def test_the_plans_to_be_broken_are_sound() -> None:
    assert [seed for seed, case in enumerate(cases()) if check(case.request, case.plan)] == []


def test_every_rule_has_mutations_and_there_are_enough() -> None:
    assert {rule for rule, _ in MUTATIONS} == set(Rule) == set(RULES)
    assert len({mutation.__name__ for _, mutation in MUTATIONS}) == len(MUTATIONS) >= 25
