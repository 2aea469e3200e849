"""The best answer of which every batch serves one load, cut into listed sets of pieces, found by sums.

    R_b(M)  = least cost of cutting just the pieces M from batch b, source by source:
              R_c(M) = min over sets s listed for source c, or none, of cost_s + R_c-1(M - s)
    D_b(U)  = least cost of serving just the units U from batches up to b
            = min over loads S of b of R_b(pieces of S) + seams of S + D_b-1(U - S)

What a better plan may cost above the relaxation's bound is a purse: every set takes its reduced cost from it, every
source left whole its class's price, and every unit what its choice costs more than its cheapest. What would take more
than there is, is left out, as in the relaxation's own list (`exact.py`). Rows of `links.py` charge the sets of a whole
answer no more than they give back to its jobs, so what is taken is no more than what the answer costs above the bound.
On weeks of eight jobs this takes 0.01 to 3 s where HiGHS, whose relaxation serves jobs in shares, needs 0.2 to 60 s.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from stockplan.cutting.budget import Budget
from stockplan.cutting.exact import Listed
from stockplan.cutting.instance import Choice, Instance, PieceType, Source
from stockplan.cutting.kinds import most_needed
from stockplan.cutting.load_kernels import NEVER, NONE, combine, look_up
from stockplan.cutting.load_states import MOST_BITS, Assembly, Fields, Floats, Numbers, Sets, States, TooMany
from stockplan.cutting.patterns import Pattern
from stockplan.cutting.solution import Solution

COST_UNIT = 1024  # of a penny: one more is added for each purchase, so that of equals the fewer win
MOST_TABLED = 16  # groups whose slacks are tabled together
MOST_LOADS = 200_000  # of one batch
MOST_SERVED = 2_000_000  # ways to serve some of all units
MOST_PAIRS = 2_000_000_000
SPARE = 0.5  # pence, for rounding of prices

Unit = tuple[int, Choice]


@dataclass(frozen=True)
class Purse:
    """What a better plan may cost above a bound, and what takes of it, pence.

    Parameters
    ----------
    gap
        What there is.
    floors
        By class of stock: what a source of it takes when a set of reduced cost nothing is cut from it, with the sign
        turned: what leaving it whole takes.
    slacks
        By group and choice: what a unit takes.
    """

    gap: float
    floors: Mapping[Source, float]
    slacks: Mapping[Unit, float]


@dataclass(frozen=True)
class Loads:
    """What one batch may serve, each at its cheapest.

    Parameters
    ----------
    digits, steps
        Units of each group: packed in fields, and counted through as one number.
    costs
        With seams, in parts of a penny.
    options
        What was chosen group by group, as one number.
    ways
        By group: what may be chosen, units and choice, nothing first.
    records, states
        Where the sets are found that it is cut into.
    taken
        The least that any of them takes from the purse.
    """

    digits: Numbers
    steps: Numbers
    costs: Numbers
    options: Numbers
    ways: dict[int, list[tuple[int, Choice]]]
    records: Numbers
    states: States
    taken: float

    @property
    def stage(self) -> tuple[Numbers, Numbers, Numbers]:
        """As `combine` takes them."""
        return self.digits, self.steps, self.costs

    def units(self, load: int) -> dict[Unit, int]:
        """What a load serves."""
        found, option = {}, int(self.options[load])
        for group, ways in self.ways.items():
            option, way = divmod(option, len(ways))
            units, choice = ways[way]
            if units:
                found[group, choice] = units
        return found


class LoadSearch:
    """One such search.

    Parameters
    ----------
    instance
        The problem.
    listed
        Every set of pieces that a better plan may use.
    purse
        See `Purse`.
    budget
        Work and clock.

    Raises
    ------
    TooMany
        When the problem is too large.
    """

    def __init__(self, instance: Instance, listed: Sequence[Listed], purse: Purse, budget: Budget) -> None:
        self.instance, self.listed, self.purse, self.budget = instance, listed, purse, budget
        self._left = purse.gap + SPARE
        self.most = most_needed(instance)
        units = [group.units for group in instance.groups]
        self.units = Fields.of(units)
        self.steps = [1]
        for count in units:
            self.steps.append(self.steps[-1] * (count + 1))
        if self.steps[-1] > MOST_SERVED:
            raise TooMany
        self.of_batch: list[list[int]] = [[] for _ in instance.batches]
        for number, one in enumerate(listed):
            self.of_batch[one.column.pattern.source.batch].append(number)

    def best(self, ceiling: int) -> Solution | None:
        """The best answer; None when none takes no more than there is in the purse.

        Parameters
        ----------
        ceiling
            Cost of the answer in hand, pence: no job is left short whose penalty is above it.

        Raises
        ------
        TooMany
            When there are too many ways, or the budget ends first.
        """
        found: list[Loads] = []
        for batch in sorted(range(len(self.instance.batches)), key=lambda b: len(self.of_batch[b])):
            loads = _Batch(self, batch).loads(self._left)
            if not loads.costs.size:
                return None
            self._left -= loads.taken
            found.append(loads)
        return self._put_together(found, ceiling)

    def _put_together(self, found: list[Loads], ceiling: int) -> Solution | None:
        """The cheapest way to serve every unit once."""
        short = self._left_short(ceiling)
        stages = [one.stage for one in found] + [stage for _, stage in short]
        digits = np.zeros(1, dtype=np.int64)
        for shift, group in zip(self.units.shifts, self.instance.groups, strict=True):
            digits = np.concatenate([digits + (units << shift) for units in range(group.units + 1)])
        if len(digits) * max(len(costs) for _, _, costs in stages) > MOST_PAIRS:
            raise TooMany
        best = np.full(len(digits), NEVER, dtype=np.int64)
        best[0] = 0
        choices: list[Numbers] = []
        shape = (self.units.single, self.units.full, self.units.guards)
        for stage in stages:
            after, chosen = np.full(len(digits), NEVER, dtype=np.int64), np.full(len(digits), NONE, dtype=np.int64)
            combine(best, digits, shape, stage, after, chosen)
            best = after
            choices.append(chosen)
            if self.budget.over():
                raise TooMany
        if best[-1] >= NEVER:
            return None
        at, loads = len(digits) - 1, []
        for chosen, (_, steps, _) in zip(reversed(choices), reversed(stages), strict=True):
            loads.append(int(chosen[at]))
            at -= int(steps[loads[-1]])
        loads.reverse()
        missed = [job for (job, _), load in zip(short, loads[len(found) :], strict=True) if load]
        return self._answer(list(zip(found, loads, strict=False)), missed)

    def _left_short(self, ceiling: int) -> list[tuple[int, tuple[Numbers, Numbers, Numbers]]]:
        """By job that may be left short: that it is not, or that all its units are."""
        found = []
        for job, penalty in enumerate(self.instance.penalties):
            mine = [(g, group.units) for g, group in enumerate(self.instance.groups) if group.job == job]
            if penalty <= ceiling and mine:
                digits, steps, costs = np.zeros((3, 2), dtype=np.int64)
                digits[1] = self.units.code(mine)
                steps[1] = sum(units * self.steps[g] for g, units in mine)
                costs[1] = penalty * COST_UNIT
                found.append((job, (digits, steps, costs)))
        return found

    def _answer(self, loads: list[tuple[Loads, int]], short: list[int]) -> Solution:
        patterns: Counter[Pattern] = Counter()
        given: dict[Unit, int] = {}
        for one, load in loads:
            patterns.update(self.listed[n].column.pattern for n in one.states.sets_of(int(one.records[load])))
            given |= one.units(load)
        return Solution(patterns, given, frozenset(short))


class _Batch:
    """One batch of such a search."""

    def __init__(self, search: LoadSearch, batch: int) -> None:
        self.instance, self._search, self.batch = search.instance, search, batch
        types = [t for t in self.instance.piece_types() if t.batch == batch]
        self._place = {t: n for n, t in enumerate(types)}
        self._fields = Fields.of([search.most[t] for t in types])
        self._groups = [
            g for g, group in enumerate(self.instance.groups) if any(h.batch == batch for h in group.demands)
        ]
        self._own = self._own_fields()
        self._slacks = np.zeros(1)
        for _, least in self._own:
            self._slacks = np.concatenate([self._slacks, self._slacks + least])

    def loads(self, gap: float) -> Loads:
        """Every load of the batch that takes no more than this."""
        masks = np.array([mask for mask, _ in self._own], dtype=np.int64)
        assembly = Assembly(self._fields, masks, self._slacks, gap, self._search.budget)
        self._cut(assembly)
        return self._served(assembly.states, gap)

    def _own_fields(self) -> list[tuple[int, float]]:
        """Groups whose pieces nobody else needs: masks of their fields, and what a unit here takes at least."""
        users: defaultdict[PieceType, set[int]] = defaultdict(set)
        least: dict[int, float] = {}
        for g in self._groups:
            for choice, demand in self.instance.groups[g].demands.items():
                if choice.batch == self.batch:
                    least[g] = min(self._search.purse.slacks[g, choice], least.get(g, np.inf))
                    for piece in demand:
                        users[piece].add(g)
        own: defaultdict[int, int] = defaultdict(int)
        for piece, mine in users.items():
            if len(mine) == 1 and not self.instance.fixed.get(piece):
                own[min(mine)] |= int(self._fields.masks[self._place[piece]])
        found = [(mask, least[g]) for g, mask in sorted(own.items()) if least[g] > 0.0]
        return sorted(found, key=lambda one: -one[1])[:MOST_TABLED]

    def _cut(self, assembly: Assembly) -> None:
        """Go through the batch source by source."""
        of_class: defaultdict[Source, list[int]] = defaultdict(list)
        bought: list[int] = []
        for number in self._search.of_batch[self.batch]:
            source = self._search.listed[number].column.pattern.source
            (bought if source.copies is None else of_class[source]).append(number)
        for source, floor in self._search.purse.floors.items():
            if source.batch == self.batch and source not in of_class:
                assembly.leave(-floor * (source.copies or 0))
        for source, numbers in of_class.items():
            sets = self._sets(numbers)
            for _ in range(source.copies or 0):
                assembly.put_on(sets, -self._search.purse.floors.get(source, 0.0))
        if bought:
            assembly.buy(self._sets(bought))

    def _sets(self, numbers: list[int]) -> Sets:
        listed = [self._search.listed[number] for number in numbers]
        made = [one.column.pattern.made() for one in listed]
        codes = np.array([self._fields.code((self._place[t], n) for t, n in one.items()) for one in made])
        bought = [one.column.pattern.source.copies is None for one in listed]
        costs = np.array([one.column.cost * COST_UNIT + more for one, more in zip(listed, bought, strict=True)])
        losses = np.array([one.loss for one in listed])
        groups = np.zeros(len(numbers), dtype=np.int64)
        for bit, (mask, _) in enumerate(self._own):
            groups |= ((codes & mask) != 0).astype(np.int64) << bit
        least = losses + self._slacks[groups]
        order = np.argsort(least, kind="stable")
        return Sets(codes[order], costs[order], losses[order], least[order], groups[order], np.array(numbers)[order])

    def _served(self, states: States, gap: float) -> Loads:
        """The loads among what the batch can be cut into."""
        fixed = self._fields.code((self._place[t], n) for t, n in self.instance.fixed.items() if t in self._place)
        rows = _Rows(np.array([fixed], dtype=np.int64), np.zeros(1), *(np.zeros(1, dtype=np.int64) for _ in range(4)))
        ways = {g: self._ways(g) for g in self._groups}
        radix = 1
        for g, mine in ways.items():
            rows = _Rows.joined([self._with_way(rows, g, mine[n], n * radix, gap) for n in range(len(mine))])
            radix *= len(mine)
            if len(rows.codes) > MOST_LOADS or radix >= 1 << MOST_BITS:
                raise TooMany
        found = np.empty(len(rows.codes), dtype=np.int64)
        look_up(rows.codes, states.codes, states.table, found)
        taken = rows.slack + np.where(found >= 0, states.spent[found], np.inf)
        kept = taken <= gap
        at = found[kept]
        costs = rows.seams[kept] + states.costs[at]
        least = float(taken[kept].min(initial=np.inf))
        return Loads(
            rows.digits[kept], rows.steps[kept], costs, rows.options[kept], ways, states.record[at], states, least
        )

    def _ways(self, group: int) -> list[tuple[int, Choice]]:
        """What the batch may serve of a group: nothing first."""
        one = self.instance.groups[group]
        mine = [h for h in one.demands if h.batch == self.batch]
        return [(0, mine[0]), *((units, h) for h in mine for units in range(1, one.units + 1))]

    def _with_way(self, rows: _Rows, g: int, way: tuple[int, Choice], option: int, gap: float) -> _Rows:
        """Loads with a way to serve a group, as far as they take no more than the gap."""
        (units, choice), search = way, self._search
        demand = self.instance.groups[g].demands[choice].items()
        code = self._fields.code((self._place[t], n * units) for t, n in demand)
        slack = rows.slack + units * search.purse.slacks[g, choice]
        kept = slack <= gap
        return _Rows(
            rows.codes[kept] + code,
            slack[kept],
            rows.digits[kept] + (units << search.units.shifts[g]),
            rows.steps[kept] + units * search.steps[g],
            rows.seams[kept] + units * self.instance.groups[g].cost(choice) * COST_UNIT,
            rows.options[kept] + option,
        )


@dataclass(frozen=True)
class _Rows:
    """Loads being put together, group by group: pieces, what they take from the purse, and as in `Loads`."""

    codes: Numbers
    slack: Floats
    digits: Numbers
    steps: Numbers
    seams: Numbers
    options: Numbers

    @staticmethod
    def joined(parts: list[_Rows]) -> _Rows:
        """All of them together."""
        return _Rows(
            *(
                np.concatenate([getattr(part, name) for part in parts])
                for name in ("codes", "slack", "digits", "steps", "seams", "options")
            )
        )
