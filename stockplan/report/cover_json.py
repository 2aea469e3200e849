"""What covers a small job, as JSON: `cover.schema.json` beside this file states every key."""

from __future__ import annotations

from decimal import Decimal

from stockplan.domain.cover import Answer, Coverage, Freeing, Laying, Miss, Move, Take
from stockplan.domain.cover_source import Source
from stockplan.domain.pieces import Pieces
from stockplan.report.cover_text import answer_line, miss_line, verdict
from stockplan.report.json_text import amount, json_document

FORMAT = "stockplan-cover"
VERSION = 1

Record = dict[str, object]


def cover_to_json(coverage: Coverage, currency: str, held: tuple[str, ...] = (), note: str = "") -> str:
    """Print answers as JSON, ending with a newline.

    Parameters
    ----------
    coverage
        The answers.
    currency
        ISO 4217 code.
    held
        Tags that were held by the same command; default none.
    note
        How a lawn is laid; default nothing.
    """
    question = coverage.question
    several = len(question.products) > 1
    return json_document(
        {
            "format": FORMAT,
            "version": VERSION,
            "currency": currency,
            "question": {
                "sizes": sizes_record(question.pieces),
                "products": list(question.products),
                "today": question.today.isoformat(),
                "lay_on": question.lay_on.isoformat() if question.lay_on else None,
            },
            "note": note,
            "verdict": verdict(coverage),
            "answers": [answer_record(answer, several) for answer in coverage.answers],
            "proposed": [{"source": one.source, "plan": one.plan, "jobs": list(one.jobs)} for one in coverage.proposed],
            "misses": [_miss(miss) for miss in coverage.misses],
            "held": list(held),
        }
    )


def sizes_record(pieces: Pieces) -> list[Record]:
    """State sizes, alike ones once with their count."""
    return [
        {"width_mm": width, "length_mm": length, "count": pieces.count((width, length))}
        for width, length in dict.fromkeys(pieces)
    ]


def answer_record(answer: Answer, several: bool = False) -> Record:
    """State one answer."""
    return {
        "ready": answer.ready.value,
        "in_time": answer.in_time,
        "from": answer.from_day.isoformat() if answer.from_day else None,
        "cost": amount(answer.cost_pence),
        "grass_cost": amount(answer.grass_pence),
        "seam_mm": answer.seam_mm,
        "seam_cost": amount(answer.seam_pence),
        "laid": _laid(answer.laying) if answer.laying else None,
        "takes": [take_record(take) for take in answer.takes],
        "freeing": _freeing(answer.freeing) if answer.freeing else None,
        "line": answer_line(answer, several=several),
    }


def take_record(take: Take) -> Record:
    """State what one source gives."""
    return {
        **_source(take.source),
        "cost": amount(take.cost_pence),
        "crosscuts": take.cut.crosscuts,
        "rips": take.cut.rips,
        "drops": [
            {
                "length_mm": drop.length_mm,
                "lanes": [{"width_mm": lane.width_mm, "pieces": _placed(lane.pieces)} for lane in drop.lanes],
            }
            for drop in take.cut.drops
        ],
        "left": [
            {"width_mm": one.width_mm, "length_mm": one.length_mm, "value": amount(one.worth_pence)}
            for one in take.cut.remainders
        ],
    }


def _placed(pieces: Pieces) -> list[Record]:
    return [{"width_mm": width, "length_mm": length} for width, length in pieces]


def _source(source: Source) -> Record:
    return {
        "source": source.key,
        "product": source.product,
        "batch": source.batch,
        "form": source.form.value,
        "width_mm": source.width_mm,
        "length_mm": source.length_mm,
        "bay": source.bay,
        "condition": source.condition,
        "from": source.from_day.isoformat() if source.from_day else None,
        "value": amount(source.touch_pence),
    }


def _freeing(freeing: Freeing) -> Record:
    promise = freeing.promise
    return {
        "plan": promise.plan,
        "quote": promise.quote or None,
        "until": promise.until.isoformat() if promise.until else None,
        "jobs": [{"job": code, "lay_on": lay_on.isoformat()} for code, lay_on in promise.jobs],
        "cost": amount(freeing.cost_pence),
        "proven": freeing.proven,
        "stays": list(freeing.stays),
        "together": [take_record(take) for take in freeing.together],
        "replacement": [_move(move) for move in freeing.moves],
    }


def _laid(laying: Laying) -> Record:
    return {
        "way": laying.label,
        "sizes": sizes_record(laying.pieces),
        "seams": laying.seams,
        "seam_mm": laying.seam_mm,
        "seam_cost": amount(laying.seam_pence),
        "pile_bearing": Decimal(str(round(laying.bearing, 1))),
        "pile": laying.words,
    }


def _move(move: Move) -> Record:
    return {**take_record(move.take), "jobs": list(move.jobs)}


def _miss(miss: Miss) -> Record:
    return {
        **_source(miss.source),
        "lacks_across_mm": miss.across_mm,
        "lacks_along_mm": miss.along_mm,
        "fits_turned": miss.turned,
        "ready": miss.ready.value,
        "line": miss_line(miss),
    }
