"""Rate limits on wrong join codes, so that a short code cannot be guessed.

A whole class shares one network address, and everybody mistypes: so failed attempts of one
device do not delay others at the same address. Attempts are counted in three ways:

* **By code.** A code that was just found wrong gives a guesser no information when it is
  tried again, as by thirty phones that read the same board: it counts once.
* **By device.** A browser gets an id (a cookie) with its first wrong code. From the sixth
  different one on it waits 1 s, then twice as long each time, up to about a minute.
* **In all.** A client that drops the cookie looks new each time, so only this limit protects
  a code of forty bits: in t seconds at most `2 * (BURST + RATE_PER_S * t)` different
  wrong codes are looked up, wherever they come from. There are 2^40 codes, and each of the
  ledger's c classes has one (also a class that nobody can join, since the error says so). With
  a hundred classes, a year of guessing without a pause finds one with a chance of
  100 * 2 * (65,536 + 31,557,600) / 2^40 = 0.6 %; one class, in an hour, with
  2 * (65,536 + 3,600) / 2^40 = 0.00001 %. A school mistypes some hundreds in a day.

Half of the last limit is reserved for addresses with few different wrong codes, so that a
flood from a few places does not block others. A person without a failed attempt is therefore
always served, until 65,536 different wrong codes have come from their own address, or from
hundreds of addresses at once, in one flood; then they compete with the others for one attempt
a second. Right codes are not exempt: then a guesser's right code would be exempt too.

The counts are in this process's memory: with several web processes each has its own, and the
limit holds for each of them.
"""

from __future__ import annotations

import ipaddress
import math
import secrets
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from threading import Lock

from service.http.answers.rate_limits import Allowance
from service.http.errors import TooManyTries
from worker.store.ledger import read_code
from worker.store.ledger.people.credentials import CODE_LETTERS, LETTERS

#: Size and refill rate of the token bucket of each half, in different wrong codes.
BURST = 2**16
RATE_PER_S = 1.0
#: Different wrong codes that a device may try without waiting, and the longest wait.
FREE = 5
LONGEST_S = 64.0
#: Up to this many recent wrong codes an address belongs to the half with few: thirty students
#: who each mistype ten times.
FEW = 300
#: How long devices and addresses are remembered after their last wrong code.
REMEMBERED_S = 600.0
#: How many devices, addresses and codes are remembered, each; the oldest go first.
MOST = 10_000


@dataclass
class _Count:
    """The number of different wrong codes, the time of the last, and until when to wait."""

    wrong: int = 0
    at_s: float = 0.0
    until_s: float = 0.0


class Bucket:
    """A token bucket of size `BURST`, refilled by `RATE_PER_S`."""

    def __init__(self, now_s: float) -> None:
        self._left, self._at_s = float(BURST), now_s

    def wait_s(self, now_s: float) -> float:
        """Seconds until the next token; 0: there is one now."""
        self._left = min(BURST, self._left + (now_s - self._at_s) * RATE_PER_S)
        self._at_s = now_s
        return max(0.0, (1.0 - self._left) / RATE_PER_S)

    def left(self, now_s: float) -> int:
        """How many tokens there are."""
        self.wait_s(now_s)
        return max(0, math.floor(self._left))

    def take(self) -> None:
        """Take a token; may go below 0 when several requests take one at the same moment."""
        self._left -= 1.0


