"""What a label says, apart from how it is drawn: the libraries that draw take long to load."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class LabelFacts:
    """What a label says.

    Parameters
    ----------
    code
        In large type and in the QR code: a tag, or what a piece is called.
    what
        `roll`, `part roll`, `offcut` or `piece`.
    product, batch
        Batch as it is shown, `unknown` included.
    width_mm, length_mm
        Across and along the pile.
    weight_kg
        Whole kg; None when it is not known.
    bay, job
        Where it lies and what it is for; empty when not known.
    condition
        The word for the condition it is in by the record, which no label bears; empty when it is sound.
    """

    code: str
    what: str
    product: str
    batch: str
    width_mm: int
    length_mm: int
    weight_kg: int | None
    bay: str = ""
    job: str = ""
    condition: str = ""
