"""Pins: which jobs people decided to cut from which stock items."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "pin",
        sa.Column("job", sa.Text, nullable=False),
        sa.Column("source", sa.Text, nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("job", "source", name="pk_pin"),
    )


def downgrade() -> None:
    op.drop_table("pin")
