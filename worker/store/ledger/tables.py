"""The tables as after the newest migration (a test compares the two).

Every row that belongs to someone has an `owner_id`. Owners are `local`, which owns everything on
one machine without tutors, and tutors, students, and course sites.
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
    # The end of the owner's last pack: see worker.store.ledger.packs.packs.
    sa.Column("virtual_time", sa.Double, nullable=False, index=True),
    sa.Column("created_at", sa.Double, nullable=False),
    sa.Column("role", sa.String(16), nullable=False, server_default="local", index=True),
    # A student's class; classes point at their tutors, so one of the two comes later.
    sa.Column("class_id", ID, sa.ForeignKey("classes.id", use_alter=True), index=True),
    # The tutor that a course site acts for.
    sa.Column("tutor_id", ID, sa.ForeignKey("owners.id"), index=True),
    # Place on the roster.
    sa.Column("position", sa.Integer),
    sa.Column("withdrawn_at", sa.Double),
)

CLASSES = sa.Table(
    "classes",
    METADATA,
    sa.Column("id", ID, primary_key=True),
    sa.Column("tutor_id", ID, sa.ForeignKey("owners.id"), nullable=False, index=True),
    sa.Column("name", sa.Text, nullable=False),
    # Without the hyphen that is shown in it.
    sa.Column("join_code", sa.String(16), nullable=False),
    sa.Column("joining_open", sa.Boolean, nullable=False),
    # When joining closes by itself; empty: not before a tutor closes it.
    sa.Column("joining_until", sa.Double),
    sa.Column("settings", JSON, nullable=False),
    # The class's picture, and how it is framed; photos point at owners, so one comes later.
    sa.Column("picture_id", ID, sa.ForeignKey("photos.id", use_alter=True), index=True),
    sa.Column("picture", JSON),
    sa.Column("closes_at", sa.Double),
    sa.Column("created_at", sa.Double, nullable=False),
    sa.Index(None, "join_code", unique=True),
)

# Who else may work in a class, with what its tutor may: second tutors, and course sites, within
# their scopes.
CLASS_TUTORS = sa.Table(
    "class_tutors",
    METADATA,
    sa.Column("class_id", ID, sa.ForeignKey("classes.id", ondelete="CASCADE"), primary_key=True),
    sa.Column(
        "owner_id",
        ID,
        sa.ForeignKey("owners.id", ondelete="CASCADE"),
        primary_key=True,
        index=True,
    ),
    sa.Column("created_at", sa.Double, nullable=False),
)

# What a course site may do; its name, its tutor and its keys are those of its row in `owners`.
SITES = sa.Table(
    "sites",
    METADATA,
    sa.Column("id", ID, sa.ForeignKey("owners.id", ondelete="CASCADE"), primary_key=True),
    sa.Column("scopes", JSON, nullable=False),
    sa.Column("origins", JSON, nullable=False),
    sa.Column("expires_at", sa.Double, nullable=False),
)

ACCESS_KEYS = sa.Table(
    "access_keys",
    METADATA,
    sa.Column("id", ID, primary_key=True),
    sa.Column("owner_id", ID, sa.ForeignKey("owners.id"), nullable=False, index=True),
    # SHA-256 of the key, in hexadecimal; the key itself is not stored.
    sa.Column("hash", sa.String(64), nullable=False),
    sa.Column("label", sa.Text, nullable=False),
    sa.Column("created_at", sa.Double, nullable=False),
    sa.Column("last_used_at", sa.Double),
    sa.Column("withdrawn_at", sa.Double),
    # The key that a browser has signed in with; empty: the row is a key itself.
    sa.Column("opened_with", ID, sa.ForeignKey("access_keys.id"), index=True),
    # Until when a browser stays signed in if it is not used; keys have no end.
    sa.Column("ends_at", sa.Double, index=True),
    # The learning platform's site whose launch it came from, sign-ins included; it is deleted
    # with that (`worker.store.ledger.erasing`).
    sa.Column("via_site", ID, sa.ForeignKey("owners.id"), index=True),
    sa.Index(None, "hash", unique=True),
)

# The ids by which somebody else's system knows people of a class.
EXTERNAL_IDS = sa.Table(
    "external_ids",
    METADATA,
    # The course site, or the tutor, whose ids they are.
    sa.Column("issuer_id", ID, sa.ForeignKey("owners.id", ondelete="CASCADE"), primary_key=True),
    sa.Column("class_id", ID, sa.ForeignKey("classes.id", ondelete="CASCADE"), primary_key=True),
    # `student` or `tutor`: one person may be both in the other system.
    sa.Column("role", sa.String(16), primary_key=True),
    sa.Column("external_id", sa.String(255), primary_key=True),
    sa.Column(
        "person_id", ID, sa.ForeignKey("owners.id", ondelete="CASCADE"), nullable=False, index=True
    ),
    sa.Index(None, "class_id"),
)

SESSIONS = sa.Table(
    "sessions",
    METADATA,
    sa.Column("id", ID, primary_key=True),
    # SHA-256 of the token, in hexadecimal; the token itself is not stored.
    sa.Column("hash", sa.String(64), nullable=False),
    sa.Column(
        "student_id", ID, sa.ForeignKey("owners.id", ondelete="CASCADE"), nullable=False, index=True
    ),
    sa.Column(
        "site_id", ID, sa.ForeignKey("owners.id", ondelete="CASCADE"), nullable=False, index=True
    ),
    # The site's key that it was started with: withdrawing that key ends it.
    sa.Column(
        "key_id",
        ID,
        sa.ForeignKey("access_keys.id", ondelete="CASCADE"),
        nullable=False,
        index=True,
    ),
    sa.Column("origin", sa.Text, nullable=False),
    sa.Column("scopes", JSON, nullable=False),
    sa.Column("created_at", sa.Double, nullable=False),
    sa.Column("ends_at", sa.Double, nullable=False, index=True),
    sa.Index(None, "hash", unique=True),
)

# What course sites did, by ids alone. A site's lines stay when it is deleted.
SITE_LOG = sa.Table(
    "site_log",
    METADATA,
    sa.Column("id", ID, primary_key=True),
    sa.Column("at", sa.Double, nullable=False, index=True),
    sa.Column("site_id", ID, nullable=False, index=True),
    sa.Column("key_id", ID),
    # The session in which a student did it; empty: the site's server did.
    sa.Column("session_id", ID),
    # The class that it concerns; empty: none, such as a photo of the site's own.
    sa.Column("class_id", ID, sa.ForeignKey("classes.id", ondelete="CASCADE"), index=True),
    sa.Column("action", sa.String(64), nullable=False),
    # The id of what was made, changed or fetched.
    sa.Column("about", ID),
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
    sa.Column("sha256", sa.String(64), nullable=False, index=True),
    sa.Column("created_at", sa.Double, nullable=False),
    # When it is deleted with everything made from it; empty: never by itself.
    sa.Column("delete_after", sa.Double, index=True),
    # The photo that this one was squared up from.
    sa.Column("made_from", ID, sa.ForeignKey("photos.id"), index=True),
    # How many pixels wide the finest one is that the photo fills; a service of the version before
    # writes none.
    sa.Column("resolved_px", sa.Double, nullable=False, server_default="1"),
)

PACKS = sa.Table(
    "packs",
    METADATA,
    sa.Column("id", ID, primary_key=True),
    sa.Column("owner_id", ID, sa.ForeignKey("owners.id"), nullable=False),
    sa.Column("reference_id", ID, sa.ForeignKey("photos.id"), nullable=False, index=True),
    sa.Column("title", sa.Text, nullable=False),
    sa.Column("number", sa.String(32), index=True),
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
    sa.Column("delete_after", sa.Double, index=True),
    # Marks that people set.
    sa.Column("printed_at", sa.Double),
    sa.Column("joined_at", sa.Double),
    # The person whose virtual time it was charged to; empty: its owner.
    sa.Column("payer_id", ID, sa.ForeignKey("owners.id"), index=True),
    # How often the disk ran full while it was made; these are not counted as attempts.
    sa.Column("room_waits", sa.Integer, nullable=False, server_default="0"),
    # The student's name that its sheets carry; empty: none.
    sa.Column("recipient", sa.Text),
    # Of the request that asked for it, for the log.
    sa.Column("request_id", sa.String(64)),
    # A shelf is a part of this index, from its end.
    sa.Index(None, "owner_id", "created_at"),
    # How many are in each state, and which ended last.
    sa.Index(None, "state", "finished_at"),
)
#: The pack waits. The state is written into the statement: whether an index of some rows has
#: those that are asked for cannot be decided with a value that comes later.
QUEUED = PACKS.c.state == sa.literal_column("'queued'")
# A claim reads this index from its start: the queue in its order. Packs of a whole batch have one
# start in common with those of other batches.
sa.Index(
    "ix_packs_queue",
    PACKS.c.virtual_time,
    PACKS.c.created_at,
    PACKS.c.id,
    PACKS.c.not_before,
    sqlite_where=QUEUED,
    postgresql_where=QUEUED,
)

BATCHES = sa.Table(
    "batches",
    METADATA,
    sa.Column("id", ID, primary_key=True),
    sa.Column(
        "class_id", ID, sa.ForeignKey("classes.id", ondelete="CASCADE"), nullable=False, index=True
    ),
    sa.Column("title", sa.Text, nullable=False),
    sa.Column("created_at", sa.Double, nullable=False),
    sa.Column("cancelled_at", sa.Double),
    sa.Column("delete_after", sa.Double, index=True),
)

BATCH_ITEMS = sa.Table(
    "batch_items",
    METADATA,
    sa.Column("batch_id", ID, sa.ForeignKey("batches.id", ondelete="CASCADE"), primary_key=True),
    sa.Column("position", sa.Integer, primary_key=True, autoincrement=False),
    # Empty: for no student, such as the tutor's own copy.
    sa.Column("student_id", ID, sa.ForeignKey("owners.id", ondelete="CASCADE"), index=True),
    sa.Column("reference_id", ID, sa.ForeignKey("photos.id", ondelete="SET NULL"), index=True),
    sa.Column("pack_id", ID, sa.ForeignKey("packs.id", ondelete="SET NULL"), index=True),
    sa.Column("spec", JSON),
    sa.Column("title", sa.Text, nullable=False),
    sa.Column("note", sa.Text, nullable=False),
    # Why there is no pack.
    sa.Column("error_code", sa.String(64)),
    sa.Column("error_detail", sa.Text),
)

IDEMPOTENCY_KEYS = sa.Table(
    "idempotency_keys",
    METADATA,
    sa.Column("owner_id", ID, sa.ForeignKey("owners.id"), primary_key=True),
    sa.Column("key", sa.String(255), primary_key=True),
    sa.Column("fingerprint", sa.String(128), nullable=False),
    # Of the request that holds the key while it has no answer.
    sa.Column("token", ID, nullable=False),
    sa.Column("status", sa.Integer),
    sa.Column("body", sa.Text),
    # Until when an unanswered key is held, and an answer stored.
    sa.Column("until", sa.Double, nullable=False, index=True),
)

# The ids that each stored answer mentions, so that it is deleted with them.
ANSWER_SUBJECTS = sa.Table(
    "answer_subjects",
    METADATA,
    sa.Column("owner_id", ID, primary_key=True),
    sa.Column("key", sa.String(255), primary_key=True),
    # An id without its prefix.
    sa.Column("subject", sa.String(22), primary_key=True, index=True),
    # The first tutor takes over the keys of `local`; these rows are updated with them.
    sa.ForeignKeyConstraint(
        ["owner_id", "key"],
        ["idempotency_keys.owner_id", "idempotency_keys.key"],
        ondelete="CASCADE",
        onupdate="CASCADE",
    ),
)

PRINTERS = sa.Table(
    "printers",
    METADATA,
    sa.Column("id", ID, primary_key=True),
    sa.Column("owner_id", ID, sa.ForeignKey("owners.id"), nullable=False, index=True),
    # The class that it is shared with; its owner keeps it when the class is deleted.
    sa.Column("class_id", ID, sa.ForeignKey("classes.id", ondelete="SET NULL"), index=True),
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("sheet_format", sa.String(64), nullable=False),
    # Readings of the test page, from which corrections are computed. Empty: not measured.
    sa.Column("across_mm", sa.Double),
    sa.Column("down_mm", sa.Double),
    sa.Column("margin_mm", JSON),
    sa.Column("created_at", sa.Double, nullable=False),
)

LINKS = sa.Table(
    "links",
    METADATA,
    # SHA-256 of the secret in the link, in hexadecimal; the secret itself is not stored.
    sa.Column("hash", sa.String(64), primary_key=True),
    sa.Column(
        "made_by", ID, sa.ForeignKey("owners.id", ondelete="CASCADE"), nullable=False, index=True
    ),
    # The key that it was asked for with; empty: this machine's user, who has none.
    sa.Column("key_id", ID, sa.ForeignKey("access_keys.id", ondelete="CASCADE"), index=True),
    # The session in which a student asked for it; empty: it was in none.
    sa.Column("session_id", ID, sa.ForeignKey("sessions.id", ondelete="CASCADE"), index=True),
    # One of the two, and the path of the file below it.
    sa.Column("pack_id", ID, sa.ForeignKey("packs.id", ondelete="CASCADE"), index=True),
    sa.Column("batch_id", ID, sa.ForeignKey("batches.id", ondelete="CASCADE"), index=True),
    sa.Column("file", sa.Text, nullable=False),
    sa.Column("covers", sa.Boolean, nullable=False),
    sa.Column("ends_at", sa.Double, nullable=False, index=True),
)

# Links that give a student's device a new key, once.
KEY_LINKS = sa.Table(
    "key_links",
    METADATA,
    # SHA-256 of the secret in the link, in hexadecimal; the secret itself is not stored.
    sa.Column("hash", sa.String(64), primary_key=True),
    sa.Column(
        "student_id", ID, sa.ForeignKey("owners.id", ondelete="CASCADE"), nullable=False, index=True
    ),
    sa.Column(
        "made_by", ID, sa.ForeignKey("owners.id", ondelete="CASCADE"), nullable=False, index=True
    ),
    # The key that it was asked for with: withdrawing that key ends it.
    sa.Column("key_id", ID, sa.ForeignKey("access_keys.id", ondelete="CASCADE"), index=True),
    sa.Column("ends_at", sa.Double, nullable=False, index=True),
)

# Addresses that are told what happens, by signed requests (`worker.store.ledger.webhooks`).
WEBHOOKS = sa.Table(
    "webhooks",
    METADATA,
    sa.Column("id", ID, primary_key=True),
    sa.Column(
        "owner_id", ID, sa.ForeignKey("owners.id", ondelete="CASCADE"), nullable=False, index=True
    ),
    sa.Column("url", sa.Text, nullable=False),
    sa.Column("events", JSON, nullable=False),
    # Both ends sign with the same secret, so it is stored as it is; the one before it signs too
    # until then.
    sa.Column("secret", sa.String(255), nullable=False),
    sa.Column("old_secret", sa.String(255)),
    sa.Column("old_secret_until", sa.Double),
    sa.Column("created_at", sa.Double, nullable=False),
    # Since when nothing arrives there; empty: the last request did.
    sa.Column("failing_since", sa.Double),
    sa.Column("disabled_at", sa.Double),
    sa.Column("disabled_because", sa.String(32)),
)

# What is to be told, written in the same transaction as what happened. A row goes with the thing
# that it is about.
WEBHOOK_MESSAGES = sa.Table(
    "webhook_messages",
    METADATA,
    sa.Column("id", ID, primary_key=True),
    sa.Column("webhook_id", ID, sa.ForeignKey("webhooks.id", ondelete="CASCADE"), nullable=False),
    sa.Column("type", sa.String(32), nullable=False),
    # One of the three.
    sa.Column("pack_id", ID, sa.ForeignKey("packs.id", ondelete="CASCADE"), index=True),
    sa.Column("batch_id", ID, sa.ForeignKey("batches.id", ondelete="CASCADE"), index=True),
    sa.Column("student_id", ID, sa.ForeignKey("owners.id", ondelete="CASCADE"), index=True),
    sa.Column("at", sa.Double, nullable=False, index=True),
    # When it is sent next; while it is being sent, when that is taken for lost. Empty: it is
    # not sent any more.
    sa.Column("next_at", sa.Double, index=True),
    # Of the process that is sending it.
    sa.Column("token", ID),
    # How often it was sent since it happened, or was replayed.
    sa.Column("tries", sa.Integer, nullable=False),
    sa.Column("delivered_at", sa.Double),
    sa.Index(None, "webhook_id", "at"),
)

# The log of deliveries. Nothing of an answer but its status is in it.
WEBHOOK_ATTEMPTS = sa.Table(
    "webhook_attempts",
    METADATA,
    sa.Column(
        "message_id", ID, sa.ForeignKey("webhook_messages.id", ondelete="CASCADE"), primary_key=True
    ),
    sa.Column("number", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("at", sa.Double, nullable=False),
    sa.Column("outcome", sa.String(32), nullable=False),
    sa.Column("status", sa.Integer),
    sa.Column("took_s", sa.Double, nullable=False),
)

# Learning platforms (LTI 1.3). Each acts as one of the course sites, and ends with it.
PLATFORMS = sa.Table(
    "platforms",
    METADATA,
    sa.Column("id", ID, primary_key=True),
    sa.Column(
        "site_id", ID, sa.ForeignKey("owners.id", ondelete="CASCADE"), nullable=False, index=True
    ),
    sa.Column("issuer", sa.Text, nullable=False),
    sa.Column("client_id", sa.Text, nullable=False),
    sa.Column("deployment_ids", JSON, nullable=False),
    sa.Column("auth_url", sa.Text, nullable=False),
    sa.Column("token_url", sa.Text, nullable=False),
    sa.Column("jwks_url", sa.Text, nullable=False),
    sa.Column("origins", JSON, nullable=False),
    # Hosts of its services, besides those of the addresses above.
    sa.Column("service_hosts", JSON, nullable=False),
    sa.Column("created_at", sa.Double, nullable=False),
    sa.Index(None, "issuer", "client_id", unique=True),
)

LTI_CONTEXTS = sa.Table(
    "lti_contexts",
    METADATA,
    sa.Column(
        "platform_id", ID, sa.ForeignKey("platforms.id", ondelete="CASCADE"), primary_key=True
    ),
    sa.Column("deployment_id", sa.String(255), primary_key=True),
    sa.Column("context_id", sa.String(255), primary_key=True),
    sa.Column(
        "class_id", ID, sa.ForeignKey("classes.id", ondelete="CASCADE"), nullable=False, index=True
    ),
    sa.Column("members_url", sa.Text),
)

LTI_LOGINS = sa.Table(
    "lti_logins",
    METADATA,
    # State, nonce and what the browser knows are SHA-256 in hexadecimal.
    sa.Column("state", sa.String(64), primary_key=True),
    sa.Column("nonce", sa.String(64), nullable=False),
    sa.Column("browser", sa.String(64), nullable=False),
    sa.Column(
        "platform_id",
        ID,
        sa.ForeignKey("platforms.id", ondelete="CASCADE"),
        nullable=False,
        index=True,
    ),
    sa.Column("target_link_uri", sa.Text, nullable=False),
    sa.Column("in_storage", sa.Boolean, nullable=False),
    # Launches with a wrong token.
    sa.Column("failures", sa.Integer, nullable=False, server_default="0"),
    sa.Column("ends_at", sa.Double, nullable=False, index=True),
)

LTI_LAUNCHES = sa.Table(
    "lti_launches",
    METADATA,
    # SHA-256 of the secret that the page of the launch has, in hexadecimal.
    sa.Column("hash", sa.String(64), primary_key=True),
    sa.Column(
        "platform_id",
        ID,
        sa.ForeignKey("platforms.id", ondelete="CASCADE"),
        nullable=False,
        index=True,
    ),
    sa.Column(
        "class_id", ID, sa.ForeignKey("classes.id", ondelete="CASCADE"), nullable=False, index=True
    ),
    sa.Column(
        "person_id", ID, sa.ForeignKey("owners.id", ondelete="CASCADE"), nullable=False, index=True
    ),
    sa.Column("ends_at", sa.Double, nullable=False, index=True),
)

LTI_KEYS = sa.Table(
    "lti_keys",
    METADATA,
    sa.Column("id", ID, primary_key=True),
    # The private key, by which this service signs what it sends to platforms.
    sa.Column("jwk", JSON, nullable=False),
    sa.Column("created_at", sa.Double, nullable=False),
)

# What gradebooks of platforms are to be told, and how far that is.
LTI_RESULTS = sa.Table(
    "lti_results",
    METADATA,
    sa.Column("id", ID, primary_key=True),
    sa.Column(
        "platform_id",
        ID,
        sa.ForeignKey("platforms.id", ondelete="CASCADE"),
        nullable=False,
        index=True,
    ),
    sa.Column(
        "person_id", ID, sa.ForeignKey("owners.id", ondelete="CASCADE"), nullable=False, index=True
    ),
    sa.Column("line_item", sa.Text, nullable=False),
    # The platform's own id of the student.
    sa.Column("subject", sa.String(255), nullable=False),
    # The address of this service, as the platform knows it.
    sa.Column("home", sa.Text, nullable=False),
    # Packs that were asked for from then on count.
    sa.Column("since", sa.Double, nullable=False),
    # The pack that was told last.
    sa.Column("pack_id", ID),
    sa.Column("attempts", sa.Integer, nullable=False),
    sa.Column("not_before", sa.Double, nullable=False, index=True),
)

# Ids of what was deleted and is in no list beside the files yet
# (`worker.store.ledger.deleted_ids`).
DELETIONS = sa.Table("deletions", METADATA, sa.Column("id", ID, primary_key=True))

# The lists beside the files that this ledger has written or obeyed.
DELETION_LISTS = sa.Table(
    "deletion_lists",
    METADATA,
    sa.Column("name", ID, primary_key=True),
)

# Workers, each as it was seen last; the only one of one machine writes no row.
WORKERS = sa.Table(
    "workers",
    METADATA,
    sa.Column("name", sa.String(255), primary_key=True),
    # How many packs it makes side by side.
    sa.Column("places", sa.Integer, nullable=False),
    sa.Column("version", sa.String(32), nullable=False),
    sa.Column("seen_at", sa.Double, nullable=False, index=True),
)

TURNS = sa.Table(
    "turns",
    METADATA,
    sa.Column("name", sa.String(32), primary_key=True),
    sa.Column("holder", sa.String(255), nullable=False),
    sa.Column("until", sa.Double, nullable=False),
)

OWED = sa.Table(
    "owed",
    METADATA,
    # A task that is due (`worker.store.ledger.disk.scrubbing`); the token is of the change that
    # made it due last.
    sa.Column("name", sa.String(32), primary_key=True),
    sa.Column("token", sa.String(64), nullable=False),
)
