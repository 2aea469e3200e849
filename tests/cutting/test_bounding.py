"""Which bound a problem is given: sets of pieces are not listed in vain where many batches could be cut alike."""

from __future__ import annotations

import time

import pytest
from small_problems import GRASS, item, job, problem, rolls

from stockplan.cutting import bounding, set_tables
from stockplan.cutting.bounding import Bounding, sets_to_come
from stockplan.cutting.budget import Budget
from stockplan.cutting.building import build_instance
from stockplan.cutting.foreman import foreman_plan
from stockplan.cutting.instance import Instance
from stockplan.cutting.kinds import kinds_of


def yard_of(batches: int) -> Instance:
    """Four jobs, and so many batches of a roll and an offcut each."""
    jobs = [job(f"J{n}", f"{1200 + 130 * n}x{3000 + 410 * n}*2 4000x{2500 + 170 * n}") for n in range(4)]
    stock = [
        one
        for n in range(batches)
        for one in (item(f"R{n}", "4000x25000", f"B{n}", "roll", 1000 + n), item(f"C{n}", "4000x4000", f"B{n}"))
    ]
    return build_instance(problem(jobs, stock, [rolls("4000x25000", 110_000)]), GRASS)


def test_kinds_not_yet_listed_are_taken_for_as_large_as_those_like_them() -> None:
    kinds = kinds_of(yard_of(3), bounding.MOST_STEPS_LONG)
    assert kinds is not None
    assert [kind.sources[0].on_core for kind in kinds] == [False] * 3 + [True] * 4  # what is bought is a roll too
    assert sets_to_come(kinds, []) == 0
    assert sets_to_come(kinds, [10]) == 2 * 10
    assert sets_to_come(kinds, [10, 30]) == 20
    assert sets_to_come(kinds, [10, 20, 30, 300]) == 3 * 300
    assert sets_to_come(kinds, [10, 20, 30, 300, 500]) == 2 * 400
    assert sets_to_come(kinds, [7] * len(kinds)) == 0


@pytest.mark.parametrize(("most_of_one", "is_listed"), [(2, False), (20, True)])
def test_listing_ends_as_soon_as_it_is_foreseen_to_be_too_much(
    most_of_one: float, is_listed: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    instance = yard_of(9)
    listed: list[int] = []

    class Counted(set_tables.SetTables):
        def __init__(self, *given: object) -> None:
            super().__init__(*given)  # type: ignore[arg-type]
            listed.append(self.size)

    kinds = kinds_of(instance, bounding.MOST_STEPS_LONG)
    assert kinds is not None
    largest = max(set_tables.SetTables(kind, lambda: False).size for kind in kinds)
    monkeypatch.setattr(set_tables, "SetTables", Counted)
    monkeypatch.setattr(bounding, "MOST_SETS", int(most_of_one * largest))
    bounding_ = Bounding(
        instance, Budget(time.monotonic() + 100.0), 1.0, lambda bound: None, foreman_plan(instance).patterns
    )
    bounding_.climb(float(foreman_plan(instance).rank(instance)[0]))
    assert (bounding_.exact is not None) == is_listed
    assert bounding_.bound > 0
    assert (len(listed) == len(kinds)) == is_listed
    if not is_listed:
        assert sum(listed) < bounding.MOST_SETS, "it did not wait until there were too many"
