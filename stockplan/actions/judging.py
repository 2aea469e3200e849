"""Judging outlines by the firm's settings, wherever they come from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from stockplan.domain.lawn import Lawn, Point
from stockplan.domain.survey import OutlineFault, SurveySettings

LARGE_IS_RIGHT = "sizes in the unit stated; or say --large-is-right"


def outline_judge(where: str | None, *, large_is_right: bool = False) -> OutlineJudge:
    """Make what judges outlines that come in sheets: soundness, and size against the firm's setting.

    Parameters
    ----------
    where
        The store whose settings hold.
    large_is_right
        Whether very large lawns are meant.
    """
    return OutlineJudge(survey_settings(where).large_lawn_m2, large_is_right)


@dataclass(frozen=True, slots=True)
class OutlineJudge:
    """Says what is wrong with an outline; see `outline_judge`."""

    most_m2: int
    large_is_right: bool

    def __call__(self, edge: Sequence[Point], holes: Sequence[Sequence[Point]]) -> list[OutlineFault]:
        """Judge one outline."""
        from stockplan.surveying.outline_faults import large_lawn, outline_faults  # noqa: PLC0415

        faults = outline_faults(edge, holes)
        if faults or self.large_is_right:
            return faults
        large = large_lawn(Lawn("", tuple(edge), tuple(map(tuple, holes))), self.most_m2)
        return [OutlineFault("a very large lawn", large, LARGE_IS_RIGHT, 0)] if large else []


def survey_settings(where: str | None) -> SurveySettings:
    """Read the tolerances of measuring in from a store; the program's defaults where there is none.

    Raises
    ------
    StoreError
        When the store or what it holds cannot be read.
    """
    from stockplan.store.connecting import store_exists  # noqa: PLC0415
    from stockplan.store.session import open_store  # noqa: PLC0415
    from stockplan.store.setting_rows import read_firm_settings  # noqa: PLC0415

    if not store_exists(where):
        return SurveySettings()
    with open_store(where) as store, store.reading() as session:
        return read_firm_settings(session).survey
