"""Breaking one thing in a sound plan: how the ways to do so are written and told apart."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from breaking import put
from builders import Case
from random_cases import Pick

from stockplan.domain.check import Rule

Mutation = Callable[[Case, Pick], Case | None]
Mutations = list[tuple[Rule, Mutation]]


def breaker(mutations: Mutations) -> Callable[[Rule], Callable[[Mutation], Mutation]]:
    """What puts a way to break a rule into a list."""

    def breaks(rule: Rule) -> Callable[[Mutation], Mutation]:
        def register(mutation: Mutation) -> Mutation:
            mutations.append((rule, mutation))
            return mutation

        return register

    return breaks


def swap(case: Case, old: object, *new: object) -> Case:
    return replace(case, plan=put(case.plan, old, *new))


def one(pick, things):
    return things[pick(0, len(things) - 1)]


def a_piece(case: Case, pick: Pick):
    return one(pick, list(case.plan.pieces()))


def a_source(case: Case, pick: Pick):
    return one(pick, list(case.plan.cuts()))
