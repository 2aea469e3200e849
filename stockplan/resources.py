"""Where the folders that travel with the program lie: migrations and demo data.

In a checkout they stand beside the package; a wheel carries them inside it.
"""

from __future__ import annotations

from pathlib import Path

from stockplan.errors import StockplanError

_PACKAGE = Path(__file__).parent


def migrations_folder() -> Path:
    """Folder of the store's migrations."""
    return _folder("migrations", "env.py")


def demo_folder() -> Path:
    """Folder of the demo's spreadsheets."""
    return _folder("demo_data", "products.csv")


def _folder(name: str, landmark: str) -> Path:
    for parent in (_PACKAGE, _PACKAGE.parent):
        if (parent / name / landmark).is_file():
            return parent / name
    raise StockplanError(f"the folder {name} is missing from this copy of stockplan; install it again")
