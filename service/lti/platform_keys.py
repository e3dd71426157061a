"""The public keys of platforms, kept for an hour, and fetched anew when one is not among them.

Whoever sends tokens with invented key ids makes us ask the platform at most once in half a minute,
and by one request at a time, whether it answers or not. Who waits for it holds no slot.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from threading import BoundedSemaphore, Lock
from typing import Any

from joserfc import jwk
from joserfc.errors import JoseError
from joserfc.jwk import ECKey, RSAKey

from service.http.errors import LaunchRefused
from service.serving.dispatcher import slot_released
from worker.errors import PlatformUnreachable
from worker.lti.fetch import Fetcher

#: Seconds for which a key set is used without asking (our choice), and between two requests.
KEPT_S = 3600.0
PAUSE_S = 30.0
#: Seconds after which it is not used, though the platform does not answer: a key that a platform
#: has withdrawn must not sign launches for as long as its server can be kept from us (our choice).
LONGEST_S = 2 * KEPT_S
#: Most launches that wait for one answer, each in a thread of this process (our choice).
MOST_WAITING = 16
#: Most keys that are looked at; a platform publishes two or three.
MOST_KEYS = 50
#: The key type that belongs to each algorithm that is taken (RFC 7518, 3.1).
TYPES = {"RS256": "RSA", "ES256": "EC"}
LEAST_BITS = 2048
PlatformKey = RSAKey | ECKey


@dataclass
class _KeySet:
    """What one address publishes.

    Attributes:
        fetched_s: When it was fetched, by the clock of `PlatformKeys`.
        asked_s: When a request was last begun, whatever came of it.
        fault: Why the last request that failed did.
        asking: Held by the one request that is under way.
        waiting: Held by those who wait for it.
    """

    keys: list[dict[str, Any]] = field(default_factory=list)
    fetched_s: float = float("-inf")
    asked_s: float = float("-inf")
    fault: str = ""
    asking: Lock = field(default_factory=Lock)
    waiting: BoundedSemaphore = field(default_factory=lambda: BoundedSemaphore(MOST_WAITING))


class PlatformKeys:
    """Key sets by address; safe to use from several threads."""

    def __init__(self, fetcher: Fetcher, clock: Callable[[], float] = time.monotonic) -> None:
        self._fetcher = fetcher
        self._clock = clock
        self._lock = Lock()
        self._kept: dict[str, _KeySet] = {}

    def find(self, url: str, key_id: str, algorithm: str) -> PlatformKey:
        """The platform's key of this id, for this algorithm.

        Raises:
            LaunchRefused: It publishes no such key.
            PlatformUnreachable: Its keys cannot be fetched, or could not a moment ago.
        """
        # A set that names the key does until `LONGEST_S`; one that does not must be new.
        for oldest_s, longest_s in ((KEPT_S, LONGEST_S), (PAUSE_S, PAUSE_S)):
            found = self._keys(url, oldest_s, longest_s)
            named = [one for one in found if one.get("kid") == key_id]
            if len(named) == 1:
                return _read(named[0], algorithm)
            if named:
                break
        raise LaunchRefused("The launch is signed with a key that the platform does not publish.")

    def _keys(self, url: str, oldest_s: float, longest_s: float) -> list[dict[str, Any]]:
        """Keys that are younger than `oldest_s`; if they cannot be had, than `longest_s`."""
        with self._lock:
            kept = self._kept.setdefault(url, _KeySet())
        if self._is_younger(kept, oldest_s):
            return kept.keys
        if self._is_younger(kept, longest_s):
            self._renew(url, kept, oldest_s, wait=False)
            return kept.keys
        if not kept.waiting.acquire(blocking=False):
            raise PlatformUnreachable("Many launches wait for the platform's keys: try again soon.")
        try:
            self._renew(url, kept, oldest_s, wait=True)
        finally:
            kept.waiting.release()
        if not self._is_younger(kept, longest_s):
            raise PlatformUnreachable(kept.fault)
        return kept.keys

    def _renew(self, url: str, kept: _KeySet, oldest_s: float, *, wait: bool) -> None:
        """Fetch a set, unless another request just did or tried to; `wait` for one under way."""
        with slot_released():
            if not kept.asking.acquire(blocking=wait):
                return
            try:
                self._ask(url, kept, oldest_s)
            finally:
                kept.asking.release()

    def _ask(self, url: str, kept: _KeySet, oldest_s: float) -> None:
        paused = self._clock() - kept.asked_s < PAUSE_S
        if paused or self._is_younger(kept, oldest_s):
            return
        kept.asked_s = self._clock()
        try:
            kept.keys = _fetch(self._fetcher, url)
            kept.fetched_s = self._clock()
        except PlatformUnreachable as error:
            kept.fault = error.detail

    def _is_younger(self, kept: _KeySet, than_s: float) -> bool:
        return self._clock() - kept.fetched_s < than_s


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
