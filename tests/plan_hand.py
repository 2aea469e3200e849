"""A random hand on a small yard: plans made, accepted, withdrawn, ordered for, taken in and cut, all of it checked."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

from builders import JOB, MONDAY, OTHER_ROLL, ROLL, TODAY, small_request

from stockplan.actions import accepting, cancelling, cutting_sheets, ordering, receiving, reversing, taking_in, yard
from stockplan.actions.asking import Wish
from stockplan.actions.in_force import read_books, read_schedule
from stockplan.actions.planning import ShownPlan, make_plan
from stockplan.domain.came_off import CameOff
from stockplan.domain.jobs import BatchRule, Job, Strip
from stockplan.domain.ledger import MovementKind
from stockplan.domain.misfits import outdated
from stockplan.domain.purchase import OrderLine
from stockplan.domain.request import Pin, SearchLimits
from stockplan.domain.standing import Schedule
from stockplan.domain.stock import StockItem
from stockplan.errors import PlanOutdated, StockplanError
from stockplan.store.importing import import_contents
from stockplan.store.ledger_rows import ledger_end, read_movements, read_stock
from stockplan.store.plan_rows import read_promised, read_spans
from stockplan.store.session import Store, open_store
from stockplan.store.sheets import SheetContents
from stockplan.store.verify import verify_store
from stockplan.store.verify_plans import verify_plans

WEEK = small_request().window
JOBS = (
    JOB,
    Job("J2", "Alder Close", "G30", MONDAY + timedelta(days=1), "road", BatchRule.ONE, (Strip("A", 4000, 2500),)),
    Job("J3", "Birch End", "G30", MONDAY + timedelta(days=3), "road", BatchRule.ANY, (Strip("A", 4000, 2000, 2),)),
    Job("J4", "Elm Rise", "G30", MONDAY + timedelta(days=4), "road", BatchRule.ONE, (Strip("A", 3000, 9000, 2),)),
)


class Yard:
    """A store, a random hand on it, and a plain count of what has been cut."""

    def __init__(self, where: str, seed: int) -> None:
        self.where = where
        self.pick = random.Random(seed)
        self.jobs = {job.code: job for job in JOBS}
        self.cut: Counter[tuple[str, str]] = Counter()
        self.took: Counter[str] = Counter()
        self.loose: set[str] = set()
        with open_store(where, create=True) as store:
            self.fill(store, (ROLL, OTHER_ROLL))

    def fill(self, store: Store, stock: tuple = ()) -> None:
        request = small_request()
        contents = SheetContents(request.products, request.supply, stock, tuple(self.jobs.values()))
        with store.unit_of_work() as work:
            import_contents(work, contents, "tester")
            work.commit()

    # --- what may happen

    def plan(self) -> None:
        tags = [item.tag for item in self.stock()]
        pins = (
            (Pin(self.pick.choice(list(self.jobs)), self.pick.choice(tags)),)
            if tags and self.pick.random() < 0.1
            else ()
        )
        wish = Wish(again=self.pick.random() < 0.3, pins=pins)
        made = make_plan(self.where, WEEK, TODAY, SearchLimits(1), wish=wish)
        if self.pick.random() < 0.3:
            self.accept_at_once(made)

    def accept_at_once(self, made: ShownPlan) -> None:
        """What stands against a plan that was made a moment ago was told with it."""
        against: tuple[str, ...] = ()
        try:
            accepting.accept_plan(self.where, made.number, TODAY)
        except PlanOutdated as outdated:
            against = outdated.changes
        assert against == (made.against.changes if made.against else ())
        self.took["told at once"] += bool(against)

    def accept(self) -> None:
        done = accepting.accept_plan(self.where, self.some_plan(newest=0.8), TODAY)
        schedule = self.schedule()
        covered = {code for one in schedule.standing if one.plan == done.number for code in one.jobs()}
        assert not [one for one in schedule.standing if covered.intersection(outdated(schedule, one))]

    def withdraw(self) -> None:
        if self.pick.random() < 0.3:
            accepting.withdraw_plan(self.where, self.some_plan(newest=0.2))

    def order(self) -> None:
        if lines := self.lines():
            late = self.pick.random() < 0.2
            promised = MONDAY + timedelta(days=2) if late else None
            ordering.place_orders(self.where, [self.pick.choice(lines).key], TODAY, promised)

    def take_in(self) -> None:
        if lines := self.lines():
            line = self.pick.choice(lines)
            short = self.pick.choice([0, 0, 150, 4000])
            batch = self.pick.choice(["B9", "B9", "B10"])
            came = taking_in.Delivery(batch, line.width_mm, max(1000, line.length_mm - short), "east")
            taking_in.receive_order(self.where, line.key, came, TODAY)

    def cut_one(self) -> None:
        here = [one for one in self.schedule().standing if one.item.arrives_on is None]
        if not here:
            return
        one = self.pick.choice(here)
        names = [(piece.job, piece.strip, piece.number) for piece in one.cuts.pieces()]
        spoiled = frozenset(name for name in names if self.pick.random() < 0.15)
        binned = frozenset(n for n in range(1, len(one.leftovers) + 1) if self.pick.random() < 0.3)
        cutting_sheets.record_cut(self.where, one.item.tag, CameOff(spoiled=spoiled, binned=binned))
        self.cut.update((job, strip) for job, strip, number in names if (job, strip, number) not in spoiled)

    def mend(self) -> None:
        schedule = self.schedule()
        lacking = [code for code in self.jobs if schedule.missing(code)]
        if lacking:
            make_plan(self.where, WEEK, TODAY, SearchLimits(1), wish=Wish(only=(self.pick.choice(lacking),)))

    def disturb(self) -> None:
        items = self.stock()
        if not items:
            return
        item = self.pick.choice(items)
        what = self.pick.random()
        if what < 0.4:
            receiving.measure(self.where, item.tag, (item.width_mm, max(500, item.length_mm - 100)))
        elif what < 0.5:
            yard.write_off(self.where, item.tag, "lost")
        elif what < 0.8:
            yard.move(self.where, item.tag, self.pick.choice("NSEW"))
        else:
            receiving.receive(self.where, replace(ROLL, tag=f"X-{self.end()}", batch=self.pick.choice(["B7", "B8"])))

    def grow(self) -> None:
        job = self.pick.choice(list(self.jobs.values()))
        if self.pick.random() < 0.3 and job.piece_count < 6:
            strip = replace(job.strips[0], count=job.strips[0].count + 1)
            self.jobs[job.code] = replace(job, strips=(strip, *job.strips[1:]))
            with open_store(self.where) as store:
                self.fill(store)

    def change(self) -> None:
        """Want less, or other sizes, or nothing: then earlier plans may hold too much until they are made again."""
        if self.pick.random() < 0.7:
            return
        job = self.pick.choice(list(self.jobs.values()))
        self.loose.add(job.code)
        first = job.strips[0]
        if self.pick.random() < 0.2 and len(self.jobs) > 2:
            cancelling.cancel_jobs(self.where, [job.code])
            del self.jobs[job.code]
            return
        other = replace(first, length_mm=first.length_mm + self.pick.choice([-100, 100]))
        fewer = replace(first, count=max(1, first.count - 1))
        strips = (self.pick.choice([other, fewer]), *job.strips[1:])
        self.jobs[job.code] = replace(job, strips=strips)
        with open_store(self.where) as store:
            self.fill(store)

    def undo_cut(self) -> None:
        with open_store(self.where) as store, store.reading() as session:
            movements = list(read_movements(session))
        undone = {movement.reverses for movement in movements}
        cuts = [one for one in movements if one.kind is MovementKind.CUT and one.number not in undone]
        if cuts:
            last = cuts[-1]
            reversing.reverse(self.where, last.number, "a slip")  # refused when what came off it has moved
            self.cut.subtract((one["job"], one["strip"]) for one in last.values["pieces"] if not one.get("spoiled"))  # type: ignore[union-attr,index]
            # what was cut in place of a spoiled piece, or is to be, is one too many now
            self.loose.update(one["job"] for one in last.values["pieces"] if one.get("spoiled"))  # type: ignore[union-attr,index]

    # --- looking

    def stock(self) -> list[StockItem]:
        with open_store(self.where) as store, store.reading() as session:
            return read_stock(session)

    def end(self) -> int:
        with open_store(self.where) as store, store.reading() as session:
            return ledger_end(session)

    def lines(self) -> list[OrderLine]:
        with open_store(self.where) as store, store.reading() as session:
            return [line for line in read_books(session).lines.values() if line.coming]

    def schedule(self) -> Schedule:
        with open_store(self.where) as store, store.reading() as session:
            return read_schedule(session, read_promised(session))

    def some_plan(self, newest: float) -> int:
        with open_store(self.where) as store, store.reading() as session:
            numbers = [number for number, _, _ in read_spans(session)] or [1]
        return numbers[-1] if self.pick.random() < newest else self.pick.choice(numbers)

    def step(self) -> None:
        doing: Callable[[], None] = self.pick.choice(
            [self.plan, self.accept, self.accept, self.withdraw, self.order, self.take_in, self.cut_one, self.cut_one,
             self.mend, self.disturb, self.grow, self.change, self.undo_cut]
        )  # fmt: skip
        before = self.end()
        try:
            doing()
            self.took[doing.__name__] += 1
        except StockplanError as error:
            refused = str(error)
            self.took[f"{doing.__name__} refused"] += 1
        else:
            return
        assert "failed its check" not in refused
        assert self.end() == before, refused

    def check(self) -> None:
        with open_store(self.where) as store, store.reading() as session:
            assert verify_store(session) == []
            assert verify_plans(session) == []
            books = read_books(session)
            schedule = read_schedule(session, read_promised(session))
        here = [one.item.tag for one in schedule.standing if one.item.arrives_on is None]
        assert sorted(here) == sorted(books.reserved)
        for code, job in self.jobs.items():
            assert len(schedule.all_cut_for(code)) == sum(self.cut[key] for key in self.cut if key[0] == code)
            assert code in self.loose or not schedule.outgrown.get(code)
            for strip in job.strips:
                pieces = len(schedule.pieces.get((code, strip.label), ()))
                assert code in self.loose or pieces == self.cut[code, strip.label]
                planned = sum(
                    (piece.job, piece.strip) == (code, strip.label)
                    for one in schedule.standing
                    for piece in one.cuts.pieces()
                )
                assert code in self.loose or pieces + planned <= strip.count, (
                    f"{code} {strip.label} is cut and planned too often"
                )


def run(where: str, seed: int, steps: int) -> Counter[str]:
    """Let the hand do so many things, checking after each; returns how often each was done or refused."""
    hand = Yard(where, seed)
    for _ in range(steps):
        hand.step()
        hand.check()
    return hand.took
