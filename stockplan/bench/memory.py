"""How much memory a process has held at most."""

from __future__ import annotations

import sys

BYTES_PER_MIB = 2**20


def peak_bytes() -> int | None:
    """Most memory this process ever held, in bytes; None where the system does not tell."""
    try:
        import resource  # noqa: PLC0415  there is none on Windows
    except ImportError:
        return None
    unit = 1 if sys.platform == "darwin" else 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit
