"""Sign-ins of browsers: each is a row of its own, which can be withdrawn and expires.

Before, a browser stored the key that it had signed in with. Those keys stay valid keys.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add columns to the table of keys."""
    # As SQL, for the reason that step 0002 gives.
    link = "CONSTRAINT fk_access_keys_opened_with REFERENCES access_keys (id)"
    op.execute(f"ALTER TABLE access_keys ADD COLUMN opened_with VARCHAR(64) {link}")
    op.add_column("access_keys", sa.Column("ends_at", sa.Double))
    op.create_index("ix_access_keys_opened_with", "access_keys", ["opened_with"])
    op.create_index("ix_access_keys_ends_at", "access_keys", ["ends_at"])


def downgrade() -> None:
    """Refuse: browsers that have signed in would be signed out unnoticed."""
    message = "Step 0006 cannot be undone: go back to a copy of the ledger made before it."
    raise NotImplementedError(message)
