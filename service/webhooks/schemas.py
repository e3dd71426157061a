"""Schemas of webhooks, their secrets, and the log of their deliveries."""

from __future__ import annotations

from typing import Any

from marshmallow import Schema, fields, validate

from service.http.schemas import StrictInteger, StrictSchema, unique
from service.people.schemas import SelfSchema
from worker.spec.json.fields import Flag, between
from worker.store.ledger import EVENTS, LONGEST_OVERLAP_S, OUTCOMES, OVERLAP_S

MOST_URL_LETTERS = 2000
_EVENTS_SAY = " ".join(f"`{name}`: {says}" for name, says in EVENTS.items())
_OUTCOMES_SAY = " ".join(f"`{name}`: {says}" for name, says in OUTCOMES.items())
_STATES = ("waiting", "delivered", "failed")


def _event(**options: Any) -> fields.String:
    return fields.String(validate=validate.OneOf(list(EVENTS)), **options)


def url_field(**options: Any) -> fields.String:
    """The address of a webhook; the view checks what it may be."""
    says = "Where it is sent, with POST. It begins with `https://`, and the internet reaches it."
    length = validate.Length(min=1, max=MOST_URL_LETTERS)
    return fields.String(validate=length, metadata={"description": says}, **options)


def events_field(**options: Any) -> fields.List[Any]:
    """What a webhook is told."""
    bounds = validate.Length(min=1, max=len(EVENTS))
    says = {"description": _EVENTS_SAY}
    return fields.List(_event(), validate=[bounds, unique], metadata=says, **options)


class NewWebhookSchema(StrictSchema):
    """A new webhook."""

    url = url_field(required=True)
    events = events_field(load_default=list(EVENTS))


class WebhookChangeSchema(StrictSchema):
    """What changes of a webhook; the rest stays as it is."""

    url = url_field()
    events = events_field()
    enabled = Flag(
        metadata={
            "description": "False: nothing is sent any more, and what waits is given up. True: "
            "what happens from now on is sent; replay what was missed."
        }
    )


class RotationSchema(StrictSchema):
    """How long both secrets sign."""

    overlap_s = StrictInteger(
        strict=True,
        load_default=int(OVERLAP_S),
        validate=between(0, int(LONGEST_OVERLAP_S)),
        metadata={"description": "For so many seconds the old secret signs beside the new one."},
    )


class WebhookLinksSchema(SelfSchema):
    """The paths of a webhook."""

    deliveries = fields.String(required=True)
    secrets = fields.String(required=True)


class WebhookSchema(Schema):
    """A webhook, without its secret."""

    id = fields.String(required=True)
    owner_id = fields.String(required=True)
    url = fields.String(required=True)
    events = fields.List(_event(), required=True)
    enabled = fields.Boolean(required=True)
    disabled_at = fields.DateTime(allow_none=True)
    disabled_because = fields.String(
        allow_none=True,
        metadata={"description": "What ended it, and what to do; null: it is enabled."},
    )
    failing_since = fields.DateTime(
        allow_none=True,
        metadata={"description": "Since when nothing has arrived; null: the last message did."},
    )
    old_secret_until = fields.DateTime(
        allow_none=True,
        metadata={"description": "Until when the secret before signs as well; null: no more."},
    )
    created_at = fields.DateTime(required=True)
    links = fields.Nested(WebhookLinksSchema, required=True)


class WebhooksSchema(Schema):
    """The webhooks of whoever asks, and of their course sites."""

    items = fields.List(fields.Nested(WebhookSchema), required=True)


class IssuedWebhookSchema(Schema):
    """A webhook with its new secret, which is shown only once."""

    webhook = fields.Nested(WebhookSchema, required=True)
    secret = fields.String(
        required=True, metadata={"description": "It verifies what is sent; `whsec_` and base 64."}
    )


class AttemptSchema(Schema):
    """One attempt to deliver a message."""

    at = fields.DateTime(required=True)
    outcome = fields.String(
        required=True,
        validate=validate.OneOf(list(OUTCOMES)),
        metadata={"description": _OUTCOMES_SAY},
    )
    status = fields.Integer(
        allow_none=True, metadata={"description": "Of the answer; null: none came."}
    )
    took_s = fields.Float(required=True, metadata={"description": "How long it took, in s."})


class DeliveryLinksSchema(Schema):
    """The paths of a delivery."""

    replays = fields.String(required=True)


class DeliverySchema(Schema):
    """A message to a webhook, and how far it is."""

    id = fields.String(
        required=True, metadata={"description": "Its `webhook-id`, the same whenever it is sent."}
    )
    type = _event(required=True, metadata={"description": "What happened."})
    about = fields.String(
        required=True, metadata={"description": "The id of the pack, the batch or the student."}
    )
    at = fields.DateTime(required=True, metadata={"description": "When it happened."})
    state = fields.String(
        required=True,
        validate=validate.OneOf(_STATES),
        metadata={"description": "How far it is; `failed`: it is not sent any more by itself."},
    )
    next_at = fields.DateTime(
        allow_none=True, metadata={"description": "When it is sent next; null: not any more."}
    )
    attempts = fields.List(fields.Nested(AttemptSchema), required=True)
    links = fields.Nested(DeliveryLinksSchema, required=True)


class DeliveriesSchema(Schema):
    """The messages to a webhook, the newest first."""

    items = fields.List(fields.Nested(DeliverySchema), required=True)
    kept_days = fields.Integer(required=True)
