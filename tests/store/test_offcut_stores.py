"""An offcut is logged, labelled and found again on either sort of store."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from stockplan.actions.finding import StockFilter, find_stock
from stockplan.actions.importing import import_sheets
from stockplan.actions.labelling import Wanted, find_labels
from stockplan.actions.looking import verify
from stockplan.actions.offcut_facts import Told
from stockplan.actions.offcuts import log
from stockplan.domain.ledger import CutPiece, binned, cut
from stockplan.store.ledger_rows import record
from stockplan.store.quick import open_yard

DEMO = Path(__file__).parents[2] / "demo_data"


def test_logged_labelled_and_found_on_either_store(place: str) -> None:
    import_sheets(place, DEMO)
    with open_yard(place) as store, store.unit_of_work() as work:
        piece = CutPiece("J201", "A", 1, 4000, 20_000)
        record(work, [cut("R-201", [piece], "by hand"), binned("R-201", 4000 * 5000, "short")], "someone")
        work.commit()
    (off,) = log(place, Told(((1200, 4800),), "Z9", parent="R-201", condition="wet")).items
    (found,) = log(place, Told(((1000, 3000),), "Z9", product="K40")).items  # no batch: the yard's price of K40
    assert found.cost_pence_per_m2 > 0
    assert verify(place)[1] == []
    labels = find_labels(place, Wanted(bay="Z9")).facts
    assert {label.code for label in labels} == {off.tag, found.tag}
    seen = find_stock(place, StockFilter(bay="Z9", least_width_mm=1100), date(2026, 11, 30))
    assert [(one.item.tag, one.condition, one.parent, one.weight_kg) for one in seen] == [(off.tag, "wet", "R-201", 15)]
