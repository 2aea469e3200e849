"""Names in hints of what to type next."""

from __future__ import annotations

import pytest

from stockplan.domain.as_typed import argument


@pytest.mark.parametrize(
    ("names", "typed"),
    [
        (("R-1",), "R-1"),
        (("c 112", "J1=R-1"), "'c 112' J1=R-1"),
        (("-7",), "-- -7"),
        (("R-1", "-x y"), "-- R-1 '-x y'"),
    ],
)
def test_a_shell_and_a_command_take_them_for_names(names: tuple[str, ...], typed: str) -> None:
    assert argument(*names) == typed
