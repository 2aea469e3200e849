"""One product's problem as one array of whole numbers: what compiled functions work on.

Whatever has several properties is a few numbers in a row, and is named by the place of the first: the width of a piece
type is `facts[piece + WIDTH]`. One array where there might be twenty makes functions that are compiled in a fraction of
the time. A unit is a group with one of its choices.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from math import gcd
from typing import cast

import numpy as np
from numpy.typing import NDArray

from stockplan.cutting.instance import Instance, PieceType, Source
from stockplan.cutting.patterns import DropPattern, LanePattern, Pattern
from stockplan.cutting.pricers import Pricers
from stockplan.domain.stock import CUT_LENGTH_LEAST_MM, CUT_LENGTH_STEP_MM, SupplyForm
from stockplan.domain.worth import FULL_WIDTH_PERCENT

Numbers = NDArray[np.int64]
# A function is compiled anew for each number that a call spells out; so they are written as numbers of a type.
whole = cast(Callable[[int], int], np.int64)

# at the head of `facts`: prices of cuts, what counts as full width, the batch that is bought or -1, where lists are,
# and whether some size lies off the grid
CROSSCUT, RIP, HAS_WORTH, FULL_WIDTH, BOUGHT, BATCHES, JOBS, JOBS_END, OFF_GRID, FACTS_HEAD = range(10)
# of sources and piece types: the size
WIDTH, LENGTH = range(2)
# of sources: CHAIN is where the lengths of its offer are, 0 where it is no cut length; COPIES is -1 where there is no
# end; CLASS is its number among the stock of its batch, -1 when it is bought
VALUE, PENCE, AREA, CORE, GATE, CHAIN, COPIES, CLASS, SOURCE_SIZE = range(2, 11)
# of piece types: LOCAL is its number in its batch; GATES is where it is said what gates it may pass; from OPENS up to
# OPENS_END is what may be opened for it
LOCAL, GATES, OPENS, OPENS_END, TYPE_SIZE = range(2, 7)
# of what may be opened
O_SOURCE, O_COST, O_CLASS, O_ROLL, OPEN_SIZE = range(5)
# of units: what its seams cost, its pieces, the largest first, its number in its batch, its share in a load as a number
U_GROUP, U_BATCH, U_SEAM, U_PIECES, U_PIECES_END, U_LOCAL, U_HASH, UNIT_SIZE = range(8)
# of groups: how many units, its choices as units, where what serves it is noted, whether there are too many to try all
G_NUMBER, G_COUNT, G_UNITS, G_UNITS_END, G_LIST, G_MANY, GROUP_SIZE = range(7)
# of jobs
J_NUMBER, J_GROUPS, J_GROUPS_END, J_AREA, J_PENALTY, JOB_SIZE = range(6)

LARGEST_AREA = 2**61 // (80_000 * 15_000)  # in mm²: worth is worked out exactly up to here
MOST_CHOICES = 30  # of a batch and a layout, tried for one unit where there are several layouts


class Flat:
    """A problem as numbers, and what the places in them stand for.

    Parameters
    ----------
    instance
        The problem.
    hashes
        Random numbers, one for each group and choice.

    Raises
    ------
    OverflowError
        When something bought is too large for its worth to be reckoned exactly.
    """

    def __init__(self, instance: Instance, hashes: Iterable[int]) -> None:
        self.instance = instance
        self.types = instance.piece_types()
        self.unit_keys = [(g, choice) for g, group in enumerate(instance.groups) for choice in group.demands]
        self._numbers: list[int] = [0] * FACTS_HEAD
        self._patterns: dict[tuple[int, bytes], Pattern] = {}
        self.first_source = self._reserve(len(instance.sources) * SOURCE_SIZE)
        self.source_at = {s: self.first_source + n * SOURCE_SIZE for n, s in enumerate(instance.sources)}
        self._state_sources()
        self.first_type = self._reserve(len(self.types) * TYPE_SIZE)
        self.type_at = {t: self.first_type + n * TYPE_SIZE for n, t in enumerate(self.types)}
        self._state_types()
        self.first_unit = self._reserve(len(self.unit_keys) * UNIT_SIZE)
        self.unit_at = {key: self.first_unit + n * UNIT_SIZE for n, key in enumerate(self.unit_keys)}
        self.first_group = self._reserve(len(instance.groups) * GROUP_SIZE)
        self._state_units(hashes)
        self._state_groups()
        self.first_job = self._reserve(len(instance.jobs) * JOB_SIZE)
        self._state_jobs()
        self._state_head()
        self.facts = np.array(self._numbers, dtype=np.int64)

    def append(self, numbers: Numbers) -> None:
        """Add numbers at the end."""
        self.facts = np.concatenate([self.facts, numbers])

    def tokens(self, pattern: Pattern) -> list[int]:
        """The drops of a pattern as `rows.py` has them."""
        tokens: list[int] = []
        for drop in pattern.drops:
            tokens += [drop.length_mm, len(drop.lanes)]
            for lane in drop.lanes:
                tokens += [lane.width_mm, lane.used_mm, len(lane.pieces)]
                tokens += [self.type_at[piece] for piece in lane.pieces]
        return tokens

    def pattern(self, source: int, tokens: Numbers) -> Pattern:
        """The pattern of a source whose drops `rows.py` has so; the same one each time."""
        key = (source, tokens.tobytes())
        if key not in self._patterns:
            cut = self.instance.sources[(source - self.first_source) // SOURCE_SIZE]
            self._patterns[key] = Pattern(cut, tuple(self._drops(tokens.tolist())))
        return self._patterns[key]

    def _drops(self, tokens: list[int]) -> Iterator[DropPattern]:
        at = 0
        while at < len(tokens):
            length, count = tokens[at], tokens[at + 1]
            at += 2
            lanes = []
            for _ in range(count):
                width, end = tokens[at], at + 3 + tokens[at + 2]
                pieces = tuple(self.types[(p - self.first_type) // TYPE_SIZE] for p in tokens[at + 3 : end])
                lanes.append(LanePattern(width, pieces))
                at = end
            yield DropPattern(length, tuple(lanes))

    def _reserve(self, count: int) -> int:
        """Make room for so many numbers; where it is."""
        return self._add([0] * count)

    def _add(self, numbers: Iterable[int]) -> int:
        place = len(self._numbers)
        self._numbers.extend(numbers)
        return place

    def _set(self, place: int, *numbers: int) -> None:
        self._numbers[place : place + len(numbers)] = map(int, numbers)

    def _state_head(self) -> None:
        costs, widest = self.instance.costs, self.instance.widest_mm
        bought = [s.batch for s in self.instance.sources if s.copies is None]
        self._set(
            CROSSCUT,
            costs.crosscut_pence,
            costs.rip_pence,
            costs.leftovers_have_worth,
            -(-widest * FULL_WIDTH_PERCENT // 100),
            bought[0] if bought else -1,
            len(self.instance.batches),
            self.first_job,
            self.first_job + len(self.instance.jobs) * JOB_SIZE,
            not Pricers(self.instance).exact,
        )

    def _state_sources(self) -> None:
        chains = self._state_chains()
        classes = [0] * len(self.instance.batches)
        self.copies_in = [0] * len(self.instance.batches)
        self.sources_in: list[list[int]] = [[] for _ in self.instance.batches]
        for source, place in self.source_at.items():
            shared = gcd(source.unit_cost.pence, source.unit_cost.area_mm2)
            area = source.unit_cost.area_mm2 // shared
            if area > LARGEST_AREA:
                raise OverflowError(f"a source of {source.width_mm} by {source.length_mm} mm is too large to be priced")
            stock = source.copies is not None
            self._set(
                place,
                source.width_mm,
                source.length_mm,
                source.value_pence,
                source.unit_cost.pence // shared,
                area,
                source.on_core,
                0 if source.gate is None else source.gate + 1,
                chains.get(source.option, 0),
                -1 if source.copies is None else source.copies,
                classes[source.batch] if stock else -1,
            )
            classes[source.batch] += stock
            self.copies_in[source.batch] += source.copies or 0
            self.sources_in[source.batch].append(place)
        self.classes_in = classes

    def _state_chains(self) -> dict[int | None, int]:
        """Where the cut lengths of each offer are: their number, and by steps of length the source or 0."""
        assert CUT_LENGTH_LEAST_MM % CUT_LENGTH_STEP_MM == 0
        sold: dict[int | None, list[Source]] = {}
        for source in self.source_at:
            if source.option is not None and self.instance.supply[source.option].form is SupplyForm.CUT_LENGTH:
                sold.setdefault(source.option, []).append(source)
        places = {}
        for option, lengths in sold.items():
            by_steps = {source.length_mm // CUT_LENGTH_STEP_MM: self.source_at[source] for source in lengths}
            steps = max(by_steps) + 1
            places[option] = self._add([steps, *(by_steps.get(n, 0) for n in range(steps))])
        return places

    def _state_types(self) -> None:
        most = max([-1, *(s.gate for s in self.instance.sources if s.gate is not None)])
        ways: dict[tuple[frozenset[int], bool], int] = {}
        self.types_in: list[list[int]] = [[] for _ in self.instance.batches]
        for piece, place in self.type_at.items():
            way = (piece.options, piece.pinned)
            if way not in ways:
                ways[way] = self._add([not piece.pinned, *(gate in piece.options for gate in range(most + 1))])
            self._set(place, piece.width_mm, piece.length_mm, len(self.types_in[piece.batch]), ways[way])
            self.types_in[piece.batch].append(place)

    def _state_units(self, hashes: Iterable[int]) -> None:
        self.servable = [0] * len(self.instance.batches)
        for (key, place), number in zip(self.unit_at.items(), hashes, strict=False):
            group, choice = self.instance.groups[key[0]], key[1]
            needed = sorted_need(group.demands[choice])
            pieces = self._add(self.type_at[piece] for piece, count in needed for _ in range(count))
            self._set(
                place,
                self.first_group + key[0] * GROUP_SIZE,
                choice.batch,
                group.cost(choice),
                pieces,
                len(self._numbers),
                self.servable[choice.batch],
                number if needed else 0,
            )
            self.servable[choice.batch] += 1

    def _state_groups(self) -> None:
        self.units_in = [0] * len(self.instance.batches)
        unit, noted = self.first_unit, 0
        for number, group in enumerate(self.instance.groups):
            many = group.several_layouts and len(group.demands) > MOST_CHOICES
            end = unit + len(group.demands) * UNIT_SIZE
            self._set(self.first_group + number * GROUP_SIZE, number, group.units, unit, end, noted, many)
            unit, noted = end, noted + group.units
            for batch in dict.fromkeys(choice.batch for choice in group.demands):
                self.units_in[batch] += group.units
        self.most_units = noted

    def _state_jobs(self) -> None:
        of_job: list[list[int]] = [[] for _ in self.instance.jobs]
        for number, group in enumerate(self.instance.groups):
            of_job[group.job].append(self.first_group + number * GROUP_SIZE)
        for number, groups in enumerate(of_job):
            area, penalty = self.instance.jobs[number].area_mm2, int(self.instance.penalties[number])
            first = self._add(groups)
            place = self.first_job + number * JOB_SIZE
            self._set(place, number, first, len(self._numbers), area, penalty)


def sorted_need(demand: dict[PieceType, int]) -> list[tuple[PieceType, int]]:
    """A unit's pieces, largest first."""
    return sorted(demand.items(), key=lambda item: (-item[0].width_mm * item[0].length_mm, -item[0].length_mm))
