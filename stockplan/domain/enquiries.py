"""Small enquiries held against the offcuts in the yard: what each pairing gains, and the answer.

An enquiry is covered whole from one offcut. One offcut may cover up to `together` enquiries, where all their pieces can
be cut from it by through-cuts. An enquiry that is covered gains its worth (where none is given, what buying its grass
would cost) less what its offcut costs: worth of the offcut, less what is left of it, plus the cuts. Sought is the
choice of pairings, each offcut and each enquiry used once, that gains most.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from stockplan.domain.cover import Take
from stockplan.domain.cover_purchase import is_small
from stockplan.domain.cover_search import Desk
from stockplan.domain.cover_source import Source
from stockplan.domain.pieces import Pieces, fits, in_order


@dataclass(frozen=True, slots=True)
class SmallEnquiry:
    """A small job somebody asks for.

    Parameters
    ----------
    name
        What it is called.
    product
        Product code.
    pieces
        Sizes as cut, of one batch.
    worth_pence
        What covering it is worth to the firm; None where it is not said.
    """

    name: str
    product: str
    pieces: Pieces
    worth_pence: int | None = None


@dataclass(frozen=True, slots=True)
class Pairing:
    """One offcut and the enquiries it could cover together.

    Parameters
    ----------
    source
        The offcut.
    enquiries
        Places of the enquiries in the list, ascending.
    pieces
        Of all of them.
    gain_pence
        What it gains: exactly, or at most where `take` is None.
    take
        How it is cut; None while only a bound is known.
    """

    source: Source
    enquiries: tuple[int, ...]
    pieces: Pieces
    gain_pence: int
    take: Take | None = None


@dataclass(frozen=True, slots=True)
class Matched:
    """The answer to some enquiries.

    Parameters
    ----------
    enquiries
        As asked.
    worths
        What each is worth, in the same order; None where that is not known.
    chosen
        The pairings that together gain most, the greatest gain first.
    proven
        Whether no other choice gains more.
    """

    enquiries: tuple[SmallEnquiry, ...]
    worths: tuple[int | None, ...]
    chosen: tuple[Pairing, ...]
    proven: bool

    @property
    def gain_pence(self) -> int:
        """What all of them gain."""
        return sum(pairing.gain_pence for pairing in self.chosen)

    def left(self) -> tuple[int, ...]:
        """Places of the enquiries that no offcut covers."""
        covered = {place for pairing in self.chosen for place in pairing.enquiries}
        return tuple(place for place in range(len(self.enquiries)) if place not in covered)


class Pairings:
    """Every pairing that may gain something, bounded at first and worked out exactly when asked.

    Parameters
    ----------
    enquiries
        What is asked for.
    worths
        What each is worth; one that is None is left out.
    offcuts
        What there is.
    desks
        One for each product.
    together
        How many enquiries one offcut may cover, 1 to 4.
    """

    def __init__(
        self,
        enquiries: Sequence[SmallEnquiry],
        worths: Sequence[int | None],
        offcuts: Iterable[Source],
        desks: Mapping[str, Desk],
        together: int,
    ) -> None:
        self.enquiries, self.worths, self.desks, self.together = enquiries, worths, desks, together
        self.offcuts = sorted(offcuts, key=lambda one: one.key)

    def bounded(self) -> Iterator[Pairing]:
        """Give every pairing whose gain may be positive, with a bound on it."""
        for source in self.offcuts:
            possible = [
                place
                for place, enquiry in enumerate(self.enquiries)
                if enquiry.product == source.product
                and self.worths[place] is not None
                and fits(enquiry.pieces, source.width_mm, source.length_mm)
            ]
            yield from self._sets(source, possible)

    def _sets(self, source: Source, possible: Sequence[int]) -> Iterator[Pairing]:
        """Sets of enquiries that fit together, small ones first: a set can only fit where every smaller set does.

        Taking an enquiry's pieces out of a cut leaves at least what they are worth as leftovers, so a set costs no less
        than any smaller set and that.
        """
        least: dict[tuple[int, ...], float] = {}
        for place in possible:
            single = self.exact(Pairing(source, (place,), self.enquiries[place].pieces, 0))
            least[place,] = (self.worths[place] or 0) - single.gain_pence
            if single.gain_pence > 0:
                yield single
        for _ in range(1, self.together):
            larger: dict[tuple[int, ...], float] = {}
            for places in _grown(least, possible):
                smaller = [(place, tuple(one for one in places if one != place)) for place in places]
                if all(rest in least for _, rest in smaller):
                    pieces = in_order(tuple(piece for place in places for piece in self.enquiries[place].pieces))
                    if is_small(pieces) and fits(pieces, source.width_mm, source.length_mm):
                        bounds = [least[rest] + self._floor(source, place) for place, rest in smaller]
                        larger[places] = max(self.desks[source.product].least(source, pieces), *bounds)
                        gain = int(sum(self.worths[place] or 0 for place in places) - larger[places]) + 1
                        if gain > 0:
                            yield Pairing(source, places, pieces, gain)
            least = larger

    def _floor(self, source: Source, place: int) -> int:
        """What an enquiry's pieces are worth as loose leftovers of a source, less a penny each for rounding."""
        desk = self.desks[source.product]
        return sum(max(0, desk.worth(source, piece) - 1) for piece in self.enquiries[place].pieces)

    def exact(self, pairing: Pairing) -> Pairing:
        """Work one out exactly."""
        take = self.desks[pairing.source.product].take(pairing.source, pairing.pieces)
        assert take is not None
        worth = sum(self.worths[place] or 0 for place in pairing.enquiries)
        return replace(pairing, gain_pence=worth - take.cost_pence, take=take)


def _grown(fitting: Iterable[tuple[int, ...]], possible: Sequence[int]) -> Iterator[tuple[int, ...]]:
    for places in sorted(fitting):
        yield from ((*places, place) for place in possible if place > places[-1])
