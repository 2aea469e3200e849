"""Take-off: what a lawn needs beside grass, and how many packs of each to load.

Every quantity is a length, an area or a count times a setting of the firm. Amounts are whole millimetres, grams and
pieces; a range is carried as its two ends, and packs are rounded up at the very end.

A job given as strips alone has no outline: its edge and membrane cannot be known, and what goes by area is reckoned on
the strips' area, which is at least the lawn's.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from stockplan.domain.materials import Material, Need, TakeOffSettings, pack_sizes
from stockplan.domain.surfaces import Ground, Surface
from stockplan.domain.units import MM2_PER_M2, MM_PER_M


@dataclass(frozen=True, slots=True)
class TakeOff:
    """What one job needs.

    Parameters
    ----------
    job
        The job's code.
    grass_mm2
        Area of its strips as cut; None where they are not all worked out.
    lawn_mm2
        Area of its lawns; None where some of it is given as strips alone.
    seam_mm
        Length of all seams, by assumption where it is given as strips alone; None while strips are not worked out.
    edge_mm
        Length of all edges, those of holes included; None where some of it is given as strips alone.
    needs
        In order of `Material`; what cannot be known is not among them.
    membrane_strips_mm
        Lengths of the strips of membrane, none longer than a roll.
    notes
        Sentences that say what cannot be known, or was assumed.
    """

    job: str
    grass_mm2: int | None
    lawn_mm2: int | None
    seam_mm: int | None
    edge_mm: int | None
    needs: tuple[Need, ...]
    membrane_strips_mm: tuple[int, ...]
    notes: tuple[str, ...]

    @property
    def waste_mm2(self) -> int | None:
        """Grass that ends off the lawn; None where either area is not known."""
        if self.grass_mm2 is None or self.lawn_mm2 is None:
            return None
        return self.grass_mm2 - self.lawn_mm2

    def need(self, material: Material) -> Need | None:
        """The need for one material; None where it cannot be known."""
        return next((need for need in self.needs if need.material is material), None)


STRIPS_ALONE = (
    "given as strips alone: edging, fixings, membrane and waste cannot be known; sand and stone are reckoned on the "
    "strips' area, which is more than the lawn's"
)
SEAMS_ASSUMED = "strips were given as a list: seams are reckoned as if they lay side by side in the order listed"
NOT_WORKED_OUT = "strips not worked out yet: grass, waste, tape and adhesive are not known until the job is planned"


def take_off(job: str, surfaces: Sequence[Surface], settings: TakeOffSettings) -> TakeOff:
    """Reckon what one job needs.

    Parameters
    ----------
    job
        The job's code.
    surfaces
        Its lawns, and its strips that belong to none; at least one.
    settings
        The firm's.
    """
    grounds = [surface.ground for surface in surfaces if surface.ground]
    loose = [surface for surface in surfaces if surface.ground is None]
    seams = [surface.seam_mm for surface in surfaces]
    grass = [_grass_mm2(surface) for surface in surfaces]
    known_seams = [seam for seam in seams if seam is not None]
    known_grass = [area for area in grass if area is not None]
    seam = sum(known_seams) if len(known_seams) == len(seams) else None
    edge = None if loose else sum(ground.edge_mm + ground.holes_mm for ground in grounds)
    covered = sum(ground.area_mm2 for ground in grounds) + sum(_grass_mm2(surface) or 0 for surface in loose)
    membrane = None if loose else [length for ground in grounds for length in membrane_strips(ground, settings)]
    amounts: dict[Material, tuple[int, int]] = {}
    if seam is not None:
        amounts |= _along_seams(seam, settings)
    if edge is not None:
        amounts |= _along_edges([ground.edge_mm + ground.holes_mm for ground in grounds], settings)
    amounts |= _over_area(covered, settings)
    if membrane is not None:
        amounts[Material.MEMBRANE] = (sum(membrane), sum(membrane))
    told = {
        STRIPS_ALONE: bool(loose),
        SEAMS_ASSUMED: any(surface.seams_assumed for surface in surfaces),
        NOT_WORKED_OUT: len(known_grass) < len(grass),
    }
    return TakeOff(
        job=job,
        grass_mm2=sum(known_grass) if len(known_grass) == len(grass) else None,
        lawn_mm2=None if loose else sum(ground.area_mm2 for ground in grounds),
        seam_mm=seam,
        edge_mm=edge,
        needs=_needs(amounts, membrane or (), settings),
        membrane_strips_mm=tuple(membrane or ()),
        notes=tuple(note for note, true in told.items() if true),
    )


def together(take_offs: Sequence[TakeOff], settings: TakeOffSettings) -> tuple[Need, ...]:
    """Add up what several jobs need; packs are rounded up once, for all of them.

    Parameters
    ----------
    take_offs
        One a job; what a job's take-off does not know is not in the sum.
    settings
        Those the take-offs were made with.
    """
    amounts: defaultdict[Material, tuple[int, int]] = defaultdict(lambda: (0, 0))
    for one in take_offs:
        for need in one.needs:
            least, most = amounts[need.material]
            amounts[need.material] = (least + need.least, most + need.most)
    return _needs(amounts, [length for one in take_offs for length in one.membrane_strips_mm], settings)


def membrane_strips(ground: Ground, settings: TakeOffSettings) -> tuple[int, ...]:
    """Lengths of the strips of membrane over the rectangle around a lawn, the way that takes less of it.

    Parameters
    ----------
    ground
        The lawn.
    settings
        Lap, end, and the roll's size.
    """
    ways = ((ground.width_mm, ground.length_mm), (ground.length_mm, ground.width_mm))
    return min((laid_membrane(breadth, run, settings) for breadth, run in ways), key=sum)


def laid_membrane(breadth_mm: int, run_mm: int, settings: TakeOffSettings) -> tuple[int, ...]:
    """Lengths of the strips of membrane over a rectangle, laid along `run_mm`.

    Strips of width w, each lapping the next by l, cover a breadth B when there are ceil((B - l) / (w - l)) of them,
    as in a geotextile supplier's worked example (2014). One longer than a roll is joined with the same lap.

    Parameters
    ----------
    breadth_mm, run_mm
        Sides of the rectangle; positive.
    settings
        Lap, end, and the roll's size; the roll is wider and longer than the lap.
    """
    lap, width, roll = settings.membrane_lap_mm, settings.membrane_width_mm, settings.membrane_roll_mm
    count = max(1, _ceiling(breadth_mm - lap, width - lap))
    length = run_mm + settings.membrane_end_mm
    rolls = max(1, _ceiling(length - lap, roll - lap))
    last = length + (rolls - 1) * (lap - roll)
    return (*[roll] * (rolls - 1), last) * count


def rolls_of(strips_mm: Iterable[int], roll_mm: int) -> int:
    """How many rolls give strips of these lengths, each whole: longest first, from the first roll that still holds it.

    Parameters
    ----------
    strips_mm
        Lengths, none longer than a roll.
    roll_mm
        Length of a roll.
    """
    left: list[int] = []
    for length in sorted(strips_mm, reverse=True):
        found = next((index for index, rest in enumerate(left) if rest >= length), None)
        if found is None:
            left.append(roll_mm - length)
        else:
            left[found] -= length
    return len(left)


def _grass_mm2(surface: Surface) -> int | None:
    return None if surface.strips is None else sum(strip.area_mm2 for strip in surface.strips)


def _along_seams(seam_mm: int, settings: TakeOffSettings) -> dict[Material, tuple[int, int]]:
    tape = _ceiling(seam_mm * (100 + settings.tape_extra_percent), 100)
    rates = (settings.adhesive_least_g_per_m, settings.adhesive_most_g_per_m)
    least, most = (_ceiling(seam_mm * rate, MM_PER_M) for rate in rates)
    return {Material.TAPE: (tape, tape), Material.ADHESIVE: (least, most)}


def _along_edges(edges_mm: Sequence[int], settings: TakeOffSettings) -> dict[Material, tuple[int, int]]:
    edging = _ceiling(sum(edges_mm) * (100 + settings.edging_extra_percent), 100)
    fixings = sum(_ceiling(edge, settings.fixing_spacing_mm) for edge in edges_mm)
    return {Material.EDGING: (edging, edging), Material.FIXINGS: (fixings, fixings)}


def _over_area(area_mm2: int, settings: TakeOffSettings) -> dict[Material, tuple[int, int]]:
    rates = (settings.sand_least_g_per_m2, settings.sand_most_g_per_m2)
    least, most = (_ceiling(area_mm2 * rate, MM2_PER_M2) for rate in rates)
    # mm³ × kg/m³ is 1e-9 kg, so a gram is 1e6 of these.
    stone = _ceiling(area_mm2 * settings.stone_thickness_mm * settings.stone_density_kg_per_m3, 10**6)
    return {Material.SAND: (least, most), Material.STONE: (stone, stone)}


def _needs(
    amounts: Mapping[Material, tuple[int, int]], membrane: Iterable[int], settings: TakeOffSettings
) -> tuple[Need, ...]:
    packs = pack_sizes(settings)
    needs = []
    for material in Material:
        if material not in amounts:
            continue
        least, most = amounts[material]
        if material is Material.MEMBRANE:
            rolls = rolls_of(membrane, settings.membrane_roll_mm)
            needs.append(Need(material, least, most, rolls, rolls))
        else:
            pack = packs[material]
            needs.append(Need(material, least, most, _ceiling(least, pack), _ceiling(most, pack)))
    return tuple(needs)


def _ceiling(amount: int, per: int) -> int:
    return -(-amount // per)
