"""Several processes writing to one yard at once: nothing is lost, nothing is promised twice, every loser is told why.

`python -m stockplan.bench.writers --processes 8 --seconds 60` on a new SQLite file, or with `--store URL` on an empty
PostgreSQL database. Every process looks at the yard, makes up its mind, and writes what followed from what it saw; by
then another may have been there first. It remembers each movement the store took from it. Afterwards every one of them
must stand in the ledger once, the reservations must be those the processes remember, and the store must be in order.
In between each makes, accepts and withdraws plans for a few rolls that all of them want.
"""

from __future__ import annotations

import argparse
import multiprocessing
import random
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path

from stockplan.bench.rivals import LETTER, Decided, Rival, contested, faults_of_plans, proposals
from stockplan.domain.ledger import (
    CutPiece,
    Entry,
    MovementKind,
    Yard,
    binned,
    counted,
    cut,
    freed,
    held,
    moved,
    received,
    released,
    reserved,
    returned,
    written_off,
)
from stockplan.domain.stock import Product, StockForm, StockItem
from stockplan.errors import StoreBusy, StoreConflict
from stockplan.store.ledger_rows import ledger_end, read_movements, read_yard, record
from stockplan.store.quick import OpenYard, open_yard

ITEMS = 40  # so few that the processes are in each other's way
LEAST = 100  # movements that each process tries, however slow the machine; with two of them one in 16 is refused
PLANS = 0.05  # how often a process deals with a plan
FIRST_NUMBER = 1_000_000
PRODUCT = Product("G30", "30 mm pile", 2350)


@dataclass(slots=True)
class Remembered:
    """What one process remembers.

    Parameters
    ----------
    taken
        The words it gave as the reason of each movement the store took.
    refused
        What it was told when the store did not, and how often; the tags and numbers in it made alike.
    busy
        How often it waited for its turn in vain.
    plans
        Tags it reserved and still has, by plan.
    decided
        What it did with whole plans.
    """

    taken: list[str] = field(default_factory=list)
    refused: Counter[str] = field(default_factory=Counter)
    busy: int = 0
    plans: dict[str, int] = field(default_factory=dict)
    decided: Decided = field(default_factory=Decided)


