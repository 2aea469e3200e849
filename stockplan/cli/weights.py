"""Telling what a thing weighs as it is handled, and what that surely rules out."""

from __future__ import annotations

from collections.abc import Sequence

from stockplan.cli.saying import say


def tell_weight(where: str | None, tag: str) -> None:
    """Print what a thing in the yard weighs, with what lifting it needs; nothing where its product has no weight.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    tag
        Of a thing in the yard.
    """
    from stockplan.actions.labelling import Wanted, find_labels  # noqa: PLC0415
    from stockplan.report.handling import GUIDANCE, lifting_note, weight_words  # noqa: PLC0415

    (facts,) = find_labels(where, Wanted((tag,))).facts
    if facts.weight_kg is None:
        return
    wet = facts.condition == "wet"
    print(f"It weighs {weight_words(facts.weight_kg, wet=wet)}.")
    if wet or lifting_note(facts.weight_kg):
        say(GUIDANCE)


def tell_heavy(where: str | None, tags: Sequence[str]) -> None:
    """Print what those of some things in the yard weigh that should not be lifted by one person, or are wet.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    tags
        Of things in the yard.
    """
    from stockplan.actions.labelling import Wanted, find_labels  # noqa: PLC0415
    from stockplan.report.handling import GUIDANCE, lifting_note, weight_words  # noqa: PLC0415

    noted = False
    for facts in find_labels(where, Wanted(tuple(tags))).facts if tags else ():
        wet = facts.condition == "wet"
        if facts.weight_kg is not None and (wet or lifting_note(facts.weight_kg)):
            print(f"{facts.code} weighs {weight_words(facts.weight_kg, wet=wet)}.")
            noted = True
    if noted:
        say(GUIDANCE)
