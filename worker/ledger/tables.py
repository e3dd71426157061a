"""The tables, as the newest migration leaves them (a test compares the two).

Every row that belongs to someone has an `owner_id`; on one machine without people there
is one owner, `local`.
"""

from __future__ import annotations

import sqlalchemy as sa
from sqlalchemy.dialects.postgresql import JSONB

METADATA = sa.MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    }
)
JSON = sa.JSON(none_as_null=True).with_variant(JSONB(none_as_null=True), "postgresql")
ID = sa.String(64)

OWNERS = sa.Table(
    "owners",
    METADATA,
    sa.Column("id", ID, primary_key=True),
    sa.Column("name", sa.Text, nullable=False),
    # The owner's last virtual time: see worker.ledger.enqueue.
    sa.Column("virtual_time", sa.Double, nullable=False),
    sa.Column("created_at", sa.Double, nullable=False),
)

# `references` is a reserved word in SQL; `photos` needs no quoting on any database.
REFERENCES = sa.Table(
    "photos",
    METADATA,
    sa.Column("id", ID, primary_key=True),
    sa.Column("owner_id", ID, sa.ForeignKey("owners.id"), nullable=False, index=True),
    sa.Column("width_px", sa.Integer, nullable=False),
    sa.Column("height_px", sa.Integer, nullable=False),
    sa.Column("format", sa.String(16), nullable=False),
    sa.Column("sha256", sa.String(64), nullable=False),
    sa.Column("created_at", sa.Double, nullable=False),
)

PACKS = sa.Table(
    "packs",
    METADATA,
    sa.Column("id", ID, primary_key=True),
    sa.Column("owner_id", ID, sa.ForeignKey("owners.id"), nullable=False, index=True),
    sa.Column("reference_id", ID, sa.ForeignKey("photos.id"), nullable=False, index=True),
    sa.Column("title", sa.Text, nullable=False),
    sa.Column("number", sa.String(32)),
    sa.Column("spec", JSON, nullable=False),
    sa.Column("plan", JSON),
    sa.Column("state", sa.String(16), nullable=False),
    sa.Column("done", sa.Integer, nullable=False),
    sa.Column("total", sa.Integer, nullable=False),
    sa.Column("step", sa.String(32), nullable=False),
    sa.Column("attempt", sa.Integer, nullable=False),
    sa.Column("lease_token", ID),
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
    # The claim walks this index from its start.
    sa.Index(None, "state", "virtual_time", "id"),
)

KEYS = sa.Table(
    "idempotency_keys",
    METADATA,
    sa.Column("owner_id", ID, sa.ForeignKey("owners.id"), primary_key=True),
    sa.Column("key", sa.String(255), primary_key=True),
    sa.Column("fingerprint", sa.String(128), nullable=False),
    # Whose request holds the key while it has no answer.
    sa.Column("token", ID, nullable=False),
    sa.Column("status", sa.Integer),
    sa.Column("body", sa.Text),
    # Until when an unanswered key is held, and from when an answered one is forgotten.
    sa.Column("until", sa.Double, nullable=False, index=True),
)

TURNS = sa.Table(
    "turns",
    METADATA,
    sa.Column("name", sa.String(32), primary_key=True),
    sa.Column("holder", sa.String(255), nullable=False),
    sa.Column("until", sa.Double, nullable=False),
)
