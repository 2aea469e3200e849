"""Answering whether something covers a small job: free, left over, promised, or to be bought; and what nearly does.

Looked for, and ranked by what they cost within each readiness: one source for all pieces; two sources or more of one
batch, a piece from each at least; and, for one piece that nothing free (or no offer) covers whole, two side by side
with a seam along the pile. Never a seam across it, never a piece turned, never two batches.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from functools import cache
from itertools import islice

from stockplan.domain.cover import (
    Answer,
    Coverage,
    Freeing,
    Miss,
    Offer,
    Promise,
    Question,
    Ready,
    Source,
    Take,
)
from stockplan.domain.cover_freeing import left_of, replacement
from stockplan.domain.cover_purchase import cheapest_purchase, cheapest_purchases, check_question
from stockplan.domain.cover_seam import bought_side_by_side, side_by_side
from stockplan.domain.cover_search import Desk, from_batches, from_one_source
from stockplan.domain.pieces import Pieces, Size, boxes, fits, in_order

PROMISED_TRIED = 12  # promised things whose freeing is worked out, the cheapest grass first


def least_size(question: Question) -> Size:
    """Give the width and length below which nothing gives any of the pieces whole."""
    return min(w for w, _ in question.pieces), min(n for _, n in question.pieces)


def cover(question: Question, offer: Offer, everything_free: Callable[[], Iterable[Source]] | None = None) -> Coverage:
    """Answer one question.

    Parameters
    ----------
    question
        What is to be covered.
    offer
        What there is; things smaller than `least_size` may be left out of what is free.
    everything_free
        Gives all that is free, small things too, asked only where nothing gives the pieces whole or something would
        have to be freed; default `offer.free`.

    Raises
    ------
    RequestError
        When it is not a small job, or its day has passed.
    """
    check_question(question.pieces, question.today, question.lay_on)

    @cache
    def everything() -> list[Source]:
        return list(everything_free() if everything_free else offer.free)

    counters = {code: _Counter(question, offer, code) for code in question.products}
    whole = _ranked((answer for one in counters.values() for answer in one.whole()), question.most)
    seamed: list[Answer] = []
    misses: tuple[Miss, ...] = ()
    if not whole:
        seamed = _ranked((answer for one in counters.values() for answer in one.seamed(everything())), question.most)
        near = (one for one in everything() if one.product in counters)
        misses = tuple(nearest_misses(question.pieces, near, question.most))
    rests = _ranked((answer for one in counters.values() for answer in one.rests()), question.most)
    promised = _ranked((answer for one in counters.values() for answer in one.promised(everything)), question.most)
    bought = _ranked((answer for one in counters.values() for answer in one.bought()), question.most)
    return Coverage(question, (*whole, *seamed, *rests, *promised, *bought), misses)


def _ranked(answers: Iterable[Answer], most: int) -> list[Answer]:
    """Put answers in order: in time, sound, known to be replaceable, cheap; and keep the first few."""

    def rank(answer: Answer) -> tuple[bool, bool, bool, int, int, list[str]]:
        unsound = any(take.source.condition for take in answer.takes)
        unknown = answer.freeing is not None and answer.freeing.cost_pence is None
        keys = [take.source.key for take in answer.takes]
        return not answer.in_time, unsound, unknown, answer.cost_pence, len(keys), keys

    return sorted(answers, key=rank)[:most]


class _Counter:
    """Answers for one product."""

    def __init__(self, question: Question, offer: Offer, product: str) -> None:
        self.question, self.offer, self.product = question, offer, product
        self.widest_mm = offer.widest_mm.get(product, 0)
        self.desk = Desk(self.widest_mm, offer.costs)
        self.free = [one for one in offer.free if one.product == product and self._in_time(one)]
        self.left = [one for one in offer.rests if one.product == product]
        self.claimed = [(one, promise) for one, promise in offer.promised if one.product == product]
        self.supply = [option for option in offer.supply if option.product == product]

    def _in_time(self, source: Source) -> bool:
        lay_on = self.question.lay_on
        return lay_on is None or source.from_day is None or source.from_day < lay_on

    def whole(self) -> Iterator[Answer]:
        """Free answers without a seam; as many sound ones as are wanted, and as many of the others."""
        for sources in (
            [one for one in self.free if not one.condition],
            [one for one in self.free if one.condition],
        ):
            most, pieces = self.question.most, self.question.pieces
            single = list(islice(from_one_source(self.desk, sources, pieces), most))
            below = single[-1].cost_pence + 1 if len(single) == most else float("inf")
            yield from (Answer(Ready.FREE, (take,)) for take in single)
            several = from_batches(self.desk, sources, pieces, most, below)
            yield from (Answer(Ready.FREE, tuple(takes)) for takes in several)

    def seamed(self, free: Iterable[Source]) -> Iterator[Answer]:
        """Free answers with a seam; sound sources only, which is what a seam needs."""
        if len(self.question.pieces) == 1:
            mine = [one for one in free if one.product == self.product and not one.condition]
            sound = [one for one in mine if self._in_time(one)]
            answers = side_by_side(self.desk, sound, self.question.pieces[0], self.offer.layout)
            yield from islice(answers, self.question.most)

    def rests(self) -> Iterator[Answer]:
        """What accepted plans will leave over, cut again."""
        for take in islice(from_one_source(self.desk, self.left, self.question.pieces), self.question.most):
            yield Answer(Ready.REST, (take,), in_time=self._in_time(take.source))

    def promised(self, everything: Callable[[], list[Source]]) -> Iterator[Answer]:
        """What would have to be freed, with what that costs."""
        promises = {source.key: promise for source, promise in self.claimed}
        takes = from_one_source(self.desk, (source for source, _ in self.claimed), self.question.pieces)
        for take in islice(takes, PROMISED_TRIED):
            freeing = self._freeing(take, promises[take.source.key], everything)
            yield Answer(Ready.PROMISED, (take,), freeing=freeing, in_time=self._in_time(take.source))

    def bought(self) -> Iterator[Answer]:
        """The best length of every offer; where one does not give all pieces, as many as cost least, else a seam."""
        answers: list[Answer] = []
        for option in self.supply:
            take = cheapest_purchase(self.desk, option, self.question)
            if takes := (take,) if take else cheapest_purchases(self.desk, [option], self.question):
                answers.append(Answer(Ready.BUY, takes))
        if not answers and len(self.question.pieces) == 1:
            pairs = (bought_side_by_side(self.desk, one, self.question, self.offer.layout) for one in self.supply)
            answers = [pair for pair in pairs if pair]
        for answer in answers:
            yield replace(answer, in_time=all(self._in_time(one.source) for one in answer.takes))

    def _freeing(self, take: Take, promise: Promise, everything: Callable[[], list[Source]]) -> Freeing:
        if promise.plan is None:
            return Freeing(promise, (), None)
        others = [one for one in everything() if one.product == self.product and not one.condition] + left_of(take)
        found = replacement(promise, take.source.batch, others, self.supply, self.question, self.desk)
        if found is None:
            return Freeing(promise, (), None)
        takes, given_back = found
        return Freeing(promise, takes, sum(take.cost_pence for take in takes) - given_back - promise.spent_pence)


# --- what nearly covers it ------------------------------------------------------------------------------------------


def nearest_misses(pieces: Pieces, sources: Iterable[Source], most: int) -> list[Miss]:
    """Give sources that lack least, across and along together; one that fits only turned is among them if there is any.

    Parameters
    ----------
    pieces
        What does not fit.
    sources
        What there is; sources that do fit are passed over.
    most
        How many to give.
    """
    needed = boxes(pieces)
    turned = in_order(tuple((length, width) for width, length in pieces))
    found: list[tuple[int, str, Miss]] = []
    for source in sources:
        lacking = [(max(0, w - source.width_mm), max(0, n - source.length_mm)) for w, n in needed]
        across, along = min(lacking, key=sum)
        if across or along:
            would = fits(turned, source.width_mm, source.length_mm)
            found.append((across + along, source.key, Miss(source, across, along, would)))
    found.sort(key=lambda one: one[:2])
    nearest = [miss for _, _, miss in found[:most]]
    if nearest and not any(miss.turned for miss in nearest):
        nearest += islice((miss for _, _, miss in found if miss.turned), 1)
    return nearest
