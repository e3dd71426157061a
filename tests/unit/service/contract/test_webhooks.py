"""The document's webhooks are what is really sent."""

from __future__ import annotations

import json
from typing import Any

import jsonschema_rs
import pytest

from service.contract.refusals import operations
from worker.jobs.upkeep.webhooks.messages import body_of
from worker.store.ledger import EVENTS, Sending

Json = dict[str, Any]


@pytest.mark.parametrize("event", EVENTS)
def test_what_is_sent_is_what_the_document_says(contract: Json, event: Any) -> None:
    operation = contract["webhooks"][event]["post"]
    content = operation["requestBody"]["content"]["application/json"]
    checker = jsonschema_rs.Draft202012Validator(content["schema"])
    message = Sending(
        id="msg_1",
        webhook_id="whk_1",
        type=event,
        about="pck_1",
        at=1_772_443_800.25,
        url="https://course.example/",
        secrets=("whsec_",),
        token="t",  # noqa: S106 - it opens nothing
        tries=1,
    )
    sent = json.loads(body_of(message))
    assert sent == {"type": event, "timestamp": "2026-03-02T09:30:00.250Z", "data": {"id": "pck_1"}}
    assert [one.message for one in checker.iter_errors(sent)] == []
    assert [one.message for one in checker.iter_errors(content["example"])] == []
    assert not checker.is_valid({**sent, "type": "pack.made"})


def test_every_event_and_header_is_in_the_document(contract: Json) -> None:
    assert set(contract["webhooks"]) == set(EVENTS)
    ids = {operation["operationId"] for _, _, operation in operations(contract)}
    for described in contract["webhooks"].values():
        operation = described["post"]
        assert operation["operationId"] not in ids
        named = {one["name"] for one in operation["parameters"]}
        # Standard Webhooks 1.0.0.
        assert named == {"webhook-id", "webhook-timestamp", "webhook-signature"}
