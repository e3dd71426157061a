"""Webhooks: addresses that are told what happens, what is to be told, and the log of it."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects.postgresql import JSONB

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None
_ID = sa.String(64)
_JSON = sa.JSON(none_as_null=True).with_variant(JSONB(none_as_null=True), "postgresql")


def upgrade() -> None:
    """Create the three tables."""
    _webhooks()
    _messages()
    op.create_table(
        "webhook_attempts",
        sa.Column("message_id", _ID, _goes_with("webhook_messages"), primary_key=True),
        sa.Column("number", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("at", sa.Double, nullable=False),
        sa.Column("outcome", sa.String(32), nullable=False),
        sa.Column("status", sa.Integer),
        sa.Column("took_s", sa.Double, nullable=False),
    )


def downgrade() -> None:
    """Drop them: whoever registered an address asks instead of being told."""
    for name in ("webhook_attempts", "webhook_messages", "webhooks"):
        op.drop_table(name)


def _goes_with(table: str) -> sa.ForeignKey:
    return sa.ForeignKey(f"{table}.id", ondelete="CASCADE")


def _webhooks() -> None:
    op.create_table(
        "webhooks",
        sa.Column("id", _ID, primary_key=True),
        sa.Column("owner_id", _ID, _goes_with("owners"), nullable=False, index=True),
        sa.Column("url", sa.Text, nullable=False),
        sa.Column("events", _JSON, nullable=False),
        sa.Column("secret", sa.String(255), nullable=False),
        sa.Column("old_secret", sa.String(255)),
        sa.Column("old_secret_until", sa.Double),
        sa.Column("created_at", sa.Double, nullable=False),
        sa.Column("failing_since", sa.Double),
        sa.Column("disabled_at", sa.Double),
        sa.Column("disabled_because", sa.String(32)),
    )


def _messages() -> None:
    op.create_table(
        "webhook_messages",
        sa.Column("id", _ID, primary_key=True),
        sa.Column("webhook_id", _ID, _goes_with("webhooks"), nullable=False),
        sa.Column("type", sa.String(32), nullable=False),
        sa.Column("pack_id", _ID, _goes_with("packs"), index=True),
        sa.Column("batch_id", _ID, _goes_with("batches"), index=True),
        sa.Column("student_id", _ID, _goes_with("owners"), index=True),
        sa.Column("at", sa.Double, nullable=False, index=True),
        sa.Column("next_at", sa.Double, index=True),
        sa.Column("token", _ID),
        sa.Column("tries", sa.Integer, nullable=False),
        sa.Column("delivered_at", sa.Double),
        sa.Index("ix_webhook_messages_webhook_id_at", "webhook_id", "at"),
    )
