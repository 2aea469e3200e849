"""An empty store, made once by each process that runs tests, and copied wherever a test begins with one.

Making one goes through every migration. That is what `tests/store/test_opening.py` and `tests/store/test_migrations.py`
are about; other tests only want its tables.
"""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path

from stockplan.store.session import Store, open_store


@cache
def _whole_file() -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "yard.db"
        open_store(str(path), create=True).close()  # the last to close it carries everything into the file
        assert [one.name for one in Path(folder).iterdir()] == [path.name]
        return path.read_bytes()


def empty_store(path: Path) -> Store:
    """Put an empty store where there is nothing yet, and open it."""
    assert not path.exists()
    path.write_bytes(_whole_file())
    return open_store(str(path))
