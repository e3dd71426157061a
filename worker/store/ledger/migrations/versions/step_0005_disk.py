"""Whether emptying the log is due, and how often the disk ran full while a pack was made.

The log of an older ledger may contain deleted names, so emptying it is due from the start.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Create the new table with its row, and add a column to the other."""
    owed = op.create_table(
        "owed",
        sa.Column("name", sa.String(32), primary_key=True),
        sa.Column("token", sa.String(64), nullable=False),
    )
    op.bulk_insert(owed, [{"name": "scrub", "token": "before"}])
    op.add_column("packs", sa.Column("room_waits", sa.Integer, nullable=False, server_default="0"))


def downgrade() -> None:
    """Drop what was added."""
    op.drop_column("packs", "room_waits")
    op.drop_table("owed")
