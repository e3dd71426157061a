"""Schemas of links, from which the OpenAPI document is generated."""

from __future__ import annotations

from typing import Any

from marshmallow import Schema, fields, validate

from service.http.schemas import StrictInteger, StrictSchema
from worker.spec.json.fields import Flag, between
from worker.spec.sheet_labels import ADDRESS

#: The longest life of a link, in s: a quarter of an hour is enough to fetch a file.
LONGEST_S = 15 * 60
#: Paths below a pack of the files that have links, and below a batch.
PACK_FILE = rf"(?:pack\.pdf|map\.png|picture\.jpg|full-size\.pdf|sheets/{ADDRESS}\.(?:pdf|png))"
PRINT_RUN = r"print-run/[a-z0-9._-]{4,100}\.pdf"
#: A link's secret: its prefix and 256 random bits in base 64 (RFC 4648, 5).
_WHOLE = r"rcl_[A-Za-z0-9_-]{43}"


def _file(pattern: str, example: str, **options: Any) -> fields.String:
    known = validate.Regexp(f"^{pattern}$", error=f"There is no such file. One is {example}.")
    said = {"description": f"The file's path below the thing itself, such as `{example}`."}
    return fields.String(validate=known, metadata=said, **options)


class LinkRequestSchema(StrictSchema):
    """How long a link is to last."""

    valid_s = StrictInteger(
        strict=True,
        load_default=LONGEST_S,
        validate=between(1, LONGEST_S),
        metadata={"description": "Seconds until the link is over."},
    )


class PackLinkRequestSchema(LinkRequestSchema):
    """A link to a file of a pack."""

    file = _file(PACK_FILE, "sheets/2-3.pdf", load_default="pack.pdf")


class BatchLinkRequestSchema(LinkRequestSchema):
    """A link to a print run of a batch."""

    file = _file(PRINT_RUN, "print-run/iso_a4_210x297mm.pdf", required=True)
    covers = Flag(
        load_default=False, metadata={"description": "Each student's cover on top of the pack."}
    )


class LinkSchema(Schema):
    """A link; whoever has its `url` can fetch the file until then."""

    url = fields.String(required=True)
    file = fields.String(required=True)
    ends_at = fields.DateTime(required=True)


class SecretSchema(StrictSchema):
    """The query of a link."""

    secret = fields.String(
        required=True,
        validate=validate.Regexp(f"^{_WHOLE}$", error="This is no link's secret: copy it whole."),
        metadata={"description": "It opens this one file, for a while."},
    )