class Writer:
    """One process at work.

    Parameters
    ----------
    number
        Which; what it reserves by hand is for a plan of this number, far above those of real plans.
    store
        Open.
    rival
        Deals with whole plans.
    """

    def __init__(self, number: int, store: OpenYard, rival: Rival) -> None:
        self.number = number
        self.store = store
        self.random = random.Random(number)
        self.rival = rival
        self.remembered = Remembered(decided=rival.decided)
        self.made = 0

    def run(self, until: float) -> Remembered:
        """Work until a moment on the clock of the system, and so often that processes must get in each other's way."""
        while time.time() < until or self.made < LEAST:
            if self.random.random() < PLANS:
                self.rival.once()
            else:
                self._once()
        return self.remembered

    def _once(self) -> None:
        with self.store.reading() as source:
            yard, looked = read_yard(source), ledger_end(source)
        time.sleep(self.random.uniform(0, 0.003))  # a person would take longer to make up their mind
        self.made += 1
        entries = self._wish(yard, f"{self.number}-{self.made}")
        sure = looked if self.random.random() < 0.5 else None
        try:
            with self.store.unit_of_work() as work:
                record(work, entries, f"writer {self.number}", sure)
                work.commit()
        except StoreConflict as refusal:
            self.remembered.refused[_alike(str(refusal))] += 1
        except StoreBusy:
            self.remembered.busy += 1
        else:
            self._remember(entries)

    def _remember(self, entries: Sequence[Entry]) -> None:
        self.remembered.taken += [entry.why for entry in entries]
        for entry in entries:
            if entry.kind is MovementKind.RESERVED:
                self.remembered.plans[entry.tag] = self.number
            elif entry.kind in {MovementKind.RELEASED, MovementKind.CUT}:
                self.remembered.plans.pop(entry.tag, None)

    def _wish(self, yard: Yard, why: str) -> list[Entry]:
        mine = sorted(tag for tag, plan in yard.reservations.items() if plan == self.number)
        free = sorted(tag for tag in yard.available(date.today()) if tag not in mine and tag[0] != LETTER)
        chosen = self.random.random()
        if not free or len(yard.items) < ITEMS // 2 or chosen < 0.1:
            return [received(_item(f"W{self.number}-{self.made}"), f"{why}.1")]
        tag = self.random.choice(free)
        if mine and chosen < 0.3:
            return self._cut(self.random.choice(mine), why, yard)
        if mine and chosen < 0.35:
            return [released(mine[0], self.number, f"{why}.1")]
        if chosen < 0.65:
            wanted = sorted({tag, self.random.choice(free)})
            return [reserved(one, self.number, f"{why}.{n}") for n, one in enumerate(wanted, start=1)]
        if chosen < 0.7:
            return [held(tag, f"Q-{self.number}", date.today() + timedelta(days=3), f"{why}.1")]
        if yard.holds and chosen < 0.75:
            return [freed(self.random.choice(sorted(yard.holds)), f"{why}.1")]
        if chosen < 0.9:
            return [moved(tag, f"F{self.random.randint(1, 9)}", f"{why}.1")]
        return [counted(tag, f"{why}.1")] if chosen < 0.98 else [written_off(tag, f"{why}.1")]

    def _cut(self, tag: str, why: str, yard: Yard) -> list[Entry]:
        """Cut an item: a piece, a part that comes back, and the rest to the bin."""
        item = yard.items[tag]
        length = item.length_mm // 3
        piece = CutPiece(f"J{self.number}", "A", self.made, item.width_mm, length)
        entries = [cut(tag, [piece], f"{why}.1", self.number)]
        if length >= 1000:
            child, size_mm = f"{tag}/{self.number}", (item.width_mm, length)
            entries.append(returned(child, tag, StockForm.OFFCUT, size_mm, "F1", f"{why}.2", self.number))
        rest = item.area_mm2 - len(entries) * item.width_mm * length
        return [*entries, binned(tag, rest, f"{why}.3", self.number)]


def _item(tag: str) -> StockItem:
    return StockItem(tag, PRODUCT.code, "B7", StockForm.ROLL, 4000, 25_000, "F1", 1060)


def _alike(told: str) -> str:
    """Take tags, names and numbers out of a sentence, so that the same refusals are counted together."""
    words = told.split("(last:", maxsplit=1)[0].split(":", maxsplit=1)[0]
    return " ".join("…" if any(c.isdigit() for c in word) else word for word in words.split())


def prepare(where: str) -> None:
    """Make a store with a small yard."""
    from stockplan.store.importing import import_contents  # noqa: PLC0415
    from stockplan.store.session import open_store  # noqa: PLC0415
    from stockplan.store.sheets import SheetContents  # noqa: PLC0415

    with open_store(where, create=True) as store, store.unit_of_work() as work:
        items = tuple(_item(f"R-{number:03}") for number in range(ITEMS))
        rolls, jobs = contested(PRODUCT)
        import_contents(work, SheetContents(products=(PRODUCT,), stock=(*items, *rolls), jobs=jobs), "maker")
        work.commit()


def _work(where: str, number: int, until: float, texts: Sequence[str]) -> Remembered:
    with open_yard(where) as store:
        return Writer(number, store, Rival(where, texts, random.Random(number))).run(until)


