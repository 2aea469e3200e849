"""Every load that a better plan could have one batch serve, at its least cost, cut into the sets of pieces listed."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from stockplan.cutting.budget import Budget
from stockplan.cutting.drop_sets import TooManyWays
from stockplan.cutting.exact import Listed
from stockplan.cutting.instance import Choice, Instance, PieceType, Source
from stockplan.cutting.load_kernels import look_up
from stockplan.cutting.load_states import MOST_BITS, Assembly, Fields, Floats, Numbers, Sets, States

COST_UNIT = 1024  # of a penny: one more is added for each purchase, so that of equals the fewer win
MOST_TABLED = 16  # groups whose slacks are tabled together
MOST_LOADS = 200_000  # of one batch

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


@dataclass(frozen=True)
class Stated:
    """What is the same for every batch.

    Parameters
    ----------
    instance
        The problem.
    purse
        See `Purse`.
    most
        By piece type: how many may be needed at all.
    units, steps
        Of the groups: fields for packing their units; by group how far a unit moves what counts them through.
    budget
        Work and clock.
    """

    instance: Instance
    purse: Purse
    most: Mapping[PieceType, int]
    units: Fields
    steps: tuple[int, ...]
    budget: Budget


class BatchLoads:
    """One batch of such a search.

    Parameters
    ----------
    stated
        See `Stated`.
    batch
        Its index.
    listed
        The sets listed for its sources, each with the number of the first of them.

    Raises
    ------
    TooManyWays
        When there are too many.
    """

    def __init__(self, stated: Stated, batch: int, listed: Sequence[tuple[int, Listed]]) -> None:
        self.instance, self._stated, self.batch, self._listed = stated.instance, stated, batch, listed
        types = [t for t in self.instance.piece_types() if t.batch == batch]
        self._place = {t: n for n, t in enumerate(types)}
        self._fields = Fields.of([stated.most[t] for t in types])
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
        assembly = Assembly(self._fields, masks, self._slacks, gap, self._stated.budget)
        self._cut(assembly)
        return self._served(assembly.states, gap)

    def _own_fields(self) -> list[tuple[int, float]]:
        """Groups whose pieces nobody else needs: masks of their fields, and what a unit here takes at least."""
        users: defaultdict[PieceType, set[int]] = defaultdict(set)
        least: dict[int, float] = {}
        for g in self._groups:
            for choice, demand in self.instance.groups[g].demands.items():
                if choice.batch == self.batch:
                    least[g] = min(self._stated.purse.slacks[g, choice], least.get(g, np.inf))
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
        mine = self._listed
        of_class = {one.source: (first, one) for first, one in mine if one.source.copies is not None}
        for source, floor in self._stated.purse.floors.items():
            if source.batch == self.batch and source not in of_class:
                assembly.leave(-floor * (source.copies or 0))
        for source, (first, one) in of_class.items():
            sets = self._sets([(first, one)])
            for _ in range(source.copies or 0):
                assembly.put_on(sets, -self._stated.purse.floors.get(source, 0.0))
        bought = [(first, one) for first, one in mine if one.source.copies is None]
        if bought:
            assembly.buy(self._sets(bought))

    def _sets(self, listed: list[tuple[int, Listed]]) -> Sets:
        codes = np.concatenate([self._codes_of(one) for _, one in listed])
        costs = np.concatenate(
            [one.costs.astype(np.int64) * COST_UNIT + (one.source.copies is None) for _, one in listed]
        )
        losses = np.concatenate([one.losses for _, one in listed])
        numbers = np.concatenate([first + np.arange(len(one.numbers)) for first, one in listed])
        groups = np.zeros(len(codes), dtype=np.int64)
        for bit, (mask, _) in enumerate(self._own):
            groups |= ((codes & mask) != 0).astype(np.int64) << bit
        least = losses + self._slacks[groups]
        order = np.argsort(least, kind="stable")
        return Sets(codes[order], costs[order], losses[order], least[order], groups[order], numbers[order])

    def _codes_of(self, listed: Listed) -> Numbers:
        """What sets hold, as codes of the batch."""
        tables, shifts = listed.tables, self._fields.shifts
        table = tables.tables[listed.c]
        found = np.zeros(len(listed.numbers), dtype=np.int64)
        for types, needs, at in (
            (tables.kind.solos, tables.solos.needs, table.rows[listed.numbers]),
            (tables.kind.narrow, tables.narrow.needs, table.columns[listed.numbers]),
        ):
            for place, piece in enumerate(types):
                found += needs[at, place] << shifts[self._place[piece]]
        return found

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
                raise TooManyWays
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
        (units, choice), stated = way, self._stated
        demand = self.instance.groups[g].demands[choice].items()
        code = self._fields.code((self._place[t], n * units) for t, n in demand)
        slack = rows.slack + units * stated.purse.slacks[g, choice]
        kept = slack <= gap
        return _Rows(
            rows.codes[kept] + code,
            slack[kept],
            rows.digits[kept] + (units << stated.units.shifts[g]),
            rows.steps[kept] + units * stated.steps[g],
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
