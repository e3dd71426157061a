"""The client's webhooks: requests and answers."""

from __future__ import annotations

import json
from typing import Any

from ricalco_client.api import Ricalco

HOOK = {"id": "whk_1", "url": "https://course.example/hooks"}
TOLD = {"id": "msg_1", "state": "failed"}


def test_each_call_asks_its_address(ricalco: Ricalco, service: Any) -> None:
    issued = {"webhook": HOOK, "secret": "whsec_1"}
    for answer in (issued, {"items": [HOOK]}, HOOK, HOOK, issued, {"items": [TOLD]}, TOLD):
        service.answer(answer, 200)
    service.answer(None, 204)
    hooks = ricalco.webhooks
    assert hooks.create(HOOK["url"], ["pack.ready"]) == issued
    assert hooks.every() == [HOOK]
    assert hooks.get("whk_1") == HOOK
    assert hooks.change("whk_1", {"enabled": True}) == HOOK
    assert hooks.rotate_secret("whk_1", overlap_s=60) == issued
    assert list(hooks.deliveries("whk_1")) == [TOLD]
    assert hooks.replay("whk_1", "msg_1") == TOLD
    hooks.delete("whk_1")
    asked = [(one.method, one.url.removeprefix("http://ricalco.test/v1")) for one in service.asked]
    assert asked == [
        ("POST", "/webhooks"),
        ("GET", "/webhooks"),
        ("GET", "/webhooks/whk_1"),
        ("PATCH", "/webhooks/whk_1"),
        ("POST", "/webhooks/whk_1/secrets"),
        ("GET", "/webhooks/whk_1/deliveries"),
        ("POST", "/webhooks/whk_1/deliveries/msg_1/replays"),
        ("DELETE", "/webhooks/whk_1"),
    ]
    assert json.loads(service.bodies[0]) == {"url": HOOK["url"], "events": ["pack.ready"]}
    assert json.loads(service.bodies[4]) == {"overlap_s": 60}
