"""Indexes that a million packs need, and the ids of what was deleted.

On PostgreSQL the indexes of a ledger that is in use are made before this step and beside the
others' work (`worker.store.ledger.migrations.migrate`), and the older ones are dropped so too;
then nothing of that is left to do here. SQLite has no such way: there a writer waits until they
are made, and one machine's ledger is small.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None

#: Name, table and columns, as PostgreSQL and SQLite both write them.
NEW = {
    "ix_packs_queue": ("packs (virtual_time, created_at, id, not_before) WHERE state = 'queued'"),
    "ix_packs_owner_id_created_at": "packs (owner_id, created_at)",
    "ix_packs_state_finished_at": "packs (state, finished_at)",
    "ix_packs_number": "packs (number)",
    "ix_owners_virtual_time": "owners (virtual_time)",
}
#: Others begin with the same columns, or are read in their place.
OLD = ("ix_packs_state_virtual_time_id", "ix_packs_owner_id")


def upgrade() -> None:
    """Make what is missing."""
    for name, columns in NEW.items():
        op.execute(f"CREATE INDEX IF NOT EXISTS {name} ON {columns}")
    for name in OLD:
        op.execute(f"DROP INDEX IF EXISTS {name}")
    if op.get_bind().dialect.name == "postgresql":
        # A fifth of a million rows is too many dead ones to read past: a queue's rows change
        # several times each. Room in each page lets a heartbeat's row stay where it is.
        op.execute(
            "ALTER TABLE packs SET (autovacuum_vacuum_scale_factor = 0.01,"
            " autovacuum_analyze_scale_factor = 0.02, fillfactor = 90)"
        )
    op.create_table("deletions", sa.Column("id", sa.String(64), primary_key=True))
    op.create_table("deletion_lists", sa.Column("name", sa.String(64), primary_key=True))


def downgrade() -> None:
    """Go back to the indexes of before."""
    op.drop_table("deletion_lists")
    op.drop_table("deletions")
    for name in NEW:
        op.drop_index(name)
    op.create_index(OLD[0], "packs", ["state", "virtual_time", "id"])
    op.create_index(OLD[1], "packs", ["owner_id"])
