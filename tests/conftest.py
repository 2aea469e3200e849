"""What every test may count on."""

from __future__ import annotations

import pytest
from hypothesis import settings

from stockplan.actions.making_ready import make_ready

settings.register_profile("unhurried", deadline=None)  # on a busy machine a sound example may take long
settings.load_profile("unhurried")


def pytest_sessionstart(session: pytest.Session) -> None:
    """The planner is ready for this machine, so that no test's clock runs while it is made so.

    Once, before processes that share the tests out begin: each of them would compile the same all over again.
    """
    if not hasattr(session.config, "workerinput") and not session.config.option.collectonly:
        make_ready(print)
