"""Owners, references, packs, idempotency keys, and the turn for upkeep."""

from __future__ import annotations

import time

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects.postgresql import JSONB

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

_ID = sa.String(64)
_JSON = sa.JSON(none_as_null=True).with_variant(JSONB(none_as_null=True), "postgresql")


def upgrade() -> None:
    """Make the tables and their first rows."""
    _people_and_photos()
    _packs()
    _helpers()
    owners = sa.table("owners", *map(sa.column, ("id", "name", "virtual_time", "created_at")))
    local = {"id": "local", "name": "Local", "virtual_time": 0.0, "created_at": time.time()}
    op.bulk_insert(owners, [local])
    turns = sa.table("turns", *map(sa.column, ("name", "holder", "until")))
    op.bulk_insert(turns, [{"name": "sweep", "holder": "", "until": 0.0}])


def downgrade() -> None:
    """Drop everything."""
    for name in ("turns", "idempotency_keys", "packs", "photos", "owners"):
        op.drop_table(name)


def _people_and_photos() -> None:
    op.create_table(
        "owners",
        sa.Column("id", _ID, primary_key=True),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("virtual_time", sa.Double, nullable=False),
        sa.Column("created_at", sa.Double, nullable=False),
    )
    op.create_table(
        "photos",
        sa.Column("id", _ID, primary_key=True),
        sa.Column("owner_id", _ID, sa.ForeignKey("owners.id"), nullable=False, index=True),
        sa.Column("width_px", sa.Integer, nullable=False),
        sa.Column("height_px", sa.Integer, nullable=False),
        sa.Column("format", sa.String(16), nullable=False),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("created_at", sa.Double, nullable=False),
    )


def _packs() -> None:
    op.create_table(
        "packs",
        sa.Column("id", _ID, primary_key=True),
        sa.Column("owner_id", _ID, sa.ForeignKey("owners.id"), nullable=False, index=True),
        sa.Column("reference_id", _ID, sa.ForeignKey("photos.id"), nullable=False, index=True),
        sa.Column("title", sa.Text, nullable=False),
        sa.Column("number", sa.String(32)),
        sa.Column("spec", _JSON, nullable=False),
        sa.Column("plan", _JSON),
        sa.Column("state", sa.String(16), nullable=False),
        sa.Column("done", sa.Integer, nullable=False),
        sa.Column("total", sa.Integer, nullable=False),
        sa.Column("step", sa.String(32), nullable=False),
        sa.Column("attempt", sa.Integer, nullable=False),
        sa.Column("lease_token", _ID),
        sa.Column("lease_until", sa.Double),
        sa.Column("lease_holder", sa.String(255)),
        sa.Column("cancel_requested", sa.Boolean, nullable=False),
        sa.Column("virtual_time", sa.Double, nullable=False),
        sa.Column("not_before", sa.Double, nullable=False),
        sa.Column("created_at", sa.Double, nullable=False),
        sa.Column("started_at", sa.Double),
        sa.Column("finished_at", sa.Double),
        sa.Column("error_code", sa.String(64)),
        sa.Column("error_detail", sa.Text),
        sa.Column("files_key", sa.String(255)),
        sa.Index("ix_packs_state_virtual_time_id", "state", "virtual_time", "id"),
    )


def _helpers() -> None:
    op.create_table(
        "idempotency_keys",
        sa.Column("owner_id", _ID, sa.ForeignKey("owners.id"), primary_key=True),
        sa.Column("key", sa.String(255), primary_key=True),
        sa.Column("fingerprint", sa.String(128), nullable=False),
        sa.Column("token", _ID, nullable=False),
        sa.Column("status", sa.Integer),
        sa.Column("body", sa.Text),
        sa.Column("until", sa.Double, nullable=False, index=True),
    )
    op.create_table(
        "turns",
        sa.Column("name", sa.String(32), primary_key=True),
        sa.Column("holder", sa.String(255), nullable=False),
        sa.Column("until", sa.Double, nullable=False),
    )
