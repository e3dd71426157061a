"""Webhooks are verified as the standard's own package signs and verifies them."""

from __future__ import annotations

import base64
import json
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from standardwebhooks import Webhook

from ricalco_client import Ricalco, WebhookRefused
from ricalco_client.verification import TOLERANCE_S, verify

SECRET = "whsec_" + base64.b64encode(bytes(range(32))).decode()
OTHER = "whsec_" + base64.b64encode(bytes(32)).decode()
NOW = datetime(2026, 3, 2, 9, 30, 5, tzinfo=UTC)
BODY = json.dumps(
    {"type": "pack.ready", "timestamp": "2026-03-02T09:30:00.250Z", "data": {"id": "pck_1"}}
)


def signed(body: str = BODY, at: datetime = NOW, *secrets: str) -> dict[str, str]:
    """Headers, by the package."""
    signatures = [Webhook(one).sign("msg_1", at, body) for one in secrets or (SECRET,)]
    return {
        "Webhook-Id": "msg_1",
        "Webhook-Timestamp": str(int(at.timestamp())),
        "Webhook-Signature": " ".join(signatures),
    }


def test_what_the_package_signed_is_an_event() -> None:
    event = verify(BODY.encode(), signed(), SECRET, now=NOW.timestamp())
    assert (event.message_id, event.type, event.id) == ("msg_1", "pack.ready", "pck_1")
    assert event.at == datetime(2026, 3, 2, 9, 30, 0, 250_000, tzinfo=UTC)
    assert event.document == json.loads(BODY)


def test_the_clock_is_this_machines_where_none_is_given() -> None:
    headers = signed(BODY, datetime.now(UTC))
    assert Ricalco.verify_webhook(BODY, headers, SECRET).id == "pck_1"
    Webhook(SECRET).verify(BODY, headers)


@settings(max_examples=25)
@given(st.text(max_size=60), st.binary(min_size=24, max_size=64))
def test_signatures_are_those_of_the_package(title: str, key: bytes) -> None:
    secret = "whsec_" + base64.b64encode(key).decode()
    body = json.dumps({**json.loads(BODY), "more": title}, ensure_ascii=False)
    headers = signed(body, NOW, secret)
    assert verify(body, headers, secret, now=NOW.timestamp()).id == "pck_1"
    with pytest.raises(WebhookRefused):
        verify(body + " ", headers, secret, now=NOW.timestamp())


def test_while_secrets_overlap_either_is_enough() -> None:
    headers = signed(BODY, NOW, OTHER, SECRET)
    for secret in (SECRET, OTHER):
        assert verify(BODY, headers, secret, now=NOW.timestamp()).id == "pck_1"


FORGED: dict[str, dict[str, str]] = {
    "signed with another secret": signed(BODY, NOW, OTHER),
    "another body": signed(BODY.replace("pck_1", "pck_2")),
    "another id": {**signed(), "Webhook-Id": "msg_2"},
    "another time": {**signed(), "Webhook-Timestamp": str(int(NOW.timestamp()) + 1)},
    "too old": signed(BODY, NOW - timedelta(seconds=TOLERANCE_S + 1)),
    "from the future": signed(BODY, NOW + timedelta(seconds=TOLERANCE_S + 1)),
    "no signature": {**signed(), "Webhook-Signature": ""},
    "no headers": {},
    "another version": {
        **signed(),
        "Webhook-Signature": signed()["Webhook-Signature"].replace("v1,", "v1a,"),
    },
    "nonsense": {**signed(), "Webhook-Signature": "v1,é=== , v1 x"},
    "no time": {**signed(), "Webhook-Timestamp": "NaN"},
}


@pytest.mark.parametrize("what", FORGED)
def test_what_is_forged_or_old_is_refused(what: str) -> None:
    with pytest.raises(WebhookRefused) as refused:
        verify(BODY, FORGED[what], SECRET, now=NOW.timestamp())
    assert refused.value.code == "webhook-refused"


def test_a_signed_body_that_is_none_of_ours_is_refused() -> None:
    for body in ("", "[]", "{}", '{"type": "x"}', "\ufffd"):
        with pytest.raises(WebhookRefused, match="none of Ricalco's"):
            verify(body, signed(body), SECRET, now=NOW.timestamp())


@pytest.mark.parametrize("secret", ["", "whsec_", "whsec_a", "rck_é", "whsec_AAAA"])
def test_what_is_no_secret_proves_nothing(secret: str) -> None:
    with pytest.raises(ValueError, match="copy it whole"):
        verify(BODY, signed(), secret, now=NOW.timestamp())


def test_the_standards_own_vector_is_verified() -> None:
    """From the tests that the project of the standard ships with its libraries."""
    headers = {
        "webhook-id": "msg_p5jXN8AQM9LWM0D4loKWxJek",
        "webhook-timestamp": "1614265330",
        "webhook-signature": "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=",
    }
    secret = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"  # noqa: S105 - published
    # Its signature is right; its body is none of ours.
    with pytest.raises(WebhookRefused, match="none of Ricalco's"):
        verify('{"test": 2432232314}', headers, secret, now=1_614_265_330.0)
    with pytest.raises(WebhookRefused, match="with this secret"):
        verify('{"test": 2432232315}', headers, secret, now=1_614_265_330.0)
