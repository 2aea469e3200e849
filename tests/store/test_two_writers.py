"""Two programs that import at the same moment take turns."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from stockplan.store.ledger_rows import read_movements, read_stock
from stockplan.store.session import open_store
from stockplan.store.verify import verify_store

ITEMS = 400
# Both wait for a line on standard input, so that they begin together.
IMPORT = """
import sys
from dataclasses import replace
sys.path.insert(0, sys.argv[3])
from small_yard import G30, OFFCUT, take_in
from stockplan.store.session import open_store
from stockplan.store.sheets import SheetContents
import stockplan.store.migrate
own = [replace(OFFCUT, tag=f"{sys.argv[2]}-{n}", product="G30") for n in range(int(sys.argv[4]))]
shared = [replace(OFFCUT, tag=f"C-{n}", product="G30", bay=sys.argv[2]) for n in range(100)]
print("ready", flush=True)
sys.stdin.readline()
with open_store(sys.argv[1], create=True) as store:
    for part in range(0, len(own), 100):
        take_in(store, SheetContents(products=(G30,), stock=(*own[part : part + 100], *shared)))
"""


def test_two_import_at_once_and_both_are_kept(place: str) -> None:
    command = [sys.executable, "-c", IMPORT, place]
    here = str(Path(__file__).parent)
    children = [
        subprocess.Popen([*command, name, here, str(ITEMS)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        for name in ("A", "B")
    ]
    for child in children:
        assert child.stdout is not None
        assert child.stdout.readline() == "ready\n"
    for child in children:
        assert child.stdin is not None
        child.stdin.write("go\n")
        child.stdin.flush()
    for child in children:
        child.communicate(timeout=120)
        assert child.returncode == 0
    with open_store(place) as store, store.reading() as session:
        assert verify_store(session) == []
        assert len(read_stock(session)) == 2 * ITEMS + 100
        assert [movement.number for movement in read_movements(session)] == list(
            range(1, 1 + len(list(read_movements(session))))
        )
