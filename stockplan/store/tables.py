"""Every table of the store in one description.

Every length is in millimetres and every amount in pence, as everywhere inside the program. What a migration made and
what stands here must agree; a test compares them.
"""

from __future__ import annotations

from stockplan.store import tables_jobs, tables_plans, tables_yard  # noqa: F401 - each states its tables as it is imported
from stockplan.store.tables_base import Base

METADATA = Base.metadata
