"""Counting wrong join codes, so that a short code is worth as much as a long one.

A whole class stands behind one address, and everybody in it mistypes: so nobody waits for
what others at their address have tried. What is counted, and against what:

* **By code.** A code that was found wrong a moment ago teaches nobody anything when it comes
  again, as from thirty phones that read the same board: it counts once.
* **By device.** A browser gets a mark (a cookie) with its first wrong code. From the sixth
  different one on it waits, 1 s, then twice as long each time, up to about a minute.
* **In all.** Who throws the mark away looks like somebody new each time, so this is what
  keeps forty bits unguessable: in t seconds at most `2 * (BURST + RATE_PER_S * t)` different
  wrong codes are looked up, wherever they come from. There are 2^40 codes, and each of the
  ledger's c classes has one (also where joining is closed, since the answer tells so). With
  a hundred classes, a year of guessing without a pause finds one with a chance of
  100 * 2 * (65,536 + 31,557,600) / 2^40 = 0.6 %; one class, in an hour, with
  2 * (65,536 + 3,600) / 2^40 = 0.00001 %. A school mistypes some hundreds in a day.

Half of the last bound is kept for addresses from which few different wrong codes came, so
that whoever floods the service from a few places stops nobody elsewhere. Somebody who has
tried nothing wrong is therefore always looked at, until 65,536 different wrong codes have
come from their own address, or from hundreds of addresses at once, in one flood; then they
come in between the others, one a second. No right code can be let past that bound: whoever
guesses would be let past it too.

All of it is held in this process's memory: each of several web processes counts for itself,
and the bound holds for each of them.
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

from service.http.errors import TooManyTries
from worker.store.ledger import read_code
from worker.store.ledger.people.secrets import CODE_LETTERS, LETTERS

#: Different wrong codes that are looked up at once, and then in a second, in each half.
BURST = 2**16
RATE_PER_S = 1.0
#: Different wrong codes that a device may try before it waits, and the longest wait.
FREE = 5
LONGEST_S = 64.0
#: An address counts among those with few so long as it has had no more lately: a class of
#: thirty, each mistyping ten times.
FEW = 300
#: For so long a device and an address are remembered after their last wrong code.
REMEMBERED_S = 600.0
#: How many devices, addresses and wrong codes are remembered; the oldest are forgotten first.
MOST = 10_000


@dataclass
class _Count:
    """How many different wrong codes came, when the last did, and until when to wait."""

    wrong: int = 0
    at_s: float = 0.0
    until_s: float = 0.0


class Bucket:
    """Lets through `BURST` at once and `RATE_PER_S` after that (a token bucket)."""

    def __init__(self, now_s: float) -> None:
        self._left, self._at_s = float(BURST), now_s

    def wait_s(self, now_s: float) -> float:
        """How long until the next is let through; 0: now."""
        self._left = min(BURST, self._left + (now_s - self._at_s) * RATE_PER_S)
        self._at_s = now_s
        return max(0.0, (1.0 - self._left) / RATE_PER_S)

    def take(self) -> None:
        """One was let through; several at the same moment are owed afterwards."""
        self._left -= 1.0


class FailedAttempts:
    """Wrong codes by code, device and address; safe to use from several threads."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = Lock()
        self._codes: OrderedDict[str, _Count] = OrderedDict()
        self._devices: OrderedDict[str, _Count] = OrderedDict()
        self._places: OrderedDict[str, _Count] = OrderedDict()
        self._few, self._many = Bucket(clock()), Bucket(clock())

    def check(self, code: str, device: str | None, address: str) -> None:
        """See that a code may be looked up.

        Args:
            code: As somebody typed it.
            device: The mark that came, if any.
            address: Where it came from.

        Raises:
            TooManyTries: This device, or everybody, has to wait first.
        """
        with self._lock:
            now = self._clock()
            held = self._lately(self._devices, device or "", now)
            wait_s = max(0.0, held.until_s - now) if held else 0.0
            if not wait_s and self._is_guess(code, now):
                wait_s = self._bucket(address, now).wait_s(now)
        if wait_s:
            message = "Too many wrong codes were tried: wait a moment, then read the code again."
            raise TooManyTries(message, retry_after_s=math.ceil(wait_s))

    def count(self, code: str, device: str | None, address: str) -> tuple[str, int]:
        """Remember that a code was wrong.

        Returns:
            The device's mark, which is new for one that had none, and how many different
            wrong codes came from it.
        """
        with self._lock:
            now = self._clock()
            held = self._lately(self._devices, device or "", now)
            if device is None or held is None:
                device, held = secrets.token_urlsafe(16), _Count()
            if self._is_guess(code, now):
                self._bucket(address, now).take()
                _note(self._places, _place(address), now)
                _note(self._codes, read_code(code), now)
                held.wrong += 1
                beyond = held.wrong - FREE
                held.until_s = now + min(LONGEST_S, 2.0 ** (beyond - 1)) if beyond > 0 else now
            held.at_s = now
            _keep(self._devices, device, held)
            return device, held.wrong

    def _is_guess(self, code: str, now: float) -> bool:
        """Whether looking it up could tell anything: it can be a code, and no known wrong one."""
        read = read_code(code)
        possible = len(read) == CODE_LETTERS and set(read) <= set(LETTERS)
        return possible and self._lately(self._codes, read, now) is None

    def _bucket(self, address: str, now: float) -> Bucket:
        count = self._lately(self._places, _place(address), now)
        return self._many if count and count.wrong >= FEW else self._few

    def _lately(self, among: OrderedDict[str, _Count], key: str, now: float) -> _Count | None:
        found = among.get(key)
        return found if found and now - found.at_s < REMEMBERED_S else None


def _note(among: OrderedDict[str, _Count], key: str, now: float) -> None:
    found = among.get(key)
    if found is None or now - found.at_s >= REMEMBERED_S:
        found = _Count()
    found.wrong, found.at_s = found.wrong + 1, now
    _keep(among, key, found)


def _keep(among: OrderedDict[str, _Count], key: str, count: _Count) -> None:
    among[key] = count
    among.move_to_end(key)
    while len(among) > MOST:
        among.popitem(last=False)


def _place(address: str) -> str:
    """An address as one place: of IPv6 the network, whose 2^64 addresses are one customer's."""
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return address
    if isinstance(found, ipaddress.IPv4Address):
        return address
    return str(ipaddress.ip_network((found, 64), strict=False))
