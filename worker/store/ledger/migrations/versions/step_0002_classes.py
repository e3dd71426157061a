"""People with keys, classes, batches, and retention times.

Columns are added with plain `ALTER TABLE … ADD COLUMN`, which both databases do in place.
Alembic's batch mode on SQLite makes a new table and drops the old one, to which others refer.
Alembic's own operation for a column with a foreign key uses a statement that SQLite does not
have, so these few are written as SQL.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects.postgresql import JSONB

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

_ID = sa.String(64)
_JSON = sa.JSON(none_as_null=True).with_variant(JSONB(none_as_null=True), "postgresql")


def upgrade() -> None:
    """Create the new tables, and add columns to the others."""
    _classes()
    _owners()
    _keys()
    _kept()
    _batches()


def downgrade() -> None:
    """Refuse: people and their rights cannot be taken out of a ledger unnoticed."""
    message = "Step 0002 cannot be undone: go back to a copy of the ledger made before it."
    raise NotImplementedError(message)


def _classes() -> None:
    op.create_table(
        "classes",
        sa.Column("id", _ID, primary_key=True),
        sa.Column("tutor_id", _ID, sa.ForeignKey("owners.id"), nullable=False, index=True),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("join_code", sa.String(16), nullable=False),
        sa.Column("joining_open", sa.Boolean, nullable=False),
        sa.Column("settings", _JSON, nullable=False),
        sa.Column("closes_at", sa.Double),
        sa.Column("created_at", sa.Double, nullable=False),
        sa.Index("ix_classes_join_code", "join_code", unique=True),
    )


def _owners() -> None:
    _add("owners", "role VARCHAR(16) NOT NULL DEFAULT 'local'")
    _add_link("owners", "class_id", "classes")
    _add_link("owners", "tutor_id", "owners")
    _add("owners", "position INTEGER")
    op.add_column("owners", sa.Column("withdrawn_at", sa.Double))
    op.create_index("ix_owners_role", "owners", ["role"])


def _keys() -> None:
    op.create_table(
        "access_keys",
        sa.Column("id", _ID, primary_key=True),
        sa.Column("owner_id", _ID, sa.ForeignKey("owners.id"), nullable=False, index=True),
        sa.Column("hash", sa.String(64), nullable=False),
        sa.Column("label", sa.Text, nullable=False),
        sa.Column("created_at", sa.Double, nullable=False),
        sa.Column("last_used_at", sa.Double),
        sa.Column("withdrawn_at", sa.Double),
        sa.Index("ix_access_keys_hash", "hash", unique=True),
    )


def _kept() -> None:
    for table in ("photos", "packs"):
        op.add_column(table, sa.Column("delete_after", sa.Double))
        op.create_index(f"ix_{table}_delete_after", table, ["delete_after"])
    for name in ("printed_at", "joined_at"):
        op.add_column("packs", sa.Column(name, sa.Double))
    _add_link("packs", "payer_id", "owners")


def _batches() -> None:
    op.create_table(
        "batches",
        sa.Column("id", _ID, primary_key=True),
        sa.Column("class_id", _ID, _link("classes.id", "CASCADE"), nullable=False, index=True),
        sa.Column("title", sa.Text, nullable=False),
        sa.Column("created_at", sa.Double, nullable=False),
        sa.Column("cancelled_at", sa.Double),
        sa.Column("delete_after", sa.Double, index=True),
    )
    op.create_table(
        "batch_items",
        sa.Column("batch_id", _ID, _link("batches.id", "CASCADE"), primary_key=True),
        sa.Column("position", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("student_id", _ID, _link("owners.id", "CASCADE"), index=True),
        sa.Column("reference_id", _ID, _link("photos.id", "SET NULL"), index=True),
        sa.Column("pack_id", _ID, _link("packs.id", "SET NULL"), index=True),
        sa.Column("spec", _JSON),
        sa.Column("title", sa.Text, nullable=False),
        sa.Column("note", sa.Text, nullable=False),
        sa.Column("error_code", sa.String(64)),
        sa.Column("error_detail", sa.Text),
    )


def _link(target: str, ondelete: str) -> sa.ForeignKey:
    return sa.ForeignKey(target, ondelete=ondelete)


def _add_link(table: str, column: str, target: str) -> None:
    link = f"CONSTRAINT fk_{table}_{column} REFERENCES {target} (id)"
    _add(table, f"{column} VARCHAR(64) {link}")
    op.create_index(f"ix_{table}_{column}", table, [column])


def _add(table: str, column: str) -> None:
    op.execute(f"ALTER TABLE {table} ADD COLUMN {column}")
