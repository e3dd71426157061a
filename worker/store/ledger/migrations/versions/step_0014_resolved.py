"""What a photo really resolves, for boards.

It is in the study of each photo, and a step reads no files: photos that are there already count
as sharp on boards, until they are sent again. Their plans read the study.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column."""
    op.add_column("photos", sa.Column("resolved_px", sa.Double, nullable=False, server_default="1"))


def downgrade() -> None:
    """Take it away again: nothing depends on it."""
    op.drop_column("photos", "resolved_px")
