"""Which request asked for a pack, and which workers there are."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column to packs, and create the table of workers."""
    op.add_column("packs", sa.Column("request_id", sa.String(64)))
    op.create_table(
        "workers",
        sa.Column("name", sa.String(255), primary_key=True),
        sa.Column("places", sa.Integer, nullable=False),
        sa.Column("version", sa.String(32), nullable=False),
        sa.Column("seen_at", sa.Double, nullable=False, index=True),
    )


def downgrade() -> None:
    """Take them away again: nothing depends on them."""
    op.drop_table("workers")
    op.drop_column("packs", "request_id")
