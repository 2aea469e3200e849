"""How heavy grass is, and the cautions that go with every cut sheet.

Weights are estimates and are printed with 'about': area × the product's weight × 1.05 for core and wrap (a published
label of 845 lb stands against 802 lb computed from area and face weight).

Lifting notes use the guideline figures of HSE leaflet INDG143 for the best position, close to the body between knuckle
and elbow: 25 kg for a man, 16 kg for a woman; a team of three can manage about half the sum of its members' figures
(HSE L23), 37.5 kg at best. A long limp roll is not the easily grasped load those figures assume, so they serve here
only to say what is surely heavy. Nothing here ever says that a lift is safe.
"""

from __future__ import annotations

CORE_AND_WRAP_PERCENT = 5
ONE_PERSON_KG = 16
THREE_PERSON_TENTHS_KG = 375

CAUTIONS = (
    "Knives: fixed-blade or hooked, cut away from the body, cut-resistant gloves, used blades in a sharps tin.",
    "Rolls are heavy: move and turn them with plant, within its rating plate, trained operator, nobody near or under "
    "the load. A roll on a boom cuts what a lift truck may carry.",
    "Lifting: weights here are estimates, more when wet. No note beside a source does not mean that it may be lifted "
    "by hand.",
    "Dust: cut stone and paving wet or with extraction and wear a fitted mask; no dry sweeping.",
    "Follow your own risk assessment, the makers' data sheets and local codes; leave licensed work to those who hold "
    "the licence.",
)


def roll_weight_kg(width_mm: int, length_mm: int, weight_g_m2: int) -> int:
    """Weight of grass on its core in whole kilograms, rounded up.

    Parameters
    ----------
    width_mm, length_mm
        Size; positive.
    weight_g_m2
        Weight of the grass, grams per square metre; positive.
    """
    # mm² × g/m² is 1e-6 g; with the allowance in percent, a kilogram is 1e11 of these.
    return -(-width_mm * length_mm * weight_g_m2 * (100 + CORE_AND_WRAP_PERCENT) // 10**11)


def lifting_note(weight_kg: int) -> str:
    """Say what a weight surely rules out; empty for light ones, which is no clearance.

    Parameters
    ----------
    weight_kg
        Estimated weight, kg.
    """
    if weight_kg * 10 > THREE_PERSON_TENTHS_KG:
        return "too heavy for hands: use plant"
    if weight_kg > ONE_PERSON_KG:
        return "not for one person: assess the lift, use help or plant"
    return ""
