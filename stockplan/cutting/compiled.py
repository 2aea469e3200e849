"""Functions compiled to machine code, and kept so from one run to the next.

Ruin and recreate and the pricing recursions are loops over small whole numbers, which numpy cannot take together; numba
(https://numba.pydata.org) compiles them when they are first called and keeps the result beside the package, or where it
may not write there in the user's own cache. The first plan on a machine so takes some seconds longer.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import ParamSpec, TypeVar, cast

import numba

Given = ParamSpec("Given")
Result = TypeVar("Result")


def compiled(function: Callable[Given, Result]) -> Callable[Given, Result]:
    """Have a function compiled when it is first called; it may use arrays and plain numbers only.

    Parameters
    ----------
    function
        Whole numbers in it are of 64 bits and wrap around.
    """
    try:
        ready = numba.njit(cache=True, nogil=True, error_model="numpy")(function)
    except RuntimeError:  # there is nowhere to keep it: it is compiled anew in every run
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
