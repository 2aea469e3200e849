"""Names as they are typed after a command, in hints of what to type next."""

from __future__ import annotations

import shlex


def argument(*names: str) -> str:
    """Write names so that a shell and a command take them for names: quoted, and after `--` where one looks an option.

    They go last, as what comes after `--` is no option.

    Parameters
    ----------
    names
        Such as tags, codes of jobs or keys of orders.
    """
    return f"{'-- ' if any(name.startswith('-') for name in names) else ''}{shlex.join(names)}"
