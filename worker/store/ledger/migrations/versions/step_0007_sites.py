"""Course sites with classes, scopes, origins and an end; second tutors; external ids; sessions.

Before, a course site acted with all its tutor's rights. The sites that exist get the scopes that
a new site gets by default, the classes that their tutor has now, and a year.
"""

from __future__ import annotations

import time

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects.postgresql import JSONB

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

_ID = sa.String(64)
_JSON = sa.JSON(none_as_null=True).with_variant(JSONB(none_as_null=True), "postgresql")
_SCOPES = ["read-class", "add-students", "start-sessions", "make-packs", "fetch-packs"]
_YEAR_S = 365 * 24 * 3600.0


def upgrade() -> None:
    """Create the tables, and give the sites that exist their limits."""
    _class_tutors()
    _sites()
    _external_ids()
    _sessions()
    _site_log()
    _limit_sites(op.get_bind(), time.time())


def downgrade() -> None:
    """Refuse: sites would get their tutors' rights back unnoticed."""
    message = "Step 0007 cannot be undone: go back to a copy of the ledger made before it."
    raise NotImplementedError(message)


def _owner(*, key: bool = False, index: bool = False, name: str = "owner_id") -> sa.Column[str]:
    link = sa.ForeignKey("owners.id", ondelete="CASCADE")
    return sa.Column(name, _ID, link, primary_key=key, nullable=False, index=index)


def _class(*, key: bool = False, index: bool = False) -> sa.Column[str]:
    link = sa.ForeignKey("classes.id", ondelete="CASCADE")
    return sa.Column("class_id", _ID, link, primary_key=key, nullable=not key, index=index)


def _class_tutors() -> None:
    op.create_table(
        "class_tutors",
        _class(key=True),
        _owner(key=True, index=True),
        sa.Column("created_at", sa.Double, nullable=False),
    )


def _sites() -> None:
    op.create_table(
        "sites",
        _owner(key=True, name="id"),
        sa.Column("scopes", _JSON, nullable=False),
        sa.Column("origins", _JSON, nullable=False),
        sa.Column("expires_at", sa.Double, nullable=False),
    )


def _external_ids() -> None:
    op.create_table(
        "external_ids",
        _owner(key=True, name="issuer_id"),
        _class(key=True, index=True),
        sa.Column("role", sa.String(16), primary_key=True),
        sa.Column("external_id", sa.String(255), primary_key=True),
        _owner(index=True, name="person_id"),
    )


def _sessions() -> None:
    key = sa.ForeignKey("access_keys.id", ondelete="CASCADE")
    op.create_table(
        "sessions",
        sa.Column("id", _ID, primary_key=True),
        sa.Column("hash", sa.String(64), nullable=False),
        _owner(index=True, name="student_id"),
        _owner(index=True, name="site_id"),
        sa.Column("key_id", _ID, key, nullable=False, index=True),
        sa.Column("origin", sa.Text, nullable=False),
        sa.Column("scopes", _JSON, nullable=False),
        sa.Column("created_at", sa.Double, nullable=False),
        sa.Column("ends_at", sa.Double, nullable=False, index=True),
        sa.Index("ix_sessions_hash", "hash", unique=True),
    )


def _site_log() -> None:
    op.create_table(
        "site_log",
        sa.Column("id", _ID, primary_key=True),
        sa.Column("at", sa.Double, nullable=False, index=True),
        sa.Column("site_id", _ID, nullable=False, index=True),
        sa.Column("key_id", _ID),
        sa.Column("session_id", _ID),
        _class(index=True),
        sa.Column("action", sa.String(64), nullable=False),
        sa.Column("about", _ID),
    )


def _limit_sites(connection: sa.Connection, now: float) -> None:
    owners = sa.table("owners", *(sa.column(name) for name in ("id", "role", "tutor_id")))
    classes = sa.table("classes", sa.column("id"), sa.column("tutor_id"))
    given = sa.table(
        "class_tutors", *(sa.column(name) for name in ("class_id", "owner_id", "created_at"))
    )
    sites = sa.table(
        "sites",
        sa.column("id"),
        sa.column("scopes", _JSON),
        sa.column("origins", _JSON),
        sa.column("expires_at"),
    )
    there = sa.select(owners.c.id, owners.c.tutor_id).where(owners.c.role == "site")
    for site in connection.execute(there).all():
        values = {"scopes": _SCOPES, "origins": [], "expires_at": now + _YEAR_S}
        connection.execute(sa.insert(sites).values(id=site.id, **values))
        theirs = sa.select(classes.c.id).where(classes.c.tutor_id == site.tutor_id)
        for class_id in connection.execute(theirs).scalars().all():
            row = {"class_id": class_id, "owner_id": site.id, "created_at": now}
            connection.execute(sa.insert(given).values(**row))
