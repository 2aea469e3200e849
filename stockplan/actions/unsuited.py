"""What accepted plans are still to cut that no longer suits what the store says by now."""

from __future__ import annotations

from collections.abc import Collection

from stockplan.actions.in_force import read_books, read_schedule, schedule_of, with_lawns_compared, with_pieces
from stockplan.domain.deliveries import too_small
from stockplan.domain.misfits import misfits, set_aside, surplus


def no_longer_suits(where: str | None, jobs: Collection[str], tags: Collection[str]) -> list[str]:
    """Say why accepted plans cannot be cut as they are for jobs, or from things, that have changed; a sentence each.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    jobs
        Codes of the jobs that have changed.
    tags
        The things that have.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    from stockplan.store.pin_rows import read_pins  # noqa: PLC0415
    from stockplan.store.repository import read_jobs  # noqa: PLC0415
    from stockplan.store.session import open_store  # noqa: PLC0415

    if not jobs and not tags:
        return []
    with open_store(where) as store, store.reading() as session:
        schedule = read_schedule(session, read_jobs(session), read_pins(session))
        schedule = with_lawns_compared(session, schedule)
        told = {aside: None for code in sorted(jobs) if (aside := set_aside(schedule, code))}
        for one in schedule.standing:
            if one.item.tag in tags:
                told.update(dict.fromkeys(str(danger) for danger in too_small(one)))
            if not set(jobs).isdisjoint(one.jobs()):
                still = f"{one.item.tag} is still to be cut as plan {one.plan} has it"
                told.update(dict.fromkeys(f"{why}; {still}" for why in misfits(schedule, one)))
    return list(told)


def too_many(where: str | None, tag: str) -> tuple[str, ...]:
    """Say of which jobs a thing would be cut into more pieces than they need; a sentence each.

    Parameters
    ----------
    where
        The store; see `locate_store`.
    tag
        The thing asked about.

    Raises
    ------
    StoreError
        When the store cannot be read.
    """
    from stockplan.store.plan_rows import read_promised  # noqa: PLC0415
    from stockplan.store.quick import open_yard  # noqa: PLC0415

    with open_yard(where) as store, store.reading() as source:
        books = read_books(source)
        schedule = schedule_of(source, books, read_promised(source, books.jobs()), cut_for=())
        cut = [one for one in schedule.standing if one.item.tag == tag]
        return tuple(why for one in cut for why in surplus(with_pieces(source, schedule, one.jobs()), one).values())
