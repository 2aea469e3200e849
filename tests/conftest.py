"""What every test may count on."""

from __future__ import annotations

import pytest

from stockplan.actions.making_ready import make_ready


@pytest.fixture(scope="session", autouse=True)
def ready() -> None:
    """The planner is ready for this machine, so that no test's clock runs while it is made so."""
    make_ready(print)
