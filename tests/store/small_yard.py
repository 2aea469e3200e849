"""A yard small enough to know by heart."""

from __future__ import annotations

from datetime import date

from stockplan.domain.jobs import BatchRule, Job, Strip
from stockplan.domain.lawn import EdgeNote, Lawn, LawnPlace, Point
from stockplan.domain.pile import PileKind, PileWish
from stockplan.domain.stock import Product, StockForm, StockItem, SupplyForm, SupplyOption
from stockplan.store.importing import ImportSummary, import_contents
from stockplan.store.session import Store
from stockplan.store.sheets import SheetContents

G30 = Product("G30", "30 mm pile", 2350)
G40 = Product("G40", "40 mm pile", 2850)
ROLL_OFFER = SupplyOption("G30", "Fernholt Mills", SupplyForm.ROLL, 4000, 25_000, 108_000, 3)
CUT_OFFER = SupplyOption("G30", "Ostrel Depot", SupplyForm.CUT_LENGTH, 4000, 15_000, 5250, 2)
ROLL = StockItem("R-1", "G30", "B7", StockForm.ROLL, 4000, 25_000, "F1", 1060)
PART = StockItem("0147", "G30", "0093", StockForm.PART_ROLL, 3970, 9000, "F2", 1060)
OFFCUT = StockItem("C-114 (wet)", "G40", "", StockForm.OFFCUT, 1200, 2500, "É, by the gate", 0)
JOB = Job(
    "J1", "4 Thistle Row", "G30", date(2026, 11, 30), "house", BatchRule.ONE,
    (Strip("B", 4000, 6200, 3), Strip("A", 1500, 6200)),
)  # fmt: skip
LAWN = Lawn(
    "front",
    (Point(0, 0), Point(5000, 0), Point(0, 4000)),
    ((Point(500, 500), Point(900, 500), Point(500, 900)), (Point(1500, 500), Point(1900, 500), Point(1500, 900))),
    (EdgeNote(0, "house", no_seam=True), EdgeNote(2, "path")),
    LawnPlace.FRONT,
    y_bearing=359.999,
    pile=PileWish(PileKind.FROM, "house"),
)
VERGE = Lawn("verge", (Point(0, 0), Point(0, -8000), Point(900, -8000)), cannot_be_seen_with=("front",))
LAWN_JOB = Job(
    "J2", "The Green", "G40", date(2026, 12, 1), "", BatchRule.ANY, (), (LAWN, VERGE), PileWish(PileKind.OPEN)
)  # fmt: skip
CONTENTS = SheetContents((G30, G40), (ROLL_OFFER, CUT_OFFER), (ROLL, PART, OFFCUT), (JOB, LAWN_JOB))


def take_in(store: Store, contents: SheetContents = CONTENTS) -> ImportSummary:
    """Import and commit."""
    with store.unit_of_work() as work:
        summary = import_contents(work, contents, "tester")
        work.commit()
    return summary
