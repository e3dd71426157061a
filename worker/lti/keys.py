"""Our signing keys: RSA, kept in the ledger, so that all machines sign with the same.

A new one is made when the newest is a season old. The one before stays published, so that a
platform that keeps our key set for hours knows every key that it meets.
"""

from __future__ import annotations

import uuid
from typing import Any

from joserfc import jwt
from joserfc.jwk import RSAKey

from worker.store.ledger import DAY_S, Ledger

#: How long a key signs, and how long it is published (our choice).
SIGNS_S = 90 * DAY_S
PUBLISHED_S = 2 * SIGNS_S
#: Bits (RFC 7518, 3.3 asks for 2048 or more).
BITS = 2048
#: The one algorithm that every platform must take (Security Framework 1.0, 5.1.3).
ALGORITHM = "RS256"


def public_keys(ledger: Ledger) -> dict[str, Any]:
    """Our public keys as a JWK Set (RFC 7517, 5)."""
    _newest(ledger)
    known = [RSAKey.import_key(jwk) for _, jwk, _ in ledger.launches.signing_keys()]
    return {"keys": [one.as_dict(private=False) for one in known]}


def sign(ledger: Ledger, claims: dict[str, Any]) -> str:
    """These claims as a signed JWT (RFC 7519)."""
    key_id, key = _newest(ledger)
    return jwt.encode({"alg": ALGORITHM, "typ": "JWT", "kid": key_id}, claims, key)


def _newest(ledger: Ledger) -> tuple[str, RSAKey]:
    now = ledger.time()
    known = ledger.launches.signing_keys()
    if known and known[0][2] > now - SIGNS_S:
        return known[0][0], RSAKey.import_key(known[0][1])
    key_id = uuid.uuid4().hex
    key = RSAKey.generate_key(BITS, {"kid": key_id, "use": "sig", "alg": ALGORITHM})
    ledger.launches.add_key(key_id, key.as_dict(private=True), now - PUBLISHED_S)
    return key_id, key
