"""Learning platforms: their courses, logins and launches, our keys, results for gradebooks.

Keys that a launch has led to say so: they go with the platform's site.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects.postgresql import JSONB

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None
_ID = sa.String(64)
_JSON = sa.JSON(none_as_null=True).with_variant(JSONB(none_as_null=True), "postgresql")


def upgrade() -> None:
    """Create the tables, and add the column to keys."""
    _platforms()
    _logins()
    _keys_of_launches()
    op.create_table(
        "lti_keys",
        sa.Column("id", _ID, primary_key=True),
        sa.Column("jwk", _JSON, nullable=False),
        sa.Column("created_at", sa.Double, nullable=False),
    )
    op.create_table(
        "lti_results",
        sa.Column("id", _ID, primary_key=True),
        _goes_with("platform_id", "platforms"),
        _goes_with("person_id", "owners"),
        sa.Column("line_item", sa.Text, nullable=False),
        sa.Column("subject", sa.String(255), nullable=False),
        sa.Column("home", sa.Text, nullable=False),
        sa.Column("since", sa.Double, nullable=False),
        sa.Column("pack_id", _ID),
        sa.Column("attempts", sa.Integer, nullable=False),
        sa.Column("not_before", sa.Double, nullable=False, index=True),
    )


def downgrade() -> None:
    """Refuse: keys that end with their platform would open without end, unnoticed."""
    message = "Step 0010 cannot be undone: go back to a copy of the ledger made before it."
    raise NotImplementedError(message)


def _platforms() -> None:
    op.create_table(
        "platforms",
        sa.Column("id", _ID, primary_key=True),
        _goes_with("site_id", "owners"),
        sa.Column("issuer", sa.Text, nullable=False),
        sa.Column("client_id", sa.Text, nullable=False),
        sa.Column("deployment_ids", _JSON, nullable=False),
        sa.Column("auth_url", sa.Text, nullable=False),
        sa.Column("token_url", sa.Text, nullable=False),
        sa.Column("jwks_url", sa.Text, nullable=False),
        sa.Column("origins", _JSON, nullable=False),
        sa.Column("service_hosts", _JSON, nullable=False),
        sa.Column("created_at", sa.Double, nullable=False),
        sa.Index("ix_platforms_issuer_client_id", "issuer", "client_id", unique=True),
    )
    op.create_table(
        "lti_contexts",
        sa.Column(
            "platform_id", _ID, sa.ForeignKey("platforms.id", ondelete="CASCADE"), primary_key=True
        ),
        sa.Column("deployment_id", sa.String(255), primary_key=True),
        sa.Column("context_id", sa.String(255), primary_key=True),
        _goes_with("class_id", "classes"),
        sa.Column("members_url", sa.Text),
    )


def _logins() -> None:
    op.create_table(
        "lti_logins",
        sa.Column("state", sa.String(64), primary_key=True),
        sa.Column("nonce", sa.String(64), nullable=False),
        sa.Column("browser", sa.String(64), nullable=False),
        _goes_with("platform_id", "platforms"),
        sa.Column("target_link_uri", sa.Text, nullable=False),
        sa.Column("in_storage", sa.Boolean, nullable=False),
        sa.Column("failures", sa.Integer, nullable=False, server_default="0"),
        sa.Column("ends_at", sa.Double, nullable=False, index=True),
    )
    op.create_table(
        "lti_launches",
        sa.Column("hash", sa.String(64), primary_key=True),
        _goes_with("platform_id", "platforms"),
        _goes_with("class_id", "classes"),
        _goes_with("person_id", "owners"),
        sa.Column("ends_at", sa.Double, nullable=False, index=True),
    )


def _keys_of_launches() -> None:
    # As SQL, for the reason that step 0002 gives.
    link = "CONSTRAINT fk_access_keys_via_site REFERENCES owners (id)"
    op.execute(f"ALTER TABLE access_keys ADD COLUMN via_site VARCHAR(64) {link}")
    op.create_index("ix_access_keys_via_site", "access_keys", ["via_site"])


def _goes_with(name: str, table: str) -> sa.Column[str]:
    """A column whose rows are deleted with those of another table."""
    key = sa.ForeignKey(f"{table}.id", ondelete="CASCADE")
    return sa.Column(name, _ID, key, nullable=False, index=True)
