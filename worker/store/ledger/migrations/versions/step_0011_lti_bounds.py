"""Logins count their wrong tokens; platforms name further hosts of their services."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects.postgresql import JSONB

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None
_JSON = sa.JSON(none_as_null=True).with_variant(JSONB(none_as_null=True), "postgresql")


def upgrade() -> None:
    """Add the columns."""
    for table, column in (
        ("lti_logins", sa.Column("failures", sa.Integer, nullable=False, server_default="0")),
        ("platforms", sa.Column("service_hosts", _JSON, nullable=False, server_default="[]")),
    ):
        op.add_column(table, column)


def downgrade() -> None:
    """Take them out."""
    op.drop_column("platforms", "service_hosts")
    op.drop_column("lti_logins", "failures")
