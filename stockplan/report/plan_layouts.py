"""Layouts and lawns in the plan file: written and read back.

A layout is stated in each lawn's turned frame: `along` grows the way the pile leans, `across` to the right of somebody
who looks that way; both from the lawn's own origin. `bearing` is clockwise from the lawn's y axis.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict
from decimal import Decimal
from typing import Any

from stockplan.domain.jobs import Job
from stockplan.domain.lawn import EdgeNote, Lawn, LawnPlace, Point, Ring
from stockplan.domain.layout import LaidLawn, Layout, PlacedStrip, Seam, SeamKind
from stockplan.domain.pile import PileWish, parse_pile
from stockplan.domain.plan import ChosenLayout
from stockplan.report.json_text import amount, pence_of

Record = dict[str, Any]

STRIP_PLACES = (
    "number",
    "lane",
    "across_from_mm",
    "across_to_mm",
    "along_from_mm",
    "along_to_mm",
    "width_mm",
    "length_mm",
    "roll_width_mm",
)


def layout_record(chosen: ChosenLayout, product: str) -> Record:
    """A layout picked, as the plan file states it."""
    layout = chosen.layout
    return {
        "job": chosen.job,
        "product": product,
        "layout": layout.label,
        "either_way": layout.either_way,
        "seam_cost": amount(chosen.seam_cost_pence),
        "seam_cost_when_laid": amount(layout.seam_cost_pence),
        "area_cut_mm2": layout.area_cut_mm2,
        "seam_mm": layout.seam_mm,
        "lawns": [_laid_record(laid) for laid in layout.lawns],
    }


def _laid_record(laid: LaidLawn) -> Record:
    return {
        "lawn": laid.lawn,
        "bearing": Decimal(repr(laid.bearing)),
        "area_mm2": laid.area_mm2,
        "borders_mm": list(laid.borders),
        "strips": [
            {"strip": strip.label, **{name: getattr(strip, name) for name in STRIP_PLACES}} for strip in laid.strips
        ],
        "seams": [
            {"kind": seam.kind.value, **{k: v for k, v in asdict(seam).items() if k.endswith("_mm")}}
            for seam in laid.seams
        ],
    }


def read_layout(entry: Record) -> ChosenLayout:
    """Read one back."""
    lawns = tuple(_laid(laid) for laid in entry["lawns"])
    layout = Layout(entry["layout"], lawns, pence_of(entry["seam_cost_when_laid"]), entry["either_way"])
    return ChosenLayout(entry["job"], layout, pence_of(entry["seam_cost"]))


def _laid(entry: Record) -> LaidLawn:
    lawn = entry["lawn"]
    return LaidLawn(
        lawn=lawn,
        bearing=float(entry["bearing"]),
        area_mm2=entry["area_mm2"],
        strips=tuple(
            PlacedStrip(lawn=lawn, label=strip["strip"], **{name: strip[name] for name in STRIP_PLACES})
            for strip in entry["strips"]
        ),
        seams=tuple(
            Seam(lawn, SeamKind(seam["kind"]), **{k: v for k, v in seam.items() if k.endswith("_mm")})
            for seam in entry["seams"]
        ),
        borders=tuple(entry["borders_mm"]),
    )


def lawn_records(job: Job) -> Record:
    """A job's lawns and pile wish, as the plan file states them beside its strips; nothing where it has none."""
    if not job.lawns:
        return {}
    wish = {} if job.pile is None else {"pile": str(job.pile)}
    return {"lawns": [_lawn_record(lawn) for lawn in job.lawns], **wish}


def _lawn_record(lawn: Lawn) -> Record:
    return {
        "lawn": lawn.label,
        "edge_mm": _ring_record(lawn.edge),
        "holes_mm": [_ring_record(hole) for hole in lawn.holes],
        "sides": [{"side": note.number, "name": note.name, "no_seam": note.no_seam} for note in lawn.notes],
        "place": lawn.place.value,
        "y_bearing": None if lawn.y_bearing is None else Decimal(repr(lawn.y_bearing)),
        "pile": None if lawn.pile is None else str(lawn.pile),
        "cannot_be_seen_with": list(lawn.cannot_be_seen_with),
    }


def _ring_record(ring: Ring) -> list[list[int]]:
    return [[point.x_mm, point.y_mm] for point in ring]


def read_lawns(entry: Record) -> tuple[tuple[Lawn, ...], PileWish | None]:
    """Read a job's lawns and pile wish back."""
    lawns = tuple(_lawn(lawn) for lawn in entry.get("lawns", ()))
    return lawns, parse_pile(entry["pile"]) if "pile" in entry else None


def _lawn(entry: Record) -> Lawn:
    return Lawn(
        label=entry["lawn"],
        edge=_ring(entry["edge_mm"]),
        holes=tuple(_ring(hole) for hole in entry["holes_mm"]),
        notes=tuple(EdgeNote(side["side"], side["name"], side["no_seam"]) for side in entry["sides"]),
        place=LawnPlace(entry["place"]),
        y_bearing=None if entry["y_bearing"] is None else float(entry["y_bearing"]),
        pile=None if entry["pile"] is None else parse_pile(entry["pile"]),
        cannot_be_seen_with=tuple(entry["cannot_be_seen_with"]),
    )


def _ring(corners: Iterable[list[int]]) -> Ring:
    return tuple(Point(x, y) for x, y in corners)
