"""Functions compiled to machine code, and kept so from one run to the next.

Ruin and recreate and the pricing recursions are loops over small whole numbers, which numpy cannot take together; numba
(https://numba.pydata.org) compiles them when they are first called and keeps the result beside the package, or where it
may not write there in the user's own cache. `ready.py` has that done before the clock of a first plan runs.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import ParamSpec, TypeVar, cast

import numba

# By this numba tells whether the module of a function is as it was; what the function calls, and every constant of
# another module, is compiled into it too, so it must tell of all of them. There is no public way to say so.
STAMP = "_source_stamp"
PACKAGE = Path(__file__).parents[1]
Given = ParamSpec("Given")
Result = TypeVar("Result")


def sources_of(module: Path) -> list[Path]:
    """A module's file and those of all modules of the package that it leads to, in order."""
    found, open_ones = {module}, [module]
    while open_ones:
        for name in imports_of(open_ones.pop()):
            path = PACKAGE.parent.joinpath(*name.split(".")).with_suffix(".py")
            if path not in found and path.is_file():
                found.add(path)
                open_ones.append(path)
    return sorted(found)


@cache
def imports_of(path: Path) -> tuple[str, ...]:
    """Names of the package's modules that a file imports from."""
    return tuple(re.findall(r"^from (stockplan\.[\w.]+) import", path.read_text(encoding="utf-8"), re.MULTILINE))


def compiled(function: Callable[Given, Result]) -> Callable[Given, Result]:
    """Have a function compiled when it is first called; it may use arrays and plain numbers only.

    Parameters
    ----------
    function
        Whole numbers in it are of 64 bits and wrap around.
    """
    try:
        ready = numba.njit(cache=True, nogil=True, error_model="numpy")(function)
        kept = getattr(ready, "_cache")._cache_file  # noqa: B009
        getattr(kept, STAMP)
        read = [path.stat() for path in sources_of(Path(function.__code__.co_filename))]
        setattr(kept, STAMP, tuple((one.st_mtime_ns, one.st_size) for one in read))
    except (AttributeError, RuntimeError):  # no such stamp, or nowhere to keep it: it is compiled anew in every run
        ready = numba.njit(nogil=True, error_model="numpy")(function)
    return cast(Callable[Given, Result], ready)


def inlined(function: Callable[Given, Result]) -> Callable[Given, Result]:
    """Have a function written into each compiled function that calls it: one with a single caller need not be compiled.

    Parameters
    ----------
    function
        As for `compiled`.
    """
    return cast(Callable[Given, Result], numba.njit(nogil=True, error_model="numpy", inline="always")(function))
