"""Schemas of course sites, their keys, their log, and sessions."""

from __future__ import annotations

import time
from datetime import datetime
from typing import Any

from marshmallow import Schema, ValidationError, fields, validate, validates

from service.http.schemas import StrictSchema, name_field, student_id_field, unique
from service.people.schemas import SelfSchema
from service.sites.origins import Origin
from worker.store.ledger import (
    DAY_S,
    DEFAULT_SCOPES,
    DEFAULT_SESSION_SCOPES,
    LONGEST_SITE_S,
    SCOPES,
    SESSION_SCOPES,
)

MOST_CLASSES = 200
MOST_ORIGINS = 20
CLASS_ID = r"^cls_[A-Za-z0-9_-]{16,60}$"
_SCOPES_SAY = " ".join(f"`{name}`: {says}" for name, says in SCOPES.items())
#: What becomes of a site's people and things when it is deleted.
WHEN_DELETED = (
    "Its keys, sessions and webhooks end at once. Students stay in their classes with their photos "
    "and packs; the site's own ids for them are forgotten. Photos, packs and printers that are the "
    "site's own become yours. Tutors who could get in through the site alone are removed. The "
    "log of what it did stays until its time is over."
)


def class_ids_field(**options: Any) -> fields.List[Any]:
    """The classes in which a site acts."""
    one = fields.String(validate=validate.Regexp(CLASS_ID, error="This is no id of a class."))
    bounds = validate.Length(min=1, max=MOST_CLASSES)
    says = {"description": "Classes of your own; left out: all that you have now."}
    return fields.List(one, validate=[bounds, unique], metadata=says, **options)


def scopes_field(known: Any, most: int, **options: Any) -> fields.List[Any]:
    """Scopes by name."""
    one = fields.String(validate=validate.OneOf(list(known)))
    says = {"description": _SCOPES_SAY}
    bounds = validate.Length(min=1, max=most)
    return fields.List(one, validate=[bounds, unique], metadata=says, **options)


def origins_field(**options: Any) -> fields.List[Any]:
    """The origins of a site's pages."""
    bounds = validate.Length(max=MOST_ORIGINS)
    says = {"description": "Origins of the site's pages, which may show the page for students."}
    return fields.List(Origin(), validate=[bounds, unique], metadata=says, **options)


class _SiteEndSchema(StrictSchema):
    """When a site ends."""

    @validates("expires_at")
    def is_soon_enough(self, value: datetime | None, **_: Any) -> None:
        """Check that the end lies ahead, and not for ever."""
        if value is None:
            return
        ahead_s = value.timestamp() - time.time()
        if not 0 < ahead_s <= LONGEST_SITE_S:
            days = round(LONGEST_SITE_S / DAY_S)
            raise ValidationError(f"Give a time that lies ahead, at most {days} days.")


def expires_field(**options: Any) -> fields.AwareDateTime:
    """When a site ends."""
    says = {"description": "Until when it acts; left out: for a year."}
    return fields.AwareDateTime(metadata=says, **options)


class NewSiteSchema(_SiteEndSchema):
    """A new course site."""

    name = name_field(required=True)
    class_ids = class_ids_field(load_default=None)
    scopes = scopes_field(SCOPES, len(SCOPES), load_default=list(DEFAULT_SCOPES))
    origins = origins_field(load_default=list)
    expires_at = expires_field(load_default=None)


class SiteChangeSchema(_SiteEndSchema):
    """What changes of a course site; the rest stays as it is."""

    name = name_field()
    class_ids = class_ids_field()
    scopes = scopes_field(SCOPES, len(SCOPES))
    origins = origins_field()
    expires_at = expires_field()


class SiteSchema(Schema):
    """A course site, without its keys."""

    id = fields.String(required=True)
    name = fields.String(required=True)
    class_ids = fields.List(fields.String(), required=True)
    scopes = fields.List(fields.String(validate=validate.OneOf(list(SCOPES))), required=True)
    origins = fields.List(fields.String(), required=True)
    created_at = fields.DateTime(required=True)
    expires_at = fields.DateTime(required=True)
    expired = fields.Boolean(required=True)
    last_used_at = fields.DateTime(
        allow_none=True,
        metadata={"description": "When any of its keys was used last, to an hour."},
    )
    when_deleted = fields.String(
        required=True, metadata={"description": "What becomes of its people and things then."}
    )
    links = fields.Nested(SelfSchema, required=True)


class SitesSchema(Schema):
    """The course sites of a tutor."""

    items = fields.List(fields.Nested(SiteSchema), required=True)


class IssuedSiteKeySchema(Schema):
    """A course site with a new key, which is shown only once."""

    site = fields.Nested(SiteSchema, required=True)
    key = fields.String(required=True)
    key_id = fields.String(required=True)


class NewSessionSchema(StrictSchema):
    """A session for a student in a page of the site that asks."""

    student_id = student_id_field(required=True)
    origin = Origin(required=True, metadata={"description": "Of the page; the site names it."})
    scopes = scopes_field(
        SESSION_SCOPES, len(SESSION_SCOPES), load_default=list(DEFAULT_SESSION_SCOPES)
    )


class SessionLinksSchema(SelfSchema):
    """The paths of a session."""

    renewals = fields.String(required=True)


class SessionSchema(Schema):
    """A session, without its token."""

    id = fields.String(required=True)
    student_id = fields.String(required=True)
    site_id = fields.String(required=True)
    origin = fields.String(required=True)
    scopes = fields.List(
        fields.String(validate=validate.OneOf(list(SESSION_SCOPES))), required=True
    )
    created_at = fields.DateTime(required=True)
    ends_at = fields.DateTime(required=True)
    links = fields.Nested(SessionLinksSchema, required=True)


class IssuedSessionSchema(SessionSchema):
    """A new session with its token, which is shown only once."""

    token = fields.String(required=True)


class LogLineSchema(Schema):
    """What a course site did, by ids alone."""

    at = fields.DateTime(required=True)
    site_id = fields.String(required=True)
    key_id = fields.String(allow_none=True)
    session_id = fields.String(
        allow_none=True, metadata={"description": "The student's session, where one did it."}
    )
    class_id = fields.String(allow_none=True)
    action = fields.String(
        required=True, metadata={"description": "The `operationId` of the call."}
    )
    about = fields.String(allow_none=True, metadata={"description": "The id of what it was about."})


class LogSchema(Schema):
    """The lines of a log, the newest first."""

    items = fields.List(fields.Nested(LogLineSchema), required=True)
    kept_days = fields.Integer(required=True)
