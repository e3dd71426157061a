"""What a lesson needs: joining until a time, a class's picture, names on sheets, new-key links."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects.postgresql import JSONB

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None
_ID = sa.String(64)
_JSON = sa.JSON(none_as_null=True).with_variant(JSONB(none_as_null=True), "postgresql")


def upgrade() -> None:
    """Add the columns to classes and packs, and create the table of links to new keys."""
    op.add_column("classes", sa.Column("joining_until", sa.Double))
    # As SQL, for the reason that step 0002 gives.
    link = "CONSTRAINT fk_classes_picture_id REFERENCES photos (id)"
    op.execute(f"ALTER TABLE classes ADD COLUMN picture_id VARCHAR(64) {link}")
    op.create_index("ix_classes_picture_id", "classes", ["picture_id"])
    op.add_column("classes", sa.Column("picture", _JSON))
    op.add_column("packs", sa.Column("recipient", sa.Text))
    op.create_table(
        "key_links",
        sa.Column("hash", sa.String(64), primary_key=True),
        _goes_with("student_id", "owners", nullable=False),
        _goes_with("made_by", "owners", nullable=False),
        _goes_with("key_id", "access_keys"),
        sa.Column("ends_at", sa.Double, nullable=False, index=True),
    )


def downgrade() -> None:
    """Refuse: joining that closes by itself would stay open, unnoticed."""
    message = "Step 0011 cannot be undone: go back to a copy of the ledger made before it."
    raise NotImplementedError(message)


def _goes_with(name: str, table: str, *, nullable: bool = True) -> sa.Column[str]:
    """A column whose rows are deleted with those of another table."""
    key = sa.ForeignKey(f"{table}.id", ondelete="CASCADE")
    return sa.Column(name, _ID, key, nullable=nullable, index=True)
