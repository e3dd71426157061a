"""What is owed to the ledger's disk, and how often a pack has met a full one.

A ledger of before may hold deleted names in its log: it is owed an emptying from the start.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the new table and its row, and widen the one that is there."""
    owed = op.create_table(
        "owed",
        sa.Column("name", sa.String(32), primary_key=True),
        sa.Column("token", sa.String(64), nullable=False),
    )
    op.bulk_insert(owed, [{"name": "scrub", "token": "before"}])
    op.add_column("packs", sa.Column("room_waits", sa.Integer, nullable=False, server_default="0"))


def downgrade() -> None:
    """Forget what is owed."""
    op.drop_column("packs", "room_waits")
    op.drop_table("owed")