class FailedAttempts:
    """Wrong codes by code, device and address; safe to use from several threads."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = Lock()
        self._codes: OrderedDict[str, _Count] = OrderedDict()
        self._devices: OrderedDict[str, _Count] = OrderedDict()
        self._networks: OrderedDict[str, _Count] = OrderedDict()
        self._few, self._many = Bucket(clock()), Bucket(clock())

    def check(self, code: str, device: str | None, address: str) -> None:
        """Check that a code may be looked up now.

        Args:
            code: The code as it was typed.
            device: The device's id, where it has one.
            address: The network address of the client.

        Raises:
            TooManyTries: This device, or everybody, has to wait first.
        """
        with self._lock:
            now = self._clock()
            by_device = self._recent(self._devices, device or "", now)
            wait_s = max(0.0, by_device.until_s - now) if by_device else 0.0
            if not wait_s and self._is_guess(code, now):
                wait_s = self._bucket(address, now).wait_s(now)
        if wait_s:
            message = "Too many wrong codes were tried: wait a moment, then read the code again."
            raise TooManyTries(message, retry_after_s=math.ceil(wait_s))

    def count(self, code: str, device: str | None, address: str) -> tuple[str, int]:
        """Count a wrong code.

        Returns:
            The device's id, which is new for one that had none, and how many different
            wrong codes it has tried.
        """
        with self._lock:
            now = self._clock()
            by_device = self._recent(self._devices, device or "", now)
            if device is None or by_device is None:
                device, by_device = secrets.token_urlsafe(16), _Count()
            if self._is_guess(code, now):
                self._bucket(address, now).take()
                _note(self._networks, _network(address), now)
                _note(self._codes, read_code(code), now)
                by_device.wrong += 1
                beyond = by_device.wrong - FREE
                by_device.until_s = now + min(LONGEST_S, 2.0 ** (beyond - 1)) if beyond > 0 else now
            by_device.at_s = now
            _keep(self._devices, device, by_device)
            return device, by_device.wrong

    def allowances(self, device: str | None, address: str) -> tuple[Allowance, Allowance]:
        """What is left of both limits: this device's, and that on all together."""
        with self._lock:
            now = self._clock()
            known = self._recent(self._devices, device or "", now) or _Count(at_s=now)
            wait_s = max(0.0, known.until_s - now)
            forgotten_s = REMEMBERED_S - (now - known.at_s) if known.wrong else 0.0
            bucket = self._bucket(address, now)
            in_all, bucket_wait_s = bucket.left(now), bucket.wait_s(now)
        own = Allowance(
            name="wrong-codes-of-device",
            quota=FREE,
            window_s=round(REMEMBERED_S),
            left=0 if wait_s else max(1, FREE - known.wrong),
            more_in_s=math.ceil(wait_s or forgotten_s) or None,
        )
        everybody = Allowance(
            name="wrong-codes",
            quota=BURST,
            window_s=round(BURST / RATE_PER_S),
            left=in_all,
            more_in_s=math.ceil(bucket_wait_s) or None,
        )
        return own, everybody

    def _is_guess(self, code: str, now: float) -> bool:
        """Whether looking it up gives information: it is well formed and not known to be wrong."""
        read = read_code(code)
        possible = len(read) == CODE_LETTERS and set(read) <= set(LETTERS)
        return possible and self._recent(self._codes, read, now) is None

    def _bucket(self, address: str, now: float) -> Bucket:
        count = self._recent(self._networks, _network(address), now)
        return self._many if count and count.wrong >= FEW else self._few

    def _recent(self, counts: OrderedDict[str, _Count], key: str, now: float) -> _Count | None:
        found = counts.get(key)
        return found if found and now - found.at_s < REMEMBERED_S else None


def _note(counts: OrderedDict[str, _Count], key: str, now: float) -> None:
    found = counts.get(key)
    if found is None or now - found.at_s >= REMEMBERED_S:
        found = _Count()
    found.wrong, found.at_s = found.wrong + 1, now
    _keep(counts, key, found)


def _keep(counts: OrderedDict[str, _Count], key: str, count: _Count) -> None:
    counts[key] = count
    counts.move_to_end(key)
    while len(counts) > MOST:
        counts.popitem(last=False)


def _network(address: str) -> str:
    """The address that is counted: for IPv6 the /64 network, which one household has."""
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return address
    if isinstance(found, ipaddress.IPv4Address):
        return address
    return str(ipaddress.ip_network((found, 64), strict=False))
