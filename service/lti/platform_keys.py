"""The public keys of platforms, kept for an hour, and fetched anew when one is not among them.

Whoever sends a token with an invented key id makes us ask the platform at most once in half a
minute.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from threading import Lock
from typing import Any

from joserfc import jwk
from joserfc.errors import JoseError
from joserfc.jwk import ECKey, RSAKey

from service.http.errors import LaunchRefused
from worker.errors import PlatformUnreachable
from worker.lti.fetch import Fetcher

#: Seconds for which a key set is used without asking (our choice), and between two requests.
KEPT_S = 3600.0
PAUSE_S = 30.0
#: Most keys that are looked at; a platform publishes two or three.
MOST_KEYS = 50
#: The key type that belongs to each algorithm that is taken (RFC 7518, 3.1).
TYPES = {"RS256": "RSA", "ES256": "EC"}
LEAST_BITS = 2048
PlatformKey = RSAKey | ECKey


class PlatformKeys:
    """Key sets by address; safe to use from several threads."""

    def __init__(self, fetcher: Fetcher, clock: Callable[[], float] = time.monotonic) -> None:
        self._fetcher = fetcher
        self._clock = clock
        self._lock = Lock()
        self._kept: dict[str, tuple[float, list[dict[str, Any]]]] = {}

    def find(self, url: str, key_id: str, algorithm: str) -> PlatformKey:
        """The platform's key of this id, for this algorithm.

        Raises:
            LaunchRefused: It publishes no such key.
            PlatformUnreachable: Its keys cannot be fetched.
        """
        for oldest_s in (KEPT_S, PAUSE_S):
            named = [one for one in self._keys(url, oldest_s) if one.get("kid") == key_id]
            if len(named) == 1:
                return _read(named[0], algorithm)
            if named:
                break
        raise LaunchRefused("The launch is signed with a key that the platform does not publish.")

    def _keys(self, url: str, oldest_s: float) -> list[dict[str, Any]]:
        with self._lock:
            at_s, keys = self._kept.get(url, (float("-inf"), []))
            if self._clock() - at_s < oldest_s:
                return keys
            # Noted before, so that a platform that is down is not asked by every launch.
            self._kept[url] = (self._clock() if keys else at_s, keys)
        fetched = _fetch(self._fetcher, url)
        with self._lock:
            self._kept[url] = (self._clock(), fetched)
        return fetched


def _fetch(fetcher: Fetcher, url: str) -> list[dict[str, Any]]:
    answer = fetcher.send("GET", url, headers={"Accept": "application/json"})
    found = answer.json() if answer.status == 200 else None  # noqa: PLR2004 -- OK.
    keys = found.get("keys") if isinstance(found, dict) else None
    if not isinstance(keys, list):
        raise PlatformUnreachable("The platform does not publish its keys where it says.")
    return [one for one in keys[:MOST_KEYS] if isinstance(one, dict)]


def _read(published: dict[str, Any], algorithm: str) -> PlatformKey:
    """The key, if it is one to check signatures of this algorithm with."""
    wrong = LaunchRefused("The key of the launch is not one for its algorithm.")
    fits = published.get("kty") == TYPES[algorithm]
    fits &= published.get("use", "sig") == "sig"
    # ES256 is taken only where the platform publishes a key that says so.
    fits &= published.get("alg", "RS256") == algorithm
    if fits and algorithm == "RS256":
        # The library warns of a short key, and takes it. A modulus is in base 64 (RFC 7518, 6.3.1).
        fits &= len(str(published.get("n", ""))) * 6 >= LEAST_BITS
    if not fits:
        raise wrong
    try:
        key = jwk.import_key({**published, "alg": algorithm})
        if isinstance(key, RSAKey) and key.raw_value.key_size >= LEAST_BITS:
            return key
        if isinstance(key, ECKey) and key.curve_name == "P-256":
            return key
    except (JoseError, ValueError, TypeError) as error:
        raise wrong from error
    raise wrong
