"""Reversals as they are read now: a cut undone whole, and what was undone no longer in the way of what came before.

No table changes. A program that knows only the revision before would call such a ledger faulty; now it refuses the
store.
"""

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Change nothing but the revision."""


def downgrade() -> None:
    """Change nothing but the revision."""
