"""The job that the tests of the checker begin from."""

from __future__ import annotations

import pytest
from builders import Case
from checked_yard import whole_job


@pytest.fixture
def whole() -> Case:
    """Job J1 off R-1; see `whole_job`."""
    return whole_job()
