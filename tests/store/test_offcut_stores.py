"""An offcut is logged, labelled and found again on either sort of store."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from builders import build, read_cuts, small_request
from small_yard import take_in

from stockplan.actions.finding import StockFilter, find_stock
from stockplan.actions.importing import import_sheets
from stockplan.actions.labelling import Wanted, find_labels
from stockplan.actions.looking import verify
from stockplan.actions.offcut_facts import Told, look
from stockplan.actions.offcuts import log
from stockplan.domain.ledger import CutPiece, binned, cut
from stockplan.errors import StockplanError
from stockplan.report.plan_file import plan_to_json
from stockplan.store.ledger_rows import record
from stockplan.store.quick import open_yard
from stockplan.store.repository import store_plan
from stockplan.store.session import open_store

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


def test_sides_exchanged_against_the_plan_it_was_cut_by_are_asked_about(place: str) -> None:
    """The plan leaves 1 × 2 m of R-1; 2 × 1 m was typed."""
    request = small_request()
    plan = build(request, {"R-1": read_cuts(request, "3000: J1.A1", "2000: J1.B1 | J1.B2")}).plan
    with open_store(place, create=True) as store:
        take_in(store)
        with store.unit_of_work() as work:
            number = store_plan(work, plan, plan_to_json(request, plan))
            record(work, [cut("R-1", [CutPiece("J1", "A", 1, 4000, 3000)], "cut", number)], "someone")
            work.commit()
    typed = Told(((2000, 1000),), "Z9", parent="R-1")
    assert look(place, typed).swapped == "the plan leaves 1.00 × 2.00 m over, not 2.00 × 1.00 m"
    with pytest.raises(StockplanError, match=r"exchanged.*or add --as-typed"):
        log(place, typed)
    (as_typed,) = log(place, replace(typed, as_typed=True)).items
    (turned,) = log(place, replace(typed, sizes=((1000, 2000),))).items
    assert (as_typed.width_mm, turned.width_mm) == (2000, 1000)
    assert verify(place)[1] == []
