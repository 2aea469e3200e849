"""The ledger: everything that ever happened to stock, in order; what lies in the yard is a fold over it.

A movement is never changed or removed. A mistake is put right by a later movement. A new kind of movement is a name in
`MovementKind` (`ledger_movements.py`), a function that states it (`ledger_entries.py`), and one that says what it does
to a `Yard` and how it moves area and money (`ledger_effects.py`).
"""

from __future__ import annotations

from stockplan.domain.ledger_entries import (
    binned,
    condition,
    corrected,
    counted,
    cut,
    freed,
    held,
    moved,
    received,
    released,
    reserved,
    returned,
    reversal,
    written_off,
)
from stockplan.domain.ledger_fold import Yard, fold
from stockplan.domain.ledger_history import Origin, history, trace
from stockplan.domain.ledger_movements import (
    CONDITIONS,
    CORRECTABLE,
    SOUND,
    CutPiece,
    Entry,
    Movement,
    MovementKind,
    Value,
    condition_word,
)
from stockplan.domain.ledger_state import Account, Gone, Hold, PieceCut, TagState, Undo

__all__ = [
    "CONDITIONS", "CORRECTABLE", "SOUND", "Account", "CutPiece", "Entry", "Gone", "Hold", "Movement", "MovementKind",
    "Origin", "PieceCut", "TagState", "Undo", "Value", "Yard", "binned", "condition", "condition_word", "corrected",
    "counted", "cut", "fold", "freed", "held", "history", "moved", "received", "released", "reserved", "returned",
    "reversal", "trace", "written_off",
]  # fmt: skip
