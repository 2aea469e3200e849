"""What grass weighs, and what published guidelines say of lifting it: guidance, never clearance.

Sources: HSE leaflet INDG143, the lifting and lowering filter; HSE L23, team handling; NIOSH, *Applications Manual for
the Revised NIOSH Lifting Equation*, DHHS (NIOSH) 94-110, its tables of multipliers from memory.

Both guidelines are about compact loads that are easily grasped, in good conditions. A long limp roll is neither, so the
figures here can only say what is surely too much. Local rules, a risk assessment and trained, licensed practice decide.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from fractions import Fraction
from functools import cache

CORE_AND_WRAP_PERCENT = 5  # a label of 845 lb stood against 802 lb computed from area and face weight


def weight_kg(width_mm: int, length_mm: int, weight_g_m2: int) -> int:
    """Weight of grass in whole kilograms, rounded up, with 5 % for core and wrap: 'about', and more when wet.

    A loose piece gets the 5 % too: it errs on the side that hurts nobody.

    Parameters
    ----------
    width_mm, length_mm
        Size; positive.
    weight_g_m2
        Weight of the grass, grams per square metre; positive.
    """
    # mm² × g/m² is 1e-6 g; with the allowance in percent, a kilogram is 1e11 of these.
    return -(-width_mm * length_mm * weight_g_m2 * (100 + CORE_AND_WRAP_PERCENT) // 10**11)


class HandHeight(StrEnum):
    """Where the hands are, of the zones of INDG143; a lift that passes several counts as the worst."""

    ABOVE_SHOULDER = "above the shoulder"
    SHOULDER_TO_ELBOW = "shoulder to elbow"
    ELBOW_TO_KNUCKLE = "elbow to knuckle"
    KNUCKLE_TO_MID_LOWER_LEG = "knuckle to mid lower leg"
    BELOW_MID_LOWER_LEG = "below mid lower leg"


FILTER_KG = {  # INDG143: men close, men at arm's length, women close, women at arm's length
    HandHeight.ABOVE_SHOULDER: (10, 5, 7, 3),
    HandHeight.SHOULDER_TO_ELBOW: (20, 10, 13, 7),
    HandHeight.ELBOW_TO_KNUCKLE: (25, 15, 16, 10),
    HandHeight.KNUCKLE_TO_MID_LOWER_LEG: (20, 10, 13, 7),
    HandHeight.BELOW_MID_LOWER_LEG: (10, 5, 7, 3),
}


def guideline_kg(height: HandHeight, *, extended: bool, women: bool) -> int:
    """Guideline figure of INDG143 for one person, kg: above it, look closer; below it, nothing is promised.

    Parameters
    ----------
    height
        Where the hands are.
    extended
        At arm's length rather than close to the body.
    women
        The figures for women, which protect more people.
    """
    return FILTER_KG[height][2 * women + extended]


def team_kg(each_kg: Sequence[int]) -> Fraction:
    """What a team can manage at best: the sum of its members' figures for one, two thirds for two, half for three.

    Parameters
    ----------
    each_kg
        Each member's own figure, kg; one to three of them.

    Raises
    ------
    ValueError
        When there are none, or more than three, for whom L23 gives no figure.
    """
    shares = {1: Fraction(1), 2: Fraction(2, 3), 3: Fraction(1, 2)}
    if len(each_kg) not in shares:
        raise ValueError(f"figures are published for teams of one to three, not of {len(each_kg)}")
    return shares[len(each_kg)] * sum(each_kg)


ONE_PERSON_KG = guideline_kg(HandHeight.ELBOW_TO_KNUCKLE, extended=False, women=True)
TEAM_MEMBER_KG = guideline_kg(HandHeight.ELBOW_TO_KNUCKLE, extended=False, women=False)


@cache
def fewest_people(weight: int) -> int | None:
    """Fewest people whom any guideline figure would let lift so much, 1 to 3; None when only plant will do.

    Whoever lifts alone may be anyone, so one person counts with the figure for women, 16 kg. A team counts with the
    most there is, 25 kg each: two 33.3 kg, three 37.5 kg. More people, or plant, are needed wherever a lift is not the
    best there is, and a long limp roll never is.

    Parameters
    ----------
    weight
        Whole kg.
    """
    if weight <= ONE_PERSON_KG:
        return 1
    return next((people for people in (2, 3) if weight <= team_kg([TEAM_MEMBER_KG] * people)), None)


# Lifts a minute, then the frequency multiplier for up to 1, 2 and 8 hours of lifting, each with the hands below 75 cm
# and at 75 cm or above (94-110, table 5).
FREQUENCY: tuple[tuple[float, tuple[tuple[float, float], tuple[float, float], tuple[float, float]]], ...] = (
    (0.2, ((1.00, 1.00), (0.95, 0.95), (0.85, 0.85))),
    (0.5, ((0.97, 0.97), (0.92, 0.92), (0.81, 0.81))),
    (1, ((0.94, 0.94), (0.88, 0.88), (0.75, 0.75))),
    (2, ((0.91, 0.91), (0.84, 0.84), (0.65, 0.65))),
    (3, ((0.88, 0.88), (0.79, 0.79), (0.55, 0.55))),
    (4, ((0.84, 0.84), (0.72, 0.72), (0.45, 0.45))),
    (5, ((0.80, 0.80), (0.60, 0.60), (0.35, 0.35))),
    (6, ((0.75, 0.75), (0.50, 0.50), (0.27, 0.27))),
    (7, ((0.70, 0.70), (0.42, 0.42), (0.22, 0.22))),
    (8, ((0.60, 0.60), (0.35, 0.35), (0.18, 0.18))),
    (9, ((0.52, 0.52), (0.30, 0.30), (0.00, 0.15))),
    (10, ((0.45, 0.45), (0.26, 0.26), (0.00, 0.13))),
    (11, ((0.41, 0.41), (0.00, 0.23), (0.00, 0.00))),
    (12, ((0.37, 0.37), (0.00, 0.21), (0.00, 0.00))),
    (13, ((0.00, 0.34), (0.00, 0.00), (0.00, 0.00))),
    (14, ((0.00, 0.31), (0.00, 0.00), (0.00, 0.00))),
    (15, ((0.00, 0.28), (0.00, 0.00), (0.00, 0.00))),
)
HOURS = (1, 2, 8)
LOAD_CONSTANT_KG = 23.0
KNUCKLE_CM = 75


class Grasp(StrEnum):
    """How well hands hold a load (94-110, table 7)."""

    GOOD = "good"
    FAIR = "fair"
    POOR = "poor"


COUPLING = {Grasp.GOOD: (1.00, 1.00), Grasp.FAIR: (0.95, 1.00), Grasp.POOR: (0.90, 0.90)}


def frequency_multiplier(lifts_a_minute: float, hours: int, hands_cm: float) -> float:
    """Frequency multiplier of the lifting equation; the table's next row where a rate lies between two.

    Parameters
    ----------
    lifts_a_minute
        0 or more; 0.2 and less count as 0.2.
    hours
        How long the lifting goes on: 1, 2 or 8.
    hands_cm
        Height of the hands above the floor where the lift begins.
    """
    row = next((multipliers for rate, multipliers in FREQUENCY if lifts_a_minute <= rate), None)
    return row[HOURS.index(hours)][hands_cm >= KNUCKLE_CM] if row else 0.0


def recommended_weight_limit_kg(
    *,
    reach_cm: float,
    from_cm: float,
    travel_cm: float,
    turn_degrees: float = 0.0,
    frequency: float = 1.0,
    grasp: Grasp = Grasp.POOR,
) -> float:
    """Recommended weight limit of one person's lift, kg: RWL = LC · HM · VM · DM · AM · FM · CM (94-110).

    HM = 25 / H, VM = 1 − 0.003·|V − 75|, DM = 0.82 + 4.5 / D, AM = 1 − 0.0032·A; none counts for more than 1.

    Parameters
    ----------
    reach_cm
        H, from the middle between the ankles to the hands; beyond 63 cm the limit is 0.
    from_cm
        V, height of the hands where the lift begins; beyond 175 cm the limit is 0.
    travel_cm
        D, how far the hands go up or down; beyond 175 cm the limit is 0.
    turn_degrees
        A, how far the body twists, 0 or more; beyond 135 the limit is 0. Default 0.
    frequency
        FM, see `frequency_multiplier`; default 1, for now and then.
    grasp
        For CM; default poor, as for a long limp roll.
    """
    if reach_cm > 63 or not 0 <= from_cm <= 175 or travel_cm > 175 or turn_degrees > 135:
        return 0.0
    horizontal = min(1.0, 25 / reach_cm) if reach_cm > 0 else 1.0
    vertical = 1 - 0.003 * abs(from_cm - KNUCKLE_CM)
    distance = min(1.0, 0.82 + 4.5 / travel_cm) if travel_cm > 0 else 1.0
    asymmetry = 1 - 0.0032 * turn_degrees
    coupling = COUPLING[grasp][from_cm >= KNUCKLE_CM]
    return LOAD_CONSTANT_KG * horizontal * vertical * distance * asymmetry * frequency * coupling
