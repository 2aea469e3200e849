"""Telling what a thing weighs as it is handled, and what that surely rules out."""

from __future__ import annotations

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
    from stockplan.report.handling import GUIDANCE, lifting_note  # noqa: PLC0415

    (facts,) = find_labels(where, Wanted((tag,))).facts
    if facts.weight_kg is None:
        return
    wet, note = facts.condition == "wet", lifting_note(facts.weight_kg)
    print(
        f"It weighs about {facts.weight_kg} kg"
        + (" when dry, more as it is wet" if wet else "")
        + (f"; {note}" if note else "")
        + "."
    )
    if note or wet:
        say(GUIDANCE)
