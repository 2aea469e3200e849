"""Enquiries and the offcuts that cover them, in words and as JSON (`enquiries.schema.json` states every key)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from stockplan.domain.cover import Miss
from stockplan.domain.enquiries import Matched, Pairing
from stockplan.domain.sizes import sizes_text
from stockplan.domain.units import money, size
from stockplan.report.columns import in_columns
from stockplan.report.cover_json import sizes_record, take_record
from stockplan.report.cover_text import miss_line
from stockplan.report.cover_words import cuts_words, left_words
from stockplan.report.json_text import amount, json_document
from stockplan.report.words import counted, printable

FORMAT = "stockplan-enquiries"
VERSION = 1
MODEL = (
    "Each enquiry whole from one offcut, no seam, nothing turned; gain: its worth (where none is given, what buying "
    "its grass would cost) less what the offcut costs the firm."
)


def why_not(matched: Matched, place: int, fitting: Sequence[int], misses: Mapping[int, Miss]) -> str:
    """Say why an enquiry is not covered.

    Parameters
    ----------
    matched, fitting, misses
        As for `enquiries_text`.
    place
        Which enquiry, counted from 0.
    """
    if matched.worths[place] is None:
        return "no offer to reckon its worth by; give it one in a column worth"
    if fitting[place]:
        many = counted(fitting[place], "offcut")
        return f"{many} would fit, but nothing is gained by it, or another enquiry gains more"
    near = misses.get(place)
    if near is None:
        return "nothing free fits: there is no offcut of this grass, or none that is free and sound"
    return f"nothing free fits; nearest: {miss_line(near)}"


def enquiries_text(
    matched: Matched, misses: Mapping[int, Miss], fitting: Sequence[int], offcuts: int, currency: str
) -> str:
    """Print which enquiries the offcuts cover, worth most first.

    Parameters
    ----------
    matched
        The answer.
    misses, fitting
        For each enquiry: the nearest miss where nothing fits; how many offcuts would.
    offcuts
        How many offcuts there are.
    currency
        ISO 4217 code.
    """
    total, left = len(matched.enquiries), matched.left()
    best = "no other choice gains more" if matched.proven else "a better choice may exist; the search ran out of time"
    lines = [
        f"{counted(total - len(left), 'enquiry', 'enquiries')} of {total} covered from {len(matched.chosen)} of "
        f"{counted(offcuts, 'offcut')}, gain {money(matched.gain_pence)} {currency}; {best}.",
        MODEL,
    ]
    if matched.chosen:
        rows = [_row(matched, pairing) for pairing in matched.chosen]
        headings = ("enquiry", "sizes", "offcut", "bay", "batch", "across × along, m", "gain")
        lines += ["", in_columns(headings, rows, right=("across × along, m", "gain")), ""]
        for pairing in matched.chosen:
            assert pairing.take is not None
            words = f"{pairing.source.key}: {cuts_words(pairing.take)}; {left_words(pairing.take)}"
            lines.append(printable(f"  {words}"))
    if left:
        lines += ["", "Not covered:"]
    for place in left:
        enquiry = matched.enquiries[place]
        why = why_not(matched, place, fitting, misses)
        lines.append(printable(f"  {enquiry.name} ({sizes_text(enquiry.pieces)} in {enquiry.product}): {why}"))
    return "\n".join(lines)


def _row(matched: Matched, pairing: Pairing) -> tuple[str, ...]:
    source, enquiries = pairing.source, [matched.enquiries[place] for place in pairing.enquiries]
    return (
        " + ".join(enquiry.name for enquiry in enquiries),
        " + ".join(sizes_text(enquiry.pieces) for enquiry in enquiries),
        source.key,
        source.bay,
        source.batch,
        size(source.width_mm, source.length_mm),
        money(pairing.gain_pence),
    )


def enquiries_to_json(
    matched: Matched, misses: Mapping[int, Miss], fitting: Sequence[int], offcuts: int, currency: str
) -> str:
    """Print the same as JSON, ending with a newline; parameters as for `enquiries_text`."""
    return json_document(
        {
            "format": FORMAT,
            "version": VERSION,
            "currency": currency,
            "offcuts": offcuts,
            "gain": amount(matched.gain_pence),
            "proven": matched.proven,
            "covered": [_covered(matched, pairing) for pairing in matched.chosen],
            "left": [
                {
                    "enquiry": matched.enquiries[place].name,
                    "product": matched.enquiries[place].product,
                    "sizes": sizes_record(matched.enquiries[place].pieces),
                    "worth": amount(matched.worths[place]),
                    "fitting": fitting[place],
                    "why": why_not(matched, place, fitting, misses),
                }
                for place in matched.left()
            ],
        }
    )


def _covered(matched: Matched, pairing: Pairing) -> dict[str, object]:
    assert pairing.take is not None
    return {
        "gain": amount(pairing.gain_pence),
        "enquiries": [
            {
                "enquiry": matched.enquiries[place].name,
                "sizes": sizes_record(matched.enquiries[place].pieces),
                "worth": amount(matched.worths[place]),
            }
            for place in pairing.enquiries
        ],
        "take": take_record(pairing.take),
    }
