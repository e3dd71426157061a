"""Access tokens of platforms: Security Framework 1.0, 4.1.1 (client credentials, signed by us)."""

from __future__ import annotations

import time
import uuid
from typing import Final
from urllib.parse import urlencode

from worker.errors import PlatformUnreachable
from worker.lti.fetch import Fetcher
from worker.lti.keys import sign
from worker.store.ledger import Ledger, PlatformRow

#: RFC 7523, 2.2.
ASSERTION: Final = "urn:ietf:params:oauth:client-assertion-type:jwt-bearer"
#: Seconds for which our assertion holds (our choice).
ASSERTION_S: Final = 300
_FORM: Final = "application/x-www-form-urlencoded"


def access_token(ledger: Ledger, fetcher: Fetcher, platform: PlatformRow, scope: str) -> str:
    """A token for one scope of a platform.

    Raises:
        PlatformUnreachable: It gives none.
    """
    now = int(time.time())
    claims = {
        "iss": platform.client_id,
        "sub": platform.client_id,
        "aud": platform.token_url,
        "iat": now,
        "exp": now + ASSERTION_S,
        "jti": uuid.uuid4().hex,
    }
    asked = {
        "grant_type": "client_credentials",
        "client_assertion_type": ASSERTION,
        "client_assertion": sign(ledger, claims),
        "scope": scope,
    }
    headers = {"Content-Type": _FORM, "Accept": "application/json"}
    body = urlencode(asked).encode()
    reply = fetcher.send("POST", platform.token_url, headers=headers, body=body)
    found = reply.json() if reply.status == 200 else None  # noqa: PLR2004 -- OK.
    token = found.get("access_token") if isinstance(found, dict) else None
    if not isinstance(token, str) or not token.isascii() or not token.isprintable():
        raise PlatformUnreachable("The platform gives no access token: is its scope allowed there?")
    return token
