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

All web processes count together (`service.runtime.limits.tallies`), so the limit holds for the
service.
"""

from __future__ import annotations

import ipaddress
import math
import secrets
from dataclasses import dataclass

from service.http.answers.rate_limits import Allowance
from service.http.errors import TooManyTries
from service.runtime.limits.tallies import MemoryTallies, Name, Tallies, Tally, left
from service.runtime.limits.tallies.protocol import Found
from worker.spec.short_codes import CODE_LETTERS, LETTERS, read_code

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


@dataclass(frozen=True, kw_only=True)
class _Try:
    """Somebody's try of a code: what is counted, and what is known of it.

    Attributes:
        code, device, network: The names of their counts.
        possible: Whether the code is well formed.
    """

    code: Name
    device: Name
    network: Name
    possible: bool

    @property
    def names(self) -> list[Name]:
        """All counts that it concerns."""
        return [self.code, self.device, self.network, _FEW, _MANY]

    def is_guess(self, found: Found) -> bool:
        """Whether looking it up gives information: it is not known to be wrong."""
        return self.possible and self.code not in found

    def bucket(self, found: Found) -> Name:
        """The half of the limit on all that this address belongs to."""
        known = found.get(self.network)
        return _MANY if known and known.amount >= FEW else _FEW


_FEW: Name = ("wrong-codes", "few")
_MANY: Name = ("wrong-codes", "many")


class FailedAttempts:
    """Wrong codes by code, device and address; safe to use from several threads.

    Args:
        tallies: Where they are counted; None: in this process.
    """

    def __init__(self, tallies: Tallies | None = None) -> None:
        self._tallies = tallies or MemoryTallies()

    def check(self, code: str, device: str | None, address: str) -> None:
        """Check that a code may be looked up now.

        Args:
            code: The code as it was typed.
            device: The device's id, where it has one.
            address: The network address of the client.

        Raises:
            TooManyTries: This device, or everybody, has to wait first.
        """
        tried = _tried(code, device, address)

        def look(now: float, found: Found) -> tuple[float, Found]:
            wait_s = _device_wait_s(found.get(tried.device), now)
            if not wait_s and tried.is_guess(found):
                wait_s = _bucket_wait_s(found.get(tried.bucket(found)), now)
            return wait_s, {}

        if wait_s := self._tallies.change(tried.names, look):
            message = "Too many wrong codes were tried: wait a moment, then read the code again."
            raise TooManyTries(message, retry_after_s=math.ceil(wait_s))

    def count(self, code: str, device: str | None, address: str) -> tuple[str, int]:
        """Count a wrong code.

        Returns:
            The device's id, which is new for one that had none, and how many different
            wrong codes it has tried.
        """
        tried, new = _tried(code, device, address), secrets.token_urlsafe(16)

        def write(now: float, found: Found) -> tuple[tuple[str, int], Found]:
            known = found.get(tried.device)
            mine = device if device is not None and known is not None else new
            wrong = int(known.amount) if known is not None else 0
            until_s = known.until_s if known is not None else 0.0
            changed: dict[Name, Tally] = {}
            if tried.is_guess(found):
                bucket, network = tried.bucket(found), found.get(tried.network)
                changed[bucket] = Tally(
                    amount=left(found.get(bucket), BURST, RATE_PER_S, now) - 1.0,
                    at_s=now,
                    keep_s=2 * BURST / RATE_PER_S,
                )
                before = network.amount if network is not None else 0.0
                changed[tried.network] = _count(before + 1.0, now)
                changed[tried.code] = _count(1.0, now)
                wrong += 1
                beyond = wrong - FREE
                until_s = now + min(LONGEST_S, 2.0 ** (beyond - 1)) if beyond > 0 else now
            changed["device", mine] = _count(float(wrong), now, until_s)
            return (mine, wrong), changed

        return self._tallies.change(tried.names, write)

    def allowances(self, device: str | None, address: str) -> tuple[Allowance, Allowance]:
        """What is left of both limits: this device's, and that on all together."""
        tried = _tried("", device, address)

        def look(now: float, found: Found) -> tuple[tuple[Allowance, Allowance], Found]:
            own = _own_allowance(found.get(tried.device), now)
            return (own, _common_allowance(found.get(tried.bucket(found)), now)), {}

        return self._tallies.change(tried.names, look)


def _tried(code: str, device: str | None, address: str) -> _Try:
    read = read_code(code)
    return _Try(
        code=("code", read),
        device=("device", device or ""),
        network=("network", _network(address)),
        possible=len(read) == CODE_LETTERS and set(read) <= set(LETTERS),
    )


def _count(amount: float, now: float, until_s: float = 0.0) -> Tally:
    return Tally(amount=amount, at_s=now, until_s=until_s, keep_s=REMEMBERED_S)


def _device_wait_s(known: Tally | None, now: float) -> float:
    """How long a device has to wait; a clock that was set back makes it no longer."""
    return min(LONGEST_S, max(0.0, known.until_s - now)) if known is not None else 0.0


def _bucket_wait_s(bucket: Tally | None, now: float) -> float:
    """Seconds until the next token of a half; 0: there is one now."""
    return max(0.0, (1.0 - left(bucket, BURST, RATE_PER_S, now)) / RATE_PER_S)


def _own_allowance(known: Tally | None, now: float) -> Allowance:
    wait_s, wrong = _device_wait_s(known, now), int(known.amount) if known is not None else 0
    forgotten_s = REMEMBERED_S - (now - known.at_s) if known is not None and wrong else 0.0
    return Allowance(
        name="wrong-codes-of-device",
        quota=FREE,
        window_s=round(REMEMBERED_S),
        left=0 if wait_s else max(1, FREE - wrong),
        more_in_s=math.ceil(wait_s or forgotten_s) or None,
    )


def _common_allowance(bucket: Tally | None, now: float) -> Allowance:
    return Allowance(
        name="wrong-codes",
        quota=BURST,
        window_s=round(BURST / RATE_PER_S),
        left=max(0, math.floor(left(bucket, BURST, RATE_PER_S, now))),
        more_in_s=math.ceil(_bucket_wait_s(bucket, now)) or None,
    )


def _network(address: str) -> str:
    """The address that is counted: for IPv6 the /64 network, which one household has."""
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return address
    if isinstance(found, ipaddress.IPv4Address):
        return address
    return str(ipaddress.ip_network((found, 64), strict=False))
