"""Plans for the same few rolls, made, accepted and withdrawn by several processes at once."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import product

from stockplan.domain.jobs import BatchRule, Job, Strip, Window
from stockplan.domain.request import PlanRequest, SearchLimits
from stockplan.domain.stock import Product, StockForm, StockItem
from stockplan.errors import PlanOutdated, StoreError

TODAY = date(2026, 11, 26)
LETTER = "K"  # of the tags and jobs they fight for; nobody else touches these
_JOBS, _ROLLS = 3, 4


@dataclass(slots=True)
class Decided:
    """What one process did with plans, and was told.

    Parameters
    ----------
    accepted
        What each plan was told to have reserved, by number.
    withdrawn, given_back
        Numbers of plans it withdrew, and of those its own took the place of.
    refused
        How often it was refused.
    """

    accepted: dict[int, tuple[str, ...]] = field(default_factory=dict)
    withdrawn: set[int] = field(default_factory=set)
    given_back: set[int] = field(default_factory=set)
    refused: int = 0


def contested(grass: Product) -> tuple[tuple[StockItem, ...], tuple[Job, ...]]:
    """Give the rolls and the jobs that the plans are for."""
    rolls = tuple(
        StockItem(f"{LETTER}-{number}", grass.code, "B7", StockForm.ROLL, 4000, 25_000, "F1", 1060)
        for number in range(1, _ROLLS + 1)
    )
    jobs = tuple(
        Job(
            f"{LETTER}{number}", "", grass.code, TODAY + timedelta(days=9), "", BatchRule.ONE, (Strip("A", 4000, 9000),)
        )
        for number in range(1, _JOBS + 1)
    )
    return rolls, jobs


def proposals(grass: Product) -> list[str]:
    """Plan each of the jobs from each of the rolls, and give the plan files."""
    from stockplan.cutting import plan_cuts  # noqa: PLC0415
    from stockplan.report.plan_file import plan_to_json  # noqa: PLC0415

    texts = []
    for roll, job in product(*contested(grass)):
        window = Window(job.lay_on, job.lay_on)
        request = PlanRequest(window, TODAY, (grass,), (), (roll,), (job,))
        texts.append(plan_to_json(request, plan_cuts(request, SearchLimits(seconds=5, work=1))))
    return texts


class Rival:
    """One process that makes, accepts and withdraws plans.

    Parameters
    ----------
    where
        The store.
    texts
        From `proposals`.
    choose
        For every choice.
    """

    def __init__(self, where: str, texts: Sequence[str], choose: random.Random) -> None:
        self.where = where
        self.texts = texts
        self.choose = choose
        self.decided = Decided()

    def once(self) -> None:
        """Withdraw a plan of its own, or make one and accept it."""
        from stockplan.actions.accepting import withdraw_plan  # noqa: PLC0415

        mine = sorted(self.decided.accepted.keys() - self.decided.withdrawn)
        try:
            if mine and self.choose.random() < 0.4:
                number = self.choose.choice(mine)
                withdraw_plan(self.where, number)
                self.decided.withdrawn.add(number)
            else:
                self._accept()
        except (PlanOutdated, StoreError):
            self.decided.refused += 1

    def _accept(self) -> None:
        from stockplan.actions.accepting import accept_plan  # noqa: PLC0415
        from stockplan.report.plan_reader import read_plan  # noqa: PLC0415
        from stockplan.store.quick import open_yard  # noqa: PLC0415
        from stockplan.store.repository import store_plan  # noqa: PLC0415

        text = self.choose.choice(self.texts)
        with open_yard(self.where) as store, store.unit_of_work() as work:
            number = store_plan(work, read_plan(text), text)
            work.commit()
        done = accept_plan(self.where, number, TODAY)
        self.decided.accepted[number] = done.reserved
        self.decided.given_back |= {plan for _, plan in done.given_back}


def faults_of_plans(all_decided: Sequence[Decided], reserved: dict[str, int]) -> list[str]:
    """Hold what is reserved of the contested rolls against what the processes were told.

    Parameters
    ----------
    all_decided
        What each of them remembers.
    reserved
        Number of the plan that each tag is reserved for, by the store.
    """
    accepted = {number: tags for one in all_decided for number, tags in one.accepted.items()}
    ended = {number for one in all_decided for number in (*one.withdrawn, *one.given_back)}
    told = Counter({(tag, number): 1 for number, tags in accepted.items() if number not in ended for tag in tags})
    found = Counter({(tag, number): 1 for tag, number in reserved.items() if tag.startswith(f"{LETTER}-")})
    faults = [f"{tag} was told to be reserved for plan {number}, and is not" for tag, number in told - found]
    return faults + [f"{tag} is reserved for plan {number}, and nobody was told" for tag, number in found - told]
