"""Runs migrations: inside the program's own transaction, or for the `alembic` command on the store it is pointed at.

The command finds the store as the program does: STOCKPLAN_STORE, else the user's own.
"""

from alembic import context
from sqlalchemy import Connection

from stockplan.store.connecting import connect_unchecked
from stockplan.store.place import locate_store
from stockplan.store.tables import METADATA


def run(connection: Connection) -> None:
    """Run what was asked for on one connection."""
    context.configure(
        connection=connection,
        target_metadata=METADATA,
        render_as_batch=connection.dialect.name == "sqlite",
        transactional_ddl=True,
        compare_type=True,
    )
    with context.begin_transaction():
        context.run_migrations()


given = context.config.attributes.get("connection")
if given is not None:
    run(given)
else:
    with connect_unchecked(locate_store(None)) as connection:
        run(connection)
        connection.commit()
