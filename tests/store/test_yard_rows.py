"""The yard as the derived tables have it."""

from __future__ import annotations

from dataclasses import replace

from small_yard import ROLL, take_in

from stockplan.domain.ledger import CutPiece, PieceCut, cut, received
from stockplan.store.ledger_rows import record
from stockplan.store.session import Store
from stockplan.store.yard_rows import read_cut_so_far


def test_sound_pieces_are_read_by_job_in_order_with_the_batch_of_their_source(store: Store) -> None:
    take_in(store)
    unknown = replace(ROLL, tag="R-9", batch="")
    second, first = CutPiece("J1", "A", 2, 1000, 1000), CutPiece("J1", "A", 1, 1000, 1000)
    spoiled = CutPiece("J1", "A", 3, 1000, 1000, spoiled=True)
    with store.unit_of_work() as work:
        record(
            work,
            [received(unknown, ""), cut("R-9", [second, spoiled], ""), cut(ROLL.tag, [first], "", plan=7)],
            "tester",
        )
        work.commit()
    with store.reading() as session:
        found = read_cut_so_far(session, ["J1"])
    assert found == {
        ("J1", "A"): (
            PieceCut(1, 1000, 1000, ROLL.tag, ROLL.batch, ROLL.product, 7),
            PieceCut(2, 1000, 1000, "R-9", "unknown (R-9)", ROLL.product, None),
        )
    }
