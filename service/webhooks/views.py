"""Webhooks: register an address, change its secret, see what it was sent, have it sent again.

They belong to the tutor or course site that registers them; a tutor also sees, changes and
deletes those of their own sites.
"""

from __future__ import annotations

from typing import Any

from flask import Response

from service.http.answers.json_responses import json_response
from service.http.documented import LIST_HEADERS
from service.http.logs.access_log import add_access_facts
from service.http.paging import ListQuerySchema, PagedList
from service.http.resources import Resources, request_invalid
from service.runtime.context import get_context, owner_id
from service.webhooks.documents import delivery_document, issued_document, webhook_document
from service.webhooks.schemas import (
    DeliveriesSchema,
    DeliverySchema,
    IssuedWebhookSchema,
    NewWebhookSchema,
    RotationSchema,
    WebhookChangeSchema,
    WebhookSchema,
    WebhooksSchema,
)
from worker.errors import LimitReached, WebhookDisabled
from worker.jobs.upkeep.webhooks.addresses import fault_of
from worker.store.ledger import KEPT_DAYS, MessageRow, WebhookRow

blueprint = Resources(
    "webhooks", __name__, url_prefix="/v1/webhooks", description="Addresses that are told."
)
_WEBHOOKS = PagedList[WebhookRow](name="webhooks", place=lambda one: (one.created_at, one.id))
_DELIVERIES = PagedList[MessageRow](name="deliveries", place=lambda one: (one.at, one.id), usual=50)


@blueprint.get("")
@blueprint.arguments(ListQuerySchema, location="query")
@blueprint.response(200, WebhooksSchema, headers=LIST_HEADERS)
def list_webhooks(query: dict[str, Any]) -> Response:
    """Show the webhooks of whoever asks, and of their course sites, the oldest first."""
    page = _WEBHOOKS.page(query)
    found = get_context().ledger.webhooks.of(owner_id(), page)
    return _WEBHOOKS.respond_items(found, page, webhook_document)


@blueprint.post("")
@blueprint.arguments(NewWebhookSchema)
@blueprint.response(201, IssuedWebhookSchema)
@blueprint.refuses(LimitReached)
def create_webhook(body: dict[str, Any]) -> Response:
    """Register an address that is told what happens; its secret is shown only here.

    It is told about what whoever registers it may see, by Standard Webhooks 1.0.0: type, time
    and id. What it misses is sent again for a day, with growing pauses, under the same
    `webhook-id`; a message may come twice. It is disabled when nothing arrives for days.
    """
    _check(body["url"])
    issued = get_context().ledger.webhooks.add(owner_id(), body["url"], tuple(body["events"]))
    add_access_facts(about=issued.webhook.id)
    return json_response(issued_document(issued), 201)


@blueprint.get("/<webhook_id:webhook_id>")
@blueprint.response(200, WebhookSchema)
def get_webhook(webhook_id: str) -> Response:
    """Show a webhook, and whether anything arrives there."""
    return json_response(
        webhook_document(get_context().ledger.webhooks.get(webhook_id, owner_id()))
    )


@blueprint.patch("/<webhook_id:webhook_id>")
@blueprint.arguments(WebhookChangeSchema)
@blueprint.response(200, WebhookSchema)
def update_webhook(body: dict[str, Any], webhook_id: str) -> Response:
    """Change a webhook's address or events, disable it, or enable it again."""
    if "url" in body:
        _check(body["url"])
    changed = get_context().ledger.webhooks.change(webhook_id, owner_id(), body)
    return json_response(webhook_document(changed))


@blueprint.delete("/<webhook_id:webhook_id>")
@blueprint.response(204)
def delete_webhook(webhook_id: str) -> Response:
    """Delete a webhook with its secrets, what it has not been sent yet, and its log."""
    get_context().ledger.webhooks.delete(webhook_id, owner_id())
    return Response(status=204)


@blueprint.post("/<webhook_id:webhook_id>/secrets")
@blueprint.arguments(RotationSchema)
@blueprint.response(201, IssuedWebhookSchema)
def rotate_webhook_secret(body: dict[str, int], webhook_id: str) -> Response:
    """Make another secret, which is shown only here.

    For `overlap_s` everything is signed with both, so that the receiver can change over without
    missing anything; with 0 the old secret ends at once.
    """
    issued = get_context().ledger.webhooks.rotate(webhook_id, owner_id(), body["overlap_s"])
    return json_response(issued_document(issued), 201)


@blueprint.get("/<webhook_id:webhook_id>/deliveries")
@blueprint.arguments(ListQuerySchema, location="query")
@blueprint.response(200, DeliveriesSchema, headers=LIST_HEADERS)
def list_deliveries(query: dict[str, Any], webhook_id: str) -> Response:
    """Show what a webhook was told, and how each attempt ended, the newest first."""
    page = _DELIVERIES.page(query)
    found = get_context().ledger.deliveries.of_webhook(webhook_id, page)
    return _DELIVERIES.respond_items(found, page, delivery_document, kept_days=KEPT_DAYS)


@blueprint.post("/<webhook_id:webhook_id>/deliveries/<message_id:message_id>/replays")
@blueprint.response(202, DeliverySchema)
@blueprint.refuses(WebhookDisabled)
def replay_delivery(webhook_id: str, message_id: str) -> Response:
    """Send a message again, within seconds, under the same `webhook-id`."""
    row = get_context().ledger.deliveries.replay(webhook_id, message_id)
    return json_response(delivery_document(row), 202)


def _check(url: str) -> None:
    """Check the address of a webhook.

    Raises:
        RequestInvalid: It is none that webhooks go to.
    """
    fault = fault_of(url, get_context().settings.webhook_networks)
    if fault is not None:
        raise request_invalid({"url": [fault]})
