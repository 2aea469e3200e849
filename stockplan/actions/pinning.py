"""Pins: listing them and taking them out; they are made together with a plan."""

from __future__ import annotations

from collections.abc import Sequence

from stockplan.domain.request import Pin
from stockplan.errors import StoreError


def list_pins(where: str | None) -> tuple[Pin, ...]:
    """Read what people have decided, in order of job and tag.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    from stockplan.store.pin_rows import read_pins  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        return read_pins(source)


def remove_pins(where: str | None, names: Sequence[str]) -> tuple[Pin, ...]:
    """Take pins out, all of them or none, and return them.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    names
        Jobs, for all of their pins, or single pins such as `J104=R-014`.

    Raises
    ------
    StoreError
        When there is no such pin, or the store cannot be written.
    """
    from stockplan.store.pin_rows import delete_pins, read_pins  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415

    with open_yard(where) as store, store.unit_of_work() as work:
        known = read_pins(work.rows)
        found: dict[Pin, None] = {}
        unknown = []
        for name in names:
            meant = [pin for pin in known if name in (pin.job, f"{pin.job}={pin.source}")]
            if not meant:
                unknown.append(name)
            found.update(dict.fromkeys(meant))
        if unknown:
            listed = ", ".join(f"{pin.job}={pin.source}" for pin in known) or "none"
            raise StoreError(f"there is no pin {', '.join(unknown)}; there are: {listed}")
        delete_pins(work, found)
        work.commit()
    return tuple(found)
