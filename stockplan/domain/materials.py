"""What is taken to a lawn beside grass, how much of it goes where, and in what packs it is sold.

The defaults are common practice, not a standard, and sizes of packs often met; both are the firm's to change, and a
maker's data sheet goes before them. `stockplan/domain/settings.py` gives each its bounds and its reason.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Material(StrEnum):
    """What is taken to a lawn beside the grass."""

    TAPE = "joining tape"
    ADHESIVE = "adhesive"
    EDGING = "edging"
    FIXINGS = "edge fixings"
    SAND = "infill sand"
    STONE = "fine stone"
    MEMBRANE = "membrane"


@dataclass(frozen=True, slots=True)
class TakeOffSettings:
    """How much of each material goes where, and in what packs it is sold.

    Parameters
    ----------
    tape_extra_percent
        Tape beyond the seams' length, for overlaps and ends.
    tape_roll_mm
        Length of a roll of tape.
    adhesive_least_g_per_m, adhesive_most_g_per_m
        Adhesive for a metre of seam.
    adhesive_pack_g
        Adhesive in a tub or cartridge.
    edging_extra_percent
        Edging beyond the edge's length, for cuts at corners.
    edging_length_mm
        Length in which edging is sold.
    fixing_spacing_mm
        From one fixing to the next along the edge.
    fixing_pack
        Fixings in a pack.
    sand_least_g_per_m2, sand_most_g_per_m2
        Infill sand for a square metre of lawn.
    sand_bag_g
        Sand in a bag.
    stone_thickness_mm
        Fine stone under the lawn, as laid.
    stone_density_kg_per_m3
        What a cubic metre of it weighs as laid.
    stone_bag_g
        Stone in a bulk bag.
    membrane_lap_mm
        How far one strip of membrane lies over the next.
    membrane_end_mm
        Length of each strip of membrane beyond the ground, both ends together.
    membrane_width_mm, membrane_roll_mm
        Width and length of a roll of membrane.
    """

    tape_extra_percent: int = 5
    tape_roll_mm: int = 20_000
    adhesive_least_g_per_m: int = 350
    adhesive_most_g_per_m: int = 500
    adhesive_pack_g: int = 5_000
    edging_extra_percent: int = 5
    edging_length_mm: int = 3_000
    fixing_spacing_mm: int = 300
    fixing_pack: int = 100
    sand_least_g_per_m2: int = 6_000
    sand_most_g_per_m2: int = 8_000
    sand_bag_g: int = 25_000
    stone_thickness_mm: int = 40
    stone_density_kg_per_m3: int = 1_700
    stone_bag_g: int = 850_000
    membrane_lap_mm: int = 150
    membrane_end_mm: int = 200
    membrane_width_mm: int = 2_000
    membrane_roll_mm: int = 50_000


@dataclass(frozen=True, slots=True)
class Need:
    """How much of one material.

    Parameters
    ----------
    material
        Which.
    least, most
        Millimetres of tape, edging and membrane, grams of adhesive, sand and stone, pieces of fixings; equal where
        common practice gives no range.
    packs_least, packs_most
        Packs of the size set, rounded up.
    """

    material: Material
    least: int
    most: int
    packs_least: int
    packs_most: int


def pack_sizes(settings: TakeOffSettings) -> dict[Material, int]:
    """Size of a pack of each material, in the units of `Need`."""
    return {
        Material.TAPE: settings.tape_roll_mm,
        Material.ADHESIVE: settings.adhesive_pack_g,
        Material.EDGING: settings.edging_length_mm,
        Material.FIXINGS: settings.fixing_pack,
        Material.SAND: settings.sand_bag_g,
        Material.STONE: settings.stone_bag_g,
        Material.MEMBRANE: settings.membrane_roll_mm,
    }
