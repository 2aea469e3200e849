"""What published guidelines say of one lift, as text for a risk assessment to start from."""

from __future__ import annotations

from dataclasses import dataclass

from stockplan.domain.lifting import (
    TEAM_MEMBER_KG,
    Grasp,
    HandHeight,
    frequency_multiplier,
    guideline_kg,
    recommended_weight_limit_kg,
    team_kg,
)
from stockplan.report.columns import in_columns
from stockplan.report.handling import GUIDANCE, lifting_note

WET = (
    "It is wet by the record: it weighs more than that, and nothing below counts the water. Find out before lifting it."
)


@dataclass(frozen=True, slots=True)
class Lift:
    """How something is lifted; each as in `recommended_weight_limit_kg` and `frequency_multiplier`.

    Parameters
    ----------
    reach_cm, from_cm, to_cm, turn_degrees
        Hands before the ankles, their height where the lift begins and ends, and how far the body twists.
    lifts_a_minute, hours
        How often, and how long that goes on.
    grasp
        How well the hands hold it.
    """

    reach_cm: float
    from_cm: float
    to_cm: float
    turn_degrees: float
    lifts_a_minute: float
    hours: int
    grasp: Grasp

    def limit_kg(self) -> float:
        """The lower of the limits at both ends of the lift, kg."""
        return min(
            recommended_weight_limit_kg(
                reach_cm=self.reach_cm,
                from_cm=hands_cm,
                travel_cm=abs(self.to_cm - self.from_cm),
                turn_degrees=self.turn_degrees,
                frequency=frequency_multiplier(self.lifts_a_minute, self.hours, hands_cm),
                grasp=self.grasp,
            )
            for hands_cm in (self.from_cm, self.to_cm)
        )


def lift_text(name: str, weight_kg: int, lift: Lift, condition: str = "") -> str:
    """Hold a weight against both guidelines.

    Parameters
    ----------
    name, weight_kg
        What is lifted, and about what it weighs.
    lift
        How.
    condition
        In what condition it is by the record; default sound.
    """
    note = lifting_note(weight_kg)
    rows = [
        (
            height.value,
            *(
                _marked(guideline_kg(height, extended=extended, women=women), weight_kg)
                for women in (False, True)
                for extended in (False, True)
            ),
        )
        for height in HandHeight
    ]
    headings = ("hands", "men, close", "men, arm's length", "women, close", "women, arm's length")
    limit = lift.limit_kg()
    share = f"{weight_kg / limit:.1f} times as much" if limit else "no lift at all by this equation"
    teams = " and ".join(
        f"{people} people {float(team_kg([TEAM_MEMBER_KG] * people)):.1f} kg at best" for people in (2, 3)
    )
    return "\n".join(
        (
            f"{name}: about {weight_kg} kg{f'; {note}' if note else ''}",
            *([WET] if condition == "wet" else []),
            "",
            f"HSE INDG143, kg for one person; {weight_kg} kg is over what is marked *. L23: {teams}.",
            in_columns(headings, rows, right=headings[1:]),
            "",
            f"NIOSH 94-110, hands {lift.reach_cm:g} cm before the ankles, from {lift.from_cm:g} to {lift.to_cm:g} cm "
            f"above the floor, turning {lift.turn_degrees:g} degrees,",
            f"{lift.lifts_a_minute:g} lifts a minute for up to {lift.hours} h, {lift.grasp.value} grasp: recommended "
            f"limit {limit:.1f} kg; {name} is {share}.",
            "",
            "Both are about compact loads in good conditions. A long limp roll is not easily grasped, and wet it is",
            "heavier still.",
            GUIDANCE,
        )
    )


def _marked(figure_kg: int, weight_kg: int) -> str:
    return f"{figure_kg} {'*' if weight_kg > figure_kg else ' '}"
