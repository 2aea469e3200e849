"""Everything that stands against what was typed, all of it at once."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from stockplan.errors import RequestError, StockplanError, SurveyFaults


@contextmanager
def every_fault(*checks: Callable[[], object]) -> Iterator[None]:
    """When something is refused, try what else would be refused, and tell all of it.

    Parameters
    ----------
    checks
        Called one after the other, only when there is a fault already; each raises what it has against its part.

    Raises
    ------
    SurveyFaults
        When what was refused at first is what somebody measured, and there is more.
    RequestError
        When it was something else, and there is more. With nothing more it is raised as it is.
    """
    try:
        yield
    except StockplanError as error:
        told = dict.fromkeys(str(error).splitlines())
        known = len(told)
        for check in checks:
            try:
                check()
            except StockplanError as other:
                told |= dict.fromkeys(str(other).splitlines())
        if len(told) == known:
            raise
        if isinstance(error, SurveyFaults):
            raise SurveyFaults(list(told)) from error
        raise RequestError("\n".join(told)) from error


def check_all(*checks: Callable[[], object]) -> None:
    """Have something held against every check, and tell at once all that is refused.

    Parameters
    ----------
    checks
        Called one after the other; each raises what it has against its part.

    Raises
    ------
    StockplanError
        When any of them refuses something; see `every_fault`.
    """
    for number, check in enumerate(checks, 1):
        with every_fault(*checks[number:]):
            check()
