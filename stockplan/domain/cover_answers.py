"""Answering whether something covers a small job: free, left over, promised, or to be bought; and what nearly does.

Looked for, and ranked by what they cost within each readiness: one source for all pieces; two sources or more of one
batch, a piece from each at least; and, for one piece that nothing free covers whole, and nothing of the readiness
either, two side by side with a seam along the pile. Never a seam across it, never a piece turned, never two batches.
Of what is left over, or promised, one source gives all pieces, or two give one piece with a seam, of which one may be
free.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cache
from itertools import islice
from math import inf

from stockplan.domain.cover import Answer, Coverage, Freeing, Miss, Offer, Question, Ready
from stockplan.domain.cover_batches import from_one_batch
from stockplan.domain.cover_freeing import FreeingSearch
from stockplan.domain.cover_purchase import cheapest_purchase, cheapest_purchases, check_question
from stockplan.domain.cover_seam import bought_side_by_side, side_by_side
from stockplan.domain.cover_search import Desk, from_one_source
from stockplan.domain.cover_source import Source, purchase
from stockplan.domain.limits import MOST_WIDTH_MM
from stockplan.domain.pieces import Pieces, Size, boxes, fits, in_order
from stockplan.domain.stock import SupplyForm, SupplyOption

PROMISED_TRIED = 8  # promised things whose freeing is worked out, the cheapest grass first
SEAMS_TRIED = 6  # the same of two things side by side
MOST_WORK = 4000  # how much is done to find out what freeing costs, some 0.15 s; the less, the more lies free
LEAST_MOST_WORK = 1500
LEAST_WORK = 100  # for each thing


def least_size(question: Question) -> Size:
    """Give the width and length below which nothing gives any of the pieces whole."""
    return min(w for w, _ in question.pieces), min(n for _, n in question.pieces)


def cover(
    question: Question,
    offer: Offer,
    everything_free: Callable[[], Iterable[Source]] | None = None,
    most_pence: float = inf,
) -> Coverage:
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
    most_pence
        Free answers for two pieces or more that cost more are of no interest, and no misses then; default all are.

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
    whole = _whole(counters.values(), question, most_pence)
    seamed: list[Answer] = []
    misses: tuple[Miss, ...] = ()
    if not whole and (most_pence == inf or len(question.pieces) == 1):
        seamed = _ranked((answer for one in counters.values() for answer in one.seamed(everything())), question.most)
        near = (one for one in everything() if one.product in counters)
        misses = tuple(nearest_misses(question.pieces, near, question.most))
    rests = _ranked((answer for one in counters.values() for answer in one.rests()), question.most)
    if not whole and not rests and len(question.pieces) == 1:
        rests = _ranked((one for each in counters.values() for one in each.seamed_rests(everything())), question.most)
    promised = _promised(question, counters.values(), rests, everything, seamed=not whole)
    bought = _ranked((answer for one in counters.values() for answer in one.bought()), question.most)
    if misses:
        others = [miss for one in counters.values() for miss in one.other_misses(rests + promised, bought)]
        misses += tuple(sorted(others, key=lambda miss: (miss.ready is Ready.BUY, miss.across_mm + miss.along_mm)))
    return Coverage(question, (*whole, *seamed, *rests, *promised, *bought), misses)


def _whole(counters: Iterable[_Counter], question: Question, most_pence: float) -> list[Answer]:
    """Free answers without a seam; in one grass after the other, no further than those known make worth while.

    The grass of which the cheapest offcut costs least goes first, as it is likely to give the cheapest answers.
    """
    highest = most_pence if len(question.pieces) > 1 else inf
    found: list[Answer] = []
    for one in sorted(counters, key=_Counter.cheapest_free):
        found = _ranked([*found, *one.whole(highest)], question.most)
        if len(found) == question.most and not _unsound(found[-1]):
            highest = min(highest, found[-1].cost_pence)
    return found


def _promised(
    question: Question,
    counters: Iterable[_Counter],
    rests: Sequence[Answer],
    everything: Callable[[], list[Source]],
    *,
    seamed: bool,
) -> list[Answer]:
    """What would have to be freed; not what a rest gives in time at no higher cost."""
    left = {one.takes[0].source.key: one.cost_pence for one in rests if one.in_time and not one.seam_mm}
    promised = [answer for one in counters for answer in one.promised(everything, left)]
    if not promised and not left and seamed:
        promised = [answer for one in counters for answer in one.seamed_promised(everything)]
    return _ranked(promised, question.most)


def _ranked(answers: Iterable[Answer], most: int) -> list[Answer]:
    """Put answers in order: in time, sound, known to be replaceable, cheap; and keep the first few."""

    def rank(answer: Answer) -> tuple[bool, bool, bool, int, int, list[str]]:
        unknown = answer.freeing is not None and answer.freeing.cost_pence is None
        keys = [take.source.key for take in answer.takes]
        return not answer.in_time, _unsound(answer), unknown, answer.cost_pence, len(keys), keys

    return sorted(answers, key=rank)[:most]


def _unsound(answer: Answer) -> bool:
    """Whether something that it takes is wet, damaged or the like."""
    return any(take.source.condition for take in answer.takes)


def _rather(before: Answer | None, freeing: Freeing) -> bool:
    """Whether what was found now is no worse than what was found before."""
    if before is None or before.freeing is None or before.freeing.cost_pence is None:
        return True
    return freeing.cost_pence is not None and freeing.cost_pence <= before.freeing.cost_pence


class _Counter:
    """Answers for one product."""

    def __init__(self, question: Question, offer: Offer, product: str) -> None:
        self.question, self.offer, self.product = question, offer, product
        self.widest_mm = offer.widest_mm.get(product, 0)
        self.desk = Desk(self.widest_mm, offer.costs)
        self.free = [one for one in offer.free if one.product == product and self._in_time(one)]
        self.left = [one for one in offer.rests if one.product == product]
        self.held = [(one, promise) for one, promise in offer.held if one.product == product]
        self.loads = [load for load in offer.loads if load.source.product == product]
        self.here = {load.source.key: load.source for load in self.loads if load.here}
        self.supply = [option for option in offer.supply if option.product == product]
        self._freeing: FreeingSearch | None = None

    def cheapest_free(self) -> float:
        """What the cheapest grass of the free things costs for its area."""
        return min((one.pence_per_mm2 for one in self.free), default=inf)

    def _in_time(self, source: Source) -> bool:
        return source.there_before(self.question.lay_on)

    def _sound(self, sources: Iterable[Source]) -> list[Source]:
        mine = [one for one in sources if one.product == self.product and not one.condition]
        return [one for one in mine if self._in_time(one)]

    def whole(self, highest: float) -> Iterator[Answer]:
        """Free answers without a seam, none dearer than so much; others than sound ones where these are too few."""
        pieces, most = self.question.pieces, self.question.most
        sound = [one for one in self.free if not one.condition]
        wanted = most
        for takes in from_one_batch(self.desk, sound, pieces, most, highest):
            wanted -= 1
            yield Answer(Ready.FREE, takes)
        if wanted > 0 and len(sound) < len(self.free):
            # of the cheapest of all there are as many not sound as are wanted, as no more of the sound ones were found
            for takes in from_one_batch(self.desk, self.free, pieces, most, highest):
                if any(take.source.condition for take in takes):
                    yield Answer(Ready.FREE, takes)

    def seamed(self, free: Iterable[Source]) -> Iterator[Answer]:
        """Free answers with a seam; sound sources only, which is what a seam needs."""
        if len(self.question.pieces) == 1:
            answers = side_by_side(self.desk, self._sound(free), self.question.pieces[0], self.offer.layout)
            yield from islice(answers, self.question.most)

    def _seamed_with(self, others: Sequence[Source], free: Iterable[Source]) -> Iterator[Answer]:
        """Answers with a seam that take at least one of some things, the other side from these or from what is free."""
        if len(self.question.pieces) != 1 or not others:
            return
        batches = {one.batch for one in others}
        beside = [one for one in self._sound(free) if one.batch in batches]
        for answer in side_by_side(self.desk, [*others, *beside], self.question.pieces[0], self.offer.layout):
            if any(take.source in others for take in answer.takes):
                yield answer

    def rests(self) -> Iterator[Answer]:
        """What accepted plans will leave over, cut again; what comes too late leaves out nothing that does not."""
        for late, unsound in ((False, False), (False, True), (True, False), (True, True)):
            some = [one for one in self._rests(late=late) if bool(one.condition) is unsound]
            for take in islice(from_one_source(self.desk, some, self.question.pieces), self.question.most):
                yield Answer(Ready.REST, (take,), in_time=not late)

    def _rests(self, *, late: bool) -> list[Source]:
        return [one for one in self.left if self._in_time(one) is not late]

    def seamed_rests(self, free: Iterable[Source]) -> Iterator[Answer]:
        """The same with a seam."""
        beside = list(free)
        for late in (False, True):
            rests = [one for one in self._rests(late=late) if not one.condition]
            for answer in islice(self._seamed_with(rests, beside), self.question.most):
                yield replace(answer, ready=Ready.REST, in_time=not late)
            beside += rests

    def promised(self, everything: Callable[[], list[Source]], left: Mapping[str, int]) -> Iterator[Answer]:
        """What would have to be freed, with what that costs; not where what is left of it costs no more."""
        promises, held = {source.key: promise for source, promise in self.held}, [source for source, _ in self.held]
        for take in islice(from_one_source(self.desk, held, self.question.pieces), PROMISED_TRIED):
            yield Answer(Ready.PROMISED, (take,), freeing=Freeing(promises[take.source.key]))
        takes = islice(from_one_source(self.desk, self.here.values(), self.question.pieces), PROMISED_TRIED)
        yield from self._freed((Answer(Ready.PROMISED, (take,)) for take in takes), everything, left)

    def seamed_promised(self, everything: Callable[[], list[Source]]) -> Iterator[Answer]:
        """The same with a seam."""
        here = [one for one in self.here.values() if not one.condition]
        if here and len(self.question.pieces) == 1:
            found = islice(self._seamed_with(here, everything()), SEAMS_TRIED)
            yield from self._freed((replace(one, ready=Ready.PROMISED) for one in found), everything, {})

    def _freed(
        self, answers: Iterable[Answer], everything: Callable[[], list[Source]], left: Mapping[str, int]
    ) -> list[Answer]:
        """Say what it takes to free what answers take; of sound things only where it is among the cheapest.

        Each gets its share of the work; what is left of it goes to those not proven, the cheapest first.
        """
        waiting = list(answers)
        if not waiting:
            return []
        work = max(LEAST_MOST_WORK, MOST_WORK - len(everything()))
        ends = self.desk.spent + work // len(self.question.products)
        found: dict[int, Answer] = {}
        told: set[int] = set()

        def free(place: int, most_work: float) -> None:
            answer = waiting[place]
            known = [one for other, one in found.items() if other not in {place, *told}]
            freeing = self._search(everything).freeing(answer.takes, self._below(answer, known), most_work)
            if freeing is None:
                found.pop(place, None)  # whatever it costs, others cost less
            elif _rather(found.get(place), freeing):
                in_time = all(self._in_time(take.source) for take in answer.takes)
                found[place] = replace(answer, freeing=freeing, in_time=in_time)
                if (
                    freeing.cost_pence is not None
                    and left.get(answer.takes[0].source.key, inf) <= found[place].cost_pence
                ):
                    told.add(place)

        for place in range(len(waiting)):
            free(place, max(LEAST_WORK, (ends - self.desk.spent) / (len(waiting) - place) / 2))
        for place in sorted(found, key=lambda place: found[place].cost_pence):
            freeing = found[place].freeing
            if freeing is not None and not freeing.proven and self.desk.spent < ends:
                free(place, ends - self.desk.spent)
        return [answer for place, answer in found.items() if place not in told]

    def _below(self, answer: Answer, known: Iterable[Answer]) -> float:
        """What an answer must cost less than, its seam apart, to be among the cheapest; only a sound one must."""
        costs = sorted(
            one.cost_pence for one in known if one.freeing is not None and one.freeing.cost_pence is not None
        )
        few = _unsound(answer) or len(costs) < self.question.most
        return inf if few else costs[self.question.most - 1] - answer.seam_pence

    def _search(self, everything: Callable[[], list[Source]]) -> FreeingSearch:
        if self._freeing is None:
            free = [one for one in everything() if one.product == self.product and not one.condition]
            self._freeing = FreeingSearch(self.desk, self.loads, self.offer.jobs, free, self.supply, self.question)
        return self._freeing

    def bought(self) -> Iterator[Answer]:
        """The best purchase of every offer, of as many lengths as cost least; where none gives all pieces, a seam."""
        answers = self._of_offers(self._bought_whole)
        if not answers and len(self.question.pieces) == 1:
            answers = self._of_offers(self._bought_seamed)
        yield from answers

    def _of_offers(self, buy: Callable[[Sequence[SupplyOption]], Answer | None]) -> list[Answer]:
        """The best of each offer, and of several together where that costs less; of those in time if there are any."""
        in_time = [one for one in self.supply if self._in_time(purchase(one, one.length_mm, self.question.today))]
        each = [self._dated(answer) for option in self.supply if (answer := buy([option]))]
        offers = in_time or self.supply
        together = buy(offers) if len(offers) > 1 else None
        known = min((one.cost_pence for one in each if one.in_time or not in_time), default=inf)
        if together and together.cost_pence < known:
            each.append(self._dated(together))
        return each

    def _dated(self, answer: Answer) -> Answer:
        return replace(answer, in_time=all(self._in_time(take.source) for take in answer.takes))

    def _bought_whole(self, options: Sequence[SupplyOption]) -> Answer | None:
        # A second roll never pays while one gives all; a second cut length may, as it saves a crosscut.
        if len(options) == 1 and options[0].form is SupplyForm.ROLL:
            one = cheapest_purchase(self.desk, options[0], self.question)
            if one:
                return Answer(Ready.BUY, (one,))
        takes = cheapest_purchases(self.desk, options, self.question)
        return Answer(Ready.BUY, takes) if takes else None

    def _bought_seamed(self, options: Sequence[SupplyOption]) -> Answer | None:
        return bought_side_by_side(self.desk, options, self.question, self.offer.layout)

    def other_misses(self, promised: Sequence[Answer], bought: Sequence[Answer]) -> Iterator[Miss]:
        """What is promised, or sold, and nearly does, where nothing promised, or sold, does."""
        if not promised:
            sources = [*self.here.values(), *(source for source, _ in self.held)]
            yield from (
                replace(miss, ready=Ready.PROMISED) for miss in nearest_misses(self.question.pieces, sources, 1)
            )
        if not bought:
            today = self.question.today
            longest = [purchase(option, option.length_mm, today) for option in self.supply]
            yield from (replace(miss, ready=Ready.BUY) for miss in nearest_misses(self.question.pieces, longest, 1))


# --- what nearly covers it ------------------------------------------------------------------------------------------


def nearest_misses(pieces: Pieces, sources: Iterable[Source], most: int) -> list[Miss]:
    """Give sources that lack least, across and along together; one that fits only turned is among them if there is any.

    Pieces that side by side would take more than any loom is wide are taken end to end.

    Parameters
    ----------
    pieces
        What does not fit.
    sources
        What there is; sources that do fit are passed over.
    most
        How many to give.
    """
    narrowest, *others = boxes(pieces)
    needed = [narrowest, *(box for box in others if box[0] <= MOST_WIDTH_MM)]
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
