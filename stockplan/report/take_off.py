"""A take-off as text and as JSON: what each job needs beside grass, what all of them need, and the cautions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from textwrap import fill, indent

from stockplan.domain.jobs import Job
from stockplan.domain.materials import Material, Need, TakeOffSettings, pack_sizes
from stockplan.domain.take_off import TakeOff
from stockplan.domain.units import metres, square_metres
from stockplan.report.columns import in_columns
from stockplan.report.handling import GUIDANCE, lifting_note
from stockplan.report.json_text import json_document
from stockplan.report.words import counted, day, printable

TEXT_WIDTH = 100  # characters a line of running text
HEADINGS = ("material", "needed", "to load")
NO_STANDARD = (
    "By the firm's settings (see: stockplan settings): common practice, no standard. Makers' data sheets and the "
    "ground decide."
)
_PACKS = {
    Material.TAPE: ("roll", "rolls"),
    Material.ADHESIVE: ("tub", "tubs"),
    Material.EDGING: ("length", "lengths"),
    Material.FIXINGS: ("pack", "packs"),
    Material.SAND: ("bag", "bags"),
    Material.STONE: ("bulk bag", "bulk bags"),
    Material.MEMBRANE: ("roll", "rolls"),
}
_BY_LENGTH = (Material.TAPE, Material.EDGING, Material.MEMBRANE)


@dataclass(frozen=True, slots=True)
class TakeOffSheet:
    """Take-offs of some jobs, ready to be shown.

    Parameters
    ----------
    jobs
        Each job with its take-off, and the number of the plan whose layout it follows; None where none is followed.
    together
        What all of them need.
    settings
        Those it was reckoned by.
    """

    jobs: tuple[tuple[Job, TakeOff, int | None], ...]
    together: tuple[Need, ...]
    settings: TakeOffSettings


def take_off_text(sheet: TakeOffSheet) -> str:
    """Print a take-off, job by job, then for all of them, what is not known, and the cautions."""
    blocks = [_job_block(sheet, *one) for one in sheet.jobs]
    notes: dict[str, list[str]] = {}
    for job, one, _ in sheet.jobs:
        for note in one.notes:
            notes.setdefault(note, []).append(printable(job.code))
    if len(sheet.jobs) > 1:
        rows = in_columns(HEADINGS, [_row(need, sheet.settings) for need in sheet.together])
        less = "; what is not known of some is not in it" if notes else ""
        blocks.append(f"Together, {counted(len(sheet.jobs), 'job')}{less}\n{indent(rows, '  ')}")
    for note, codes in notes.items():
        blocks.append(_wrapped(f"{', '.join(codes)}: {note}."))
    blocks.append("\n".join(map(_wrapped, [NO_STANDARD, *cautions(sheet)])))
    return "\n\n".join(blocks)


def _wrapped(text: str) -> str:
    return fill(text, TEXT_WIDTH, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False)


def cautions(sheet: TakeOffSheet) -> list[str]:
    """The cautions that go with a take-off: silica, lifting, adhesive, knives, and who decides."""
    kilograms = -(-sheet.settings.sand_bag_g // 1000)
    note = lifting_note(kilograms)
    bag = f"a bag of sand of {kilograms} kg is {note}" if note else f"a bag of sand weighs {kilograms} kg"
    return [
        "Silica: dust of sand and stone scars the lungs for good (UK limit 0.1 mg/m³ over 8 hours, other countries "
        "differ). Pour low, keep upwind, cut stone wet or with extraction, fitted mask; no dry sweeping or blowing.",
        f"Lifting: {bag}; stone in bulk bags and rolls of grass by plant within its rating plate, nobody under or "
        f"near the load. {GUIDANCE}",
        "Adhesive: many give off fumes or hold isocyanates; the data sheet says what air, gloves and mask they need.",
        "Knives: fixed-blade or hooked, cut away from the body, cut-resistant gloves, used blades in a sharps tin.",
        "Follow your own risk assessment, the makers' data sheets and local codes; leave licensed work to those who "
        "hold the licence.",
    ]


def _job_block(sheet: TakeOffSheet, job: Job, one: TakeOff, plan: int | None) -> str:
    by = f"as laid out in plan {plan}" if plan is not None else ""
    about = ", ".join(part for part in (printable(job.site), by) if part)
    lines = [f"{printable(job.code)}, {day(job.lay_on)}, {printable(job.product)}{f': {about}' if about else ''}"]
    lines += [f"  {line}" for line in _measures(one)]
    if one.needs:
        rows = in_columns(HEADINGS, [_row(need, sheet.settings) for need in one.needs])
        lines.append(indent(rows, "  "))
    return "\n".join(lines)


def _measures(one: TakeOff) -> Iterator[str]:
    lawn = f"lawn {square_metres(one.lawn_mm2)} m²" if one.lawn_mm2 is not None else ""
    grass = f"grass as cut {square_metres(one.grass_mm2)} m²" if one.grass_mm2 is not None else ""
    waste = ""
    if one.waste_mm2 is not None and one.grass_mm2:
        waste = f"waste {100 * one.waste_mm2 / one.grass_mm2:.1f} %"
    seam = f"seams {_metres(one.seam_mm)} m" if one.seam_mm is not None else ""
    edge = f"edges {_metres(one.edge_mm)} m" if one.edge_mm is not None else ""
    yield ", ".join(part for part in (lawn, grass, waste, seam, edge) if part)


def _metres(millimetres: int) -> str:
    return metres(-(-millimetres // 10) * 10)


def need_words(need: Need, settings: TakeOffSettings) -> str:
    """Say how much of one material, and in how many packs."""
    load = _to_load(need, settings)
    return _needed(need) if load == "none" else f"{_needed(need)}: {load}"


def _row(need: Need, settings: TakeOffSettings) -> tuple[str, str, str]:
    return need.material.value, _needed(need), _to_load(need, settings)


def _needed(need: Need) -> str:
    if need.most == 0:
        return "none"
    if need.material in _BY_LENGTH:
        return f"{_metres(need.most)} m"
    if need.material is Material.FIXINGS:
        return f"{need.most:,}"
    least, most = _kilograms(need.least), _kilograms(need.most)
    return f"{least} to {most} kg" if least != most else f"{most} kg"


def _kilograms(grams: int) -> str:
    """Kilograms, rounded up: to the tenth below ten, else whole."""
    if grams < 10_000:
        tenths = -(-grams // 100)
        return f"{tenths // 10}.{tenths % 10}"
    return f"{-(-grams // 1000):,}"


def _to_load(need: Need, settings: TakeOffSettings) -> str:
    if need.packs_most == 0:
        return "none"
    one, many = _PACKS[need.material]
    count = counted(need.packs_most, one, many)
    if need.packs_least < need.packs_most:
        count = f"{need.packs_least:,} to {count}"
    pack = pack_sizes(settings)[need.material]
    if need.material is Material.MEMBRANE:
        wide, long = settings.membrane_width_mm, settings.membrane_roll_mm
        return f"{count} of {metres(wide, 1)} × {metres(long, 1)} m"
    if need.material in _BY_LENGTH:
        return f"{count} of {metres(pack, 1)} m"
    if need.material is Material.FIXINGS:
        return f"{count} of {pack:,}"
    return f"{count} of {pack / 1000:g} kg"


def take_off_json(sheet: TakeOffSheet) -> str:
    """Print a take-off as JSON, ending with a newline: whole millimetres and grams, null for what is not known."""
    document = {
        "format": "stockplan-take-off",
        "version": 1,
        "jobs": [_job_record(sheet, *one) for one in sheet.jobs],
        "together": _need_records(sheet.together, sheet.settings),
        "common_practice": NO_STANDARD,
        "cautions": cautions(sheet),
    }
    return json_document(document)


def _job_record(sheet: TakeOffSheet, job: Job, one: TakeOff, plan: int | None) -> dict[str, object]:
    waste = None
    if one.waste_mm2 is not None and one.grass_mm2:
        waste = Decimal(f"{100 * one.waste_mm2 / one.grass_mm2:.2f}")
    return {
        "job": job.code,
        "site": job.site,
        "product": job.product,
        "lay_on": job.lay_on.isoformat(),
        "plan": plan,
        "lawn_mm2": one.lawn_mm2,
        "grass_mm2": one.grass_mm2,
        "waste_percent": waste,
        "seam_mm": one.seam_mm,
        "edge_mm": one.edge_mm,
        "needs": _need_records(one.needs, sheet.settings),
        "notes": list(one.notes),
    }


def _need_records(needs: Sequence[Need], settings: TakeOffSettings) -> list[dict[str, object]]:
    packs = pack_sizes(settings)
    return [
        {
            "material": need.material.value,
            "unit": _unit(need.material),
            "least": need.least,
            "most": need.most,
            "pack": packs[need.material],
            "packs_least": need.packs_least,
            "packs_most": need.packs_most,
        }
        for need in needs
    ]


def _unit(material: Material) -> str:
    if material in _BY_LENGTH:
        return "mm"
    return "pieces" if material is Material.FIXINGS else "g"
