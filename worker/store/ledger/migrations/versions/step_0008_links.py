"""Links to one file, which open it without a key for some minutes."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None
_ID = sa.String(64)


def upgrade() -> None:
    """Create the table of links."""
    op.create_table(
        "links",
        sa.Column("hash", sa.String(64), primary_key=True),
        _goes_with("made_by", "owners", nullable=False),
        _goes_with("key_id", "access_keys"),
        _goes_with("session_id", "sessions"),
        _goes_with("pack_id", "packs"),
        _goes_with("batch_id", "batches"),
        sa.Column("file", sa.Text, nullable=False),
        sa.Column("covers", sa.Boolean, nullable=False),
        sa.Column("ends_at", sa.Double, nullable=False, index=True),
    )


def downgrade() -> None:
    """Drop it: links are over within minutes."""
    op.drop_table("links")


def _goes_with(name: str, table: str, *, nullable: bool = True) -> sa.Column[str]:
    """A column whose rows are deleted with those of another table."""
    key = sa.ForeignKey(f"{table}.id", ondelete="CASCADE")
    return sa.Column(name, _ID, key, nullable=nullable, index=True)
