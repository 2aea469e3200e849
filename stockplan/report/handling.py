"""How heavy grass is, and the cautions that go with every cut sheet.

Weights and the figures behind the notes are those of `stockplan/domain/lifting.py`. Nothing here ever says that a lift
is safe.
"""

from __future__ import annotations

from stockplan.domain.lifting import ONE_PERSON_KG, TEAM_MEMBER_KG, fewest_people, team_kg

GUIDANCE = "Guidance, not clearance: follow local rules and trained, licensed practice."
GUIDELINE = (
    f"People and plant by the best-case figures of HSE INDG143 and L23 ({ONE_PERSON_KG} kg for one person, "
    f"{float(team_kg([TEAM_MEMBER_KG] * 2)):.1f} kg for two, {float(team_kg([TEAM_MEMBER_KG] * 3)):.1f} kg for three). "
    "They hold for loads easily grasped, which a long limp roll is not."
)

LIFT_KEY = (
    "lift: people at least, or plant. Weights are estimates, more when wet; where nothing stands, that does not mean "
    f"that it may be lifted by hand.\n{GUIDELINE}\n{GUIDANCE}"
)

CAUTIONS = (
    "Knives: fixed-blade or hooked, cut away from the body, cut-resistant gloves, used blades in a sharps tin.",
    "Rolls are heavy: move and turn them with plant, within its rating plate, trained operator, nobody near or under "
    "the load. A roll on a boom cuts what a lift truck may carry.",
    "Lifting: weights here are estimates, more when wet. No note beside a source does not mean that it may be lifted "
    f"by hand. {GUIDELINE} {GUIDANCE}",
    "Dust: cut stone and paving wet or with extraction and wear a fitted mask; no dry sweeping.",
    "Follow your own risk assessment, the makers' data sheets and local codes; leave licensed work to those who hold "
    "the licence.",
)


def lifting_note(weight_kg: int) -> str:
    """Say what a weight surely rules out; empty for light ones, which is no clearance.

    Parameters
    ----------
    weight_kg
        Estimated weight, kg.
    """
    needs = lift_needs(weight_kg)
    if not needs:
        return ""
    return f"{'too heavy for hands' if fewest_people(weight_kg) is None else 'not for one person'}: {needs}"


def weight_words(weight_kg: int, *, wet: bool) -> str:
    """Say what something weighs, and what that surely rules out.

    Parameters
    ----------
    weight_kg
        Estimated weight when dry, kg.
    wet
        Whether it is on record as wet.
    """
    note = lifting_note(weight_kg)
    return f"about {weight_kg} kg{' when dry, more as it is wet' if wet else ''}{f'; {note}' if note else ''}"


def lift_needs(weight_kg: int) -> str:
    """Say what `lifting_note` asks for at least, without what it rules out; empty where it is."""
    people = fewest_people(weight_kg)
    if people is None:
        return "use plant"
    return f"{people} people at least, or plant" if people > 1 else ""


def lift_words(weight_kg: int) -> str:
    """Say in a word or two, for a column, what `lifting_note` says in full."""
    people = fewest_people(weight_kg)
    return "plant" if people is None else f"{people} people" if people > 1 else ""
