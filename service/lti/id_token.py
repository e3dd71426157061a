"""Checks a launch's ID token: Security Framework 1.0, 5.1.3, and LTI 1.3 Core, 5.3.

Nothing in it is believed before its signature is checked with a key of the platform at which the
login began. Each refusal says what is wrong, for the operator who sets a platform up.
"""

from __future__ import annotations

import hmac
import math
import time
from typing import Any, Final

from joserfc import jws, jwt
from joserfc.errors import JoseError

from service.http.errors import LaunchRefused, RequestInvalid
from service.http.requests.unicode import check_json
from service.lti import names
from service.lti.platform_keys import TYPES, PlatformKeys
from worker.store.ledger import LoginRow, PlatformRow
from worker.store.ledger.people.credentials import key_hash

#: Seconds by which the clocks of platform and service may differ (our choice).
SKEW_S: Final = 60.0
#: Seconds after which a token is too old, whatever it says of its end (our choice).
OLDEST_S: Final = 600.0
MOST_BYTES: Final = 64_000
#: LTI 1.3 Core, 5.3.3, 5.3.6 and 5.4.1: ids have up to 255 ASCII characters.
MOST_LETTERS: Final = 255
Claims = dict[str, Any]


def check_token(token: str, platform: PlatformRow, login: LoginRow, keys: PlatformKeys) -> Claims:
    """The claims of a token that is this platform's, for this login.

    Raises:
        LaunchRefused: Something is wrong with it.
        PlatformUnreachable: The platform's keys cannot be fetched.
    """
    claims = _signed(token, platform, keys)
    try:
        check_json(claims)
    except (RequestInvalid, RecursionError) as error:
        raise LaunchRefused("The launch has text in it that is none.") from error
    _check_parties(claims, platform)
    _check_times(claims, time.time())
    nonce = claims.get("nonce")
    if not isinstance(nonce, str) or not hmac.compare_digest(key_hash(nonce), login.nonce):
        raise LaunchRefused("The launch has another nonce than the login that it ends.")
    _check_message(claims, platform, login)
    return claims


def _signed(token: str, platform: PlatformRow, keys: PlatformKeys) -> Claims:
    """The claims, once the signature is checked (5.1.3, steps 1, 6 and 7)."""
    refused = LaunchRefused("The launch's token cannot be read, or is not signed by the platform.")
    if len(token) > MOST_BYTES:
        raise refused
    try:
        header = jws.extract_compact(token.encode()).headers()
    except (JoseError, ValueError, TypeError, RecursionError) as error:
        raise refused from error
    algorithm, key_id = header.get("alg"), header.get("kid")
    if algorithm not in TYPES:
        raise LaunchRefused("Launches are signed with RS256 or ES256, and with nothing else.")
    if not isinstance(key_id, str) or "crit" in header:
        raise LaunchRefused("The launch's token does not say with which key it is signed.")
    key = keys.find(platform.jwks_url, key_id, algorithm)
    try:
        claims = jwt.decode(token, key, algorithms=[algorithm]).claims
    except (JoseError, ValueError, TypeError, RecursionError) as error:
        raise refused from error
    return claims


def _check_parties(claims: Claims, platform: PlatformRow) -> None:
    """5.1.3, steps 2 to 5: who issued it, and for whom."""
    if claims.get("iss") != platform.issuer:
        raise LaunchRefused("The launch is from another platform than its login.")
    audience = claims.get("aud")
    audience = [audience] if isinstance(audience, str) else audience
    if not isinstance(audience, list) or platform.client_id not in audience:
        raise LaunchRefused("The launch is for another tool: its aud is not our client id.")
    party = claims.get("azp")
    if party != platform.client_id and (party is not None or len(audience) > 1):
        raise LaunchRefused("The launch is for another tool: its azp is not our client id.")


def _check_times(claims: Claims, now: float) -> None:
    """5.1.3, steps 8 and 9: when it was issued, and until when it holds."""
    times = [claims.get("iat"), claims.get("exp")]
    if not all(_is_time(one) for one in times):
        raise LaunchRefused("The launch does not say when it was issued, and when it ends.")
    issued, ends = (float(one) for one in times if one is not None)
    before = claims.get("nbf", issued)
    if issued > now + SKEW_S or not _is_time(before) or before > now + SKEW_S:
        raise LaunchRefused("The launch is from the future: compare the clocks of both servers.")
    if ends <= now - SKEW_S or issued < now - OLDEST_S:
        raise LaunchRefused("The launch is over: open it again in the course.", reason="over")


def _is_time(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _check_message(claims: Claims, platform: PlatformRow, login: LoginRow) -> None:
    """LTI 1.3 Core, 5.3: what every message must have."""
    if claims.get(names.VERSION) != names.LTI_VERSION:
        raise LaunchRefused("The launch is no message of LTI 1.3.")
    if claims.get(names.DEPLOYMENT) not in platform.deployment_ids:
        raise LaunchRefused("The launch is from a deployment that is not registered here.")
    if claims.get(names.TARGET) != login.target_link_uri:
        raise LaunchRefused("The launch leads elsewhere than its login: target_link_uri differs.")
    if not is_id(claims.get("sub")):
        raise LaunchRefused("The launch does not say who comes: anonymous launches are not taken.")


def is_id(value: Any) -> bool:
    """Whether this is an id of LTI: up to 255 printable ASCII characters."""
    fits = isinstance(value, str) and 0 < len(value) <= MOST_LETTERS
    return fits and value.isascii() and value.isprintable()
