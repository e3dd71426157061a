"""What every kind of tallies promises: one suite, run over each of them."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

from service.runtime.limits.tallies import Name, Tallies, Tally
from service.runtime.limits.tallies.protocol import Found

ONE: Name = ("kind", "one")
OTHER: Name = ("kind", "other")


def add(tallies: Tallies, name: Name, by: float = 1.0, keep_s: float = 600.0) -> float:
    """Add to a tally; returns what it was before."""

    def act(now: float, found: Found) -> tuple[float, Found]:
        before = found[name].amount if name in found else 0.0
        return before, {name: Tally(amount=before + by, at_s=now, until_s=now + 5, keep_s=keep_s)}

    return tallies.change([name], act)


def amount(tallies: Tallies, name: Name) -> float:
    """What a tally has; nothing is changed."""

    def act(_: float, found: Found) -> tuple[float, Found]:
        return (found[name].amount if name in found else 0.0), {}

    return tallies.change([name], act)


def check_contract(first: Tallies, second: Tallies) -> None:
    """Two processes' tallies over one store are one."""
    assert add(first, ONE) == 0.0
    assert add(second, ONE) == 1.0
    assert amount(first, ONE) == 2.0
    assert amount(second, OTHER) == 0.0
    # What is forgotten at once is not there.
    add(first, OTHER, keep_s=0.0)
    assert amount(second, OTHER) == 0.0

    def waits(now: float, found: Found) -> tuple[float, Found]:
        return found[ONE].until_s - now, {}

    assert 0.0 < second.change([ONE, OTHER], waits) <= 5.0
    # Nobody's step is lost among others'.
    with ThreadPoolExecutor(8) as pool:
        list(pool.map(lambda number: add((first, second)[number % 2], ONE), range(40)))
    assert amount(first, ONE) == 42.0