def write_at_once(where: str, processes: int, seconds: float) -> list[Remembered]:
    """Let processes write at once, and give what each remembers.

    Parameters
    ----------
    where
        A store made by `prepare`.
    processes
        How many; at least 1.
    seconds
        How long they write, once all have started; longer where that leaves no time for `LEAST` movements each.
    """
    texts = proposals(PRODUCT)
    context = multiprocessing.get_context("spawn")
    with context.Pool(processes) as pool:
        pool.map(_started, [where] * processes * 4, chunksize=1)  # so that all begin together
        until = time.time() + seconds
        tasks = [(where, FIRST_NUMBER + number, until, texts) for number in range(processes)]
        return pool.starmap(_work, tasks, chunksize=1)


def _started(where: str) -> None:
    """Load what a process needs, which takes longer than many movements."""
    from stockplan.actions.plan_states import list_plans  # noqa: PLC0415

    list_plans(where)
    time.sleep(0.2)


def faults_after(where: str, remembered: Sequence[Remembered]) -> list[str]:
    """Hold the store against what the processes remember; give every difference as a sentence."""
    from stockplan.store.session import open_store  # noqa: PLC0415
    from stockplan.store.verify import verify_store  # noqa: PLC0415

    with open_store(where) as store, store.reading() as session:
        faults = verify_store(session)
        ledger = Counter(movement.why for movement in read_movements(session) if movement.who.startswith("writer"))
        reservations = read_yard(session).reservations
    told = Counter(why for one in remembered for why in one.taken)
    faults += [
        f"movement {why!r} was taken {told[why]} times and is there {ledger[why]} times"
        for why in told | ledger
        if told[why] != ledger[why]
    ]
    owners: dict[str, list[int]] = {}
    for one in remembered:
        for tag, plan in one.plans.items():
            owners.setdefault(tag, []).append(plan)
    faults += [f"{tag} is reserved for plans {plans}" for tag, plans in owners.items() if len(plans) > 1]
    # what another wrote off took its reservation along
    faults += [
        f"{tag} is reserved for plan {plan}, which nobody remembers"
        for tag, plan in reservations.items()
        if tag[0] != LETTER and owners.get(tag) != [plan]
    ]
    return faults + faults_of_plans([one.decided for one in remembered], reservations)


def main(arguments: Sequence[str] | None = None) -> None:
    """Let several processes write to one yard at once, and see that nothing is lost or promised twice."""
    parser = argparse.ArgumentParser(prog="python -m stockplan.bench.writers", description=main.__doc__)
    parser.add_argument("--processes", type=int, default=8, help="default 8")
    parser.add_argument("--seconds", type=float, default=60.0, help="how long they write; default 60")
    parser.add_argument("--store", help="URL of an empty PostgreSQL database; default a new SQLite file")
    given = parser.parse_args(arguments)
    if given.processes < 1 or given.seconds <= 0:
        parser.error("there must be at least one process and some time")
    with tempfile.TemporaryDirectory() as folder:
        where = given.store or str(Path(folder) / "yard.db")
        prepare(where)
        remembered = write_at_once(where, given.processes, given.seconds)
        faults = faults_after(where, remembered)
    taken, busy = sum(len(one.taken) for one in remembered), sum(one.busy for one in remembered)
    refused = sum((one.refused for one in remembered), Counter[str]())
    written = f"{taken:,} movements written, {busy} turns waited for in vain"
    print(f"{given.processes} processes, {given.seconds:g} s: {written}")
    plans = [one.decided for one in remembered]
    accepted, withdrawn = sum(len(one.accepted) for one in plans), sum(len(one.withdrawn) for one in plans)
    print(f"{accepted:,} plans accepted, {withdrawn:,} withdrawn, {sum(one.refused for one in plans):,} times refused")
    print(f"{sum(refused.values()):,} refused, of {len(refused)} sorts; the most frequent:")
    for sentence, times in refused.most_common(6):
        print(f"{times:7,}  {sentence}")
    for fault in faults[:20]:
        print(fault, file=sys.stderr)
    print(f"{len(faults)} faults")
    if faults:
        sys.exit(1)


if __name__ == "__main__":
    main()
