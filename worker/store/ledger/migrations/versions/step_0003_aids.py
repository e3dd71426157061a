"""Measured printers, and references that were made from other references.

Clients search for a photo by the SHA-256 of its bytes before they send it, so that column gets
an index.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects.postgresql import JSONB

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

_ID = sa.String(64)
_JSON = sa.JSON(none_as_null=True).with_variant(JSONB(none_as_null=True), "postgresql")


def upgrade() -> None:
    """Create the new table, and add columns to the other."""
    _printers()
    _photos()


def downgrade() -> None:
    """Refuse: what people measured cannot be taken out of a ledger unnoticed."""
    message = "Step 0003 cannot be undone: go back to a copy of the ledger made before it."
    raise NotImplementedError(message)


def _printers() -> None:
    shared = sa.ForeignKey("classes.id", ondelete="SET NULL")
    op.create_table(
        "printers",
        sa.Column("id", _ID, primary_key=True),
        sa.Column("owner_id", _ID, sa.ForeignKey("owners.id"), nullable=False, index=True),
        sa.Column("class_id", _ID, shared, index=True),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("sheet_format", sa.String(64), nullable=False),
        sa.Column("across_mm", sa.Double),
        sa.Column("down_mm", sa.Double),
        sa.Column("margin_mm", _JSON),
        sa.Column("created_at", sa.Double, nullable=False),
    )


def _photos() -> None:
    # As SQL, for the reason that step 0002 gives.
    link = "CONSTRAINT fk_photos_made_from REFERENCES photos (id)"
    op.execute(f"ALTER TABLE photos ADD COLUMN made_from VARCHAR(64) {link}")
    op.create_index("ix_photos_made_from", "photos", ["made_from"])
    op.create_index("ix_photos_sha256", "photos", ["sha256"])
