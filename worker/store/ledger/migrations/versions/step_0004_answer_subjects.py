"""A table of the ids that stored answers mention.

Deleting a photo or a pack deletes the answers that mention it. Before, every answer was searched
for them, which took seconds with some thousands of answers.
"""

from __future__ import annotations

import re

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

_ID = sa.String(64)
#: As `worker.store.ledger.stored_answers` reads an answer today; a step stays as it was written.
_RANDOM_PART = re.compile(r"_(?=([A-Za-z0-9_-]{22}))")
_BLOCK_ROWS = 200


def upgrade() -> None:
    """Create the table, and fill it from the answers that are stored now."""
    table = op.create_table(
        "answer_subjects",
        sa.Column("owner_id", _ID, primary_key=True),
        sa.Column("key", sa.String(255), primary_key=True),
        sa.Column("subject", sa.String(22), primary_key=True, index=True),
        sa.ForeignKeyConstraint(
            ["owner_id", "key"],
            ["idempotency_keys.owner_id", "idempotency_keys.key"],
            name="fk_answer_subjects_owner_id",
            ondelete="CASCADE",
            onupdate="CASCADE",
        ),
    )
    kept = sa.text("SELECT owner_id, key, body FROM idempotency_keys WHERE status IS NOT NULL")
    for block in op.get_bind().execute(kept).partitions(_BLOCK_ROWS):
        named = [
            {"owner_id": owner_id, "key": key, "subject": subject}
            for owner_id, key, body in block
            for subject in set(_RANDOM_PART.findall(body))
        ]
        if named:
            op.bulk_insert(table, named)


def downgrade() -> None:
    """Refuse, as every step does: go back to a copy of the ledger instead."""
    message = "Step 0004 cannot be undone: go back to a copy of the ledger made before it."
    raise NotImplementedError(message)
