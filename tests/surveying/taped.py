"""Reading tape notes in tests."""

from __future__ import annotations

import pytest

from stockplan.domain.measured import Measured
from stockplan.domain.survey import SurveySettings
from stockplan.errors import SurveyFaults
from stockplan.surveying.tape_notes import read_tape_notes

SETTINGS = SurveySettings()


def read(text: str) -> Measured:
    return read_tape_notes(text, "notes", SETTINGS)


def faults(text: str) -> tuple[str, ...]:
    with pytest.raises(SurveyFaults) as caught:
        read(text)
    return caught.value.faults
