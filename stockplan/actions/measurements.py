"""What was measured, read, named and judged, before anything is stored."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from stockplan.actions.every_fault import every_fault
from stockplan.actions.judging import LARGE_IS_RIGHT, survey_settings
from stockplan.domain.lawn import UNNAMED, EdgeNote, Lawn, LawnPlace, lawn_words
from stockplan.domain.measured import Measured
from stockplan.domain.survey import SurveySettings
from stockplan.errors import StockplanError, SurveyFaults

if TYPE_CHECKING:
    from stockplan.surveying.lengths import Unit

LONGEST_LABEL = 40


@dataclass(frozen=True, slots=True)
class Said:
    """What is said of a lawn beside its measurements; what is said here comes before what a file says.

    Parameters
    ----------
    label
        Its name; empty takes the file's, or `lawn`.
    place, north
        Back, front or other; bearing of the y axis in degrees. None leaves them as the file has them.
    sides
        Notes on sides, numbers counted from 0.
    unseen_from
        Labels of lawns nobody sees together with it.
    """

    label: str = ""
    place: LawnPlace | None = None
    north: float | None = None
    sides: tuple[EdgeNote, ...] = ()
    unseen_from: tuple[str, ...] = ()


def look_at(
    where: str | None, source: str, said: Said, *, large_is_right: bool = False, unit: Unit | None = None
) -> tuple[Measured, ...]:
    """Read and judge measurements without storing anything.

    Parameters
    ----------
    where
        The store whose settings hold; the program's defaults where there is none.
    source
        Path of a file, or measurements typed in one line.
    said
        See `Said`.
    large_is_right
        Whether a very large lawn is meant.
    unit
        What a drawing counts in that does not say so itself.

    Raises
    ------
    SurveyFaults
        When anything is wrong; carries every fault.
    """
    settings = survey_settings(where)
    with every_fault(lambda: _check_label(said.label or UNNAMED)):
        found = read_measured(source, settings, unit)

    def check_large(lawns: Sequence[Measured]) -> None:
        called = [replace(one.lawn, label=one.lawn.label or said.label or UNNAMED) for one in lawns]
        if not large_is_right and (faults := large_faults(called, settings)):
            raise SurveyFaults(faults)

    with every_fault(lambda: check_large(found)):
        lawns = named(found, said)
    check_large(lawns)
    return lawns


def read_measured(source: str, settings: SurveySettings, unit: Unit | None = None) -> list[Measured]:
    """Read a file of measurements, or measurements typed in one line.

    Parameters
    ----------
    source
        The path of a file, or measurements such as `6.2 x 4.8`.
    settings
        How far measurements may disagree.
    unit
        Of a drawing that does not state its own; default none.

    Raises
    ------
    SurveyFaults
        When anything is wrong; carries every fault.
    StockplanError
        When what looks like a file is not there, or cannot be read.
    """
    from stockplan.surveying.reading import looks_like_a_file, read_file, read_typed  # noqa: PLC0415

    path = Path(source)
    try:
        if path.is_file():
            return read_file(path.name, path.read_bytes(), settings, unit)
    except OSError as error:
        if looks_like_a_file(source):
            raise StockplanError(f"{source} cannot be read: {error.strerror}") from error
    if looks_like_a_file(source):
        raise StockplanError(f"{source}: there is no such file")
    return read_typed(source, settings)


def named(found: Sequence[Measured], said: Said) -> tuple[Measured, ...]:
    """Give each lawn its name, which no other has, and what was said of it.

    Parameters
    ----------
    found
        As read; those that no file names have no name yet.
    said
        See `Said`.

    Raises
    ------
    SurveyFaults
        When a name will not do or two lawns would share one, or a side is named that is not there.
    """
    faults = []
    if said.sides and len(found) > 1:
        faults.append(f"sides were named, but there are {len(found)} lawns; name sides of one lawn at a time")
    lawns = []
    for number, one in enumerate(found, 1):
        label = said.label or one.lawn.label or UNNAMED
        if len(found) > 1 and (said.label or not one.lawn.label):
            label = f"{label} {number}"
        faults += _label_faults(label)
        beyond = [note.number + 1 for note in said.sides if note.number >= len(one.lawn.edge)]
        if beyond:
            faults.append(f"{lawn_words(label)} has sides 1 to {len(one.lawn.edge)}; there is no side {beyond[0]}")
        if not faults:
            lawns.append(replace(one, lawn=_with(one.lawn, label, said)))
    labels = [one.lawn.label.casefold() for one in lawns]
    faults += [f"two lawns are called {label!r}" for label in sorted({one for one in labels if labels.count(one) > 1})]
    if faults:
        raise SurveyFaults(faults)
    return tuple(lawns)


def _check_label(label: str) -> None:
    if faults := _label_faults(label):
        raise SurveyFaults(faults)


def _label_faults(label: str) -> list[str]:
    if label.isprintable() and 0 < len(label) <= LONGEST_LABEL and label == label.strip():
        return []
    return [f"a lawn's name is 1 to {LONGEST_LABEL} characters that can be seen, found {label!r}"]


def _with(lawn: Lawn, label: str, said: Said) -> Lawn:
    notes = {note.number: note for note in lawn.notes}
    for note in said.sides:
        before = notes.get(note.number, EdgeNote(note.number))
        notes[note.number] = EdgeNote(note.number, note.name or before.name, note.no_seam or before.no_seam)
    return replace(
        lawn,
        label=label,
        place=said.place or lawn.place,
        y_bearing=lawn.y_bearing if said.north is None else said.north,
        notes=tuple(notes[number] for number in sorted(notes)),
        cannot_be_seen_with=tuple(dict.fromkeys((*lawn.cannot_be_seen_with, *said.unseen_from))),
    )


def large_faults(lawns: Sequence[Lawn], settings: SurveySettings) -> list[str]:
    """Ask again about lawns so large that feet may have been read as metres."""
    from stockplan.surveying.outline_faults import large_lawn  # noqa: PLC0415

    asked = [large_lawn(lawn, settings.large_lawn_m2) for lawn in lawns]
    return [f"{words}; would be right: {LARGE_IS_RIGHT}" for words in asked if words]
