"""How much memory a process has held at most, with those that it started."""

from __future__ import annotations

import sys

BYTES_PER_MIB = 2**20


def peak_bytes(workers: int = 0) -> int | None:
    """Most memory this process and processes it started ever held, in bytes; None where the system does not tell.

    Parameters
    ----------
    workers
        How many processes it started that have ended, each reckoned as large as the largest: no less than the truth.
    """
    try:
        import resource  # noqa: PLC0415  there is none on Windows
    except ImportError:
        return None
    unit = 1 if sys.platform == "darwin" else 1024
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    largest = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
    return (own + workers * largest) * unit
