"""Whatever form measurements come in, read to lawns: by the file's name, or as typed."""

from __future__ import annotations

import re
from pathlib import PurePath

from stockplan.domain.measured import Measured
from stockplan.domain.survey import SurveySettings
from stockplan.errors import SurveyFaults
from stockplan.surveying.dxf import read_dxf
from stockplan.surveying.faults import FaultList, quoted
from stockplan.surveying.geojson import read_geojson
from stockplan.surveying.lengths import Unit
from stockplan.surveying.tape_notes import read_tape_notes
from stockplan.surveying.well_known_text import looks_like_wkt, read_wkt

MOST_BYTES = 20_000_000

_IN_FEET = re.compile(r"ft|['\"]")


def read_file(name: str, data: bytes, settings: SurveySettings, unit: Unit | None = None) -> list[Measured]:
    """Read a file of measurements.

    Parameters
    ----------
    name
        The file's name; `.geojson`, `.json`, `.wkt` and `.dxf` say what it is, anything else is tape notes.
    data
        What it holds.
    settings
        Tolerances.
    unit
        What a drawing counts in that does not say so itself; no other file uses it.

    Raises
    ------
    SurveyFaults
        When anything is wrong; carries every fault.
    """
    kind = PurePath(name).suffix.casefold()
    if len(data) > MOST_BYTES:
        raise SurveyFaults([f"{name}: {len(data):,} bytes are more than the outline of any lawn needs"])
    if kind == ".dxf":
        return read_dxf(data, name, settings, unit)
    if kind in (".csv", ".xlsx"):
        raise SurveyFaults([f"{name}: sheets are read by `stockplan import FOLDER`, corners from lawns.csv in it"])
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise SurveyFaults(
            [f"{name}: not UTF-8 at byte {error.start}; would be right: a text saved as UTF-8"]
        ) from None
    if kind in (".geojson", ".json"):
        return read_geojson(text, name)
    if kind == ".wkt" or looks_like_wkt(text):
        return read_wkt(text, name)
    return [read_tape_notes(text, name, settings)]


def looks_like_a_file(text: str) -> bool:
    """Whether what was typed names a file rather than being measurements."""
    return re.search(r"[\w\]\)-]\.[A-Za-z]{2,8}$", text.strip()) is not None


def read_typed(text: str, settings: SurveySettings) -> list[Measured]:
    """Read measurements typed in one line.

    Parameters
    ----------
    text
        `6.2 x 4.8` in metres, `20ft x 15ft`, well-known text, or tape notes with ; between their lines, in metres
        unless they state a unit. A size in feet says so at both sides: the bare one of two might be metres.
    settings
        Tolerances.

    Raises
    ------
    SurveyFaults
        When anything is wrong; carries every fault.
    """
    if looks_like_wkt(text):
        return read_wkt(text, "typed")
    first, *rest = [line.strip() for line in text.split(";")]
    unit = Unit.METRES
    faults = FaultList("typed")
    if first[:1].isdigit() or first[:1] == ".":
        in_feet = [_IN_FEET.search(side) is not None for side in re.split("[x×]", first.casefold())]
        if any(in_feet):
            unit = Unit.FEET
            if not all(in_feet):
                faults.add("feet at one side only", quoted(first), "both in feet, such as 20ft x 15ft, or in metres", 1)
        first = f"rectangle {first}"
    try:
        lawn = read_tape_notes("\n".join([first, *rest]), "typed", settings, unit)
    except SurveyFaults as error:
        raise SurveyFaults([*faults.lines(), *error.faults]) from error
    faults.raise_if_any()
    return [lawn]
