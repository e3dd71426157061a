"""Verifying webhooks by Standard Webhooks 1.0.0, with the standard library alone.

The signature is an HMAC-SHA256 over id, time and body, so a request that somebody else made up,
or sends again later, is refused. https://github.com/standard-webhooks/standard-webhooks says how
it is computed; the tests compare it with the package of that project.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import hmac
import json
import time
from collections.abc import Mapping
from datetime import datetime

from .errors import WebhookRefused
from .values import WebhookEvent

#: How far the time of a request may be from this machine's clock, in s.
TOLERANCE_S = 300
_PREFIX = "whsec_"
#: Bytes of a secret that may be trusted: the standard's own bounds are 24 and 64.
_LEAST_BYTES = 16


def verify(
    payload: bytes | str, headers: Mapping[str, str], secret: str, *, now: float | None = None
) -> WebhookEvent:
    """The event of a request that was signed with this secret.

    Args:
        payload: The body as it came, before anything has read it as JSON.
        headers: Of the request; capitals do not matter.
        secret: As it was shown once, `whsec_` and base 64.
        now: Seconds since 1970; None: this machine's clock.

    Raises:
        WebhookRefused: It is not signed with this secret, too old, or not whole.
        ValueError: The secret is none.
    """
    key = _key(secret)
    body = payload.encode() if isinstance(payload, str) else bytes(payload)
    given = {name.lower(): value for name, value in headers.items()}
    names = ("webhook-id", "webhook-timestamp", "webhook-signature")
    id_, sent_at, signatures = (given.get(name, "") for name in names)
    if not (id_ and sent_at and signatures):
        raise WebhookRefused(f"The request has not all of the headers {', '.join(names)}.")
    _check_time(sent_at, time.time() if now is None else now)
    signed = f"{id_}.{sent_at}.".encode() + body
    if not _any_matches(hmac.digest(key, signed, hashlib.sha256), signatures):
        raise WebhookRefused("No signature of the request was made with this secret.")
    return _event(id_, body)


def _key(secret: str) -> bytes:
    coded = secret.removeprefix(_PREFIX)
    try:
        key = base64.b64decode(coded + "=" * (-len(coded) % 4), validate=True)
    except (binascii.Error, ValueError) as error:
        raise ValueError("The secret is not base 64: copy it whole, with whsec_.") from error
    if len(key) < _LEAST_BYTES:
        raise ValueError("The secret is too short to prove anything: copy it whole.")
    return key


def _check_time(sent_at: str, now: float) -> None:
    if not (sent_at.isascii() and sent_at.isdigit()) or abs(int(sent_at) - now) > TOLERANCE_S:
        message = "The request is too old, or its time is wrong: is this machine's clock right?"
        raise WebhookRefused(message)


def _any_matches(expected: bytes, signatures: str) -> bool:
    """Whether one of the signatures is the expected one, compared in constant time each."""
    coded = "v1," + base64.b64encode(expected).decode()
    found = [hmac.compare_digest(one.encode(), coded.encode()) for one in signatures.split(" ")]
    return any(found)


def _event(id_: str, body: bytes) -> WebhookEvent:
    """What a body says, whose signature is right."""
    try:
        document = json.loads(body)
        return WebhookEvent(
            message_id=id_,
            type=str(document["type"]),
            id=str(document["data"]["id"]),
            at=datetime.fromisoformat(document["timestamp"]),
            document=document,
        )
    except (ValueError, KeyError, TypeError) as error:
        raise WebhookRefused("The body is none of Ricalco's webhooks.") from error
