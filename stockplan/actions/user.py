"""Who is at the machine."""

from __future__ import annotations

import getpass


def user() -> str:
    """Say who is at the machine, for the ledger."""
    try:
        return getpass.getuser()
    except (OSError, KeyError):  # a machine that has no name for its user
        return "unknown"
