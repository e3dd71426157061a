"""One fault after the other: packs are asked for before and during it, and held to account after.

After each fault every pack must end within `STUCK_S`, ready and whole or failed with a code whose
words say what to do. The same photo and spec give the same bytes, so a pack is whole if it is
byte for byte the one that was made before the first fault.
"""

from __future__ import annotations

import random
import secrets
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field

import sqlalchemy as sa

from tests.faults.asking import Asker, advised
from tests.faults.parts import wait_a_while
from tests.faults.place import Fault, Place
from worker.errors import RicalcoError
from worker.jobs.upkeep.cleanup import remove_orphans
from worker.store.ledger import FINAL_STATES, LOCAL_OWNER, PackRow
from worker.store.ledger.tables import PACKS

#: From the end of a fault until everything that was asked for has ended.
STUCK_S = 60.0
#: Packs that are asked for before a fault, which begins when one of them is being made.
BEFORE, DURING = 3, 2
_FIRST_S = 120.0


@dataclass(kw_only=True)
class Round:
    """What one fault did.

    Attributes:
        fault: Its name.
        packs: How many packs were asked for before and during it.
        touched: How many of these had not ended when it began, or were asked for during it.
        failed: Codes of those that failed.
        recovery_s: From its end until every pack had ended.
    """

    fault: str
    packs: int
    touched: int
    failed: list[str]
    recovery_s: float


@dataclass
class Run:
    """All rounds of one place.

    Attributes:
        stuck_s: What is longer than this counts as stuck.
        broken: Invariants that did not hold, in words.
        orphans: How many keys in storage no row named at the end.
        logs: What the programs wrote.
    """

    place: Place
    seed: int
    stuck_s: float = STUCK_S
    rounds: list[Round] = field(default_factory=list)
    broken: list[str] = field(default_factory=list)
    orphans: int = 0
    logs: str = ""

    def __post_init__(self) -> None:
        self._chance = random.Random(self.seed)  # noqa: S311 - which fault comes is no secret.
        self.asker = Asker(self.place.url, self.place.support_mm)
        self._ids: dict[str, str] = {}
        self._digest: str | None = None

    def begin(self) -> None:
        """Send the photo and have the first pack made, before anything goes wrong."""
        assert self.asker.send_photo(secrets.token_hex(8), _FIRST_S), "no photo was taken"
        self._ask(1, _FIRST_S)
        wait_a_while(self._all_ended, _FIRST_S)
        (first,) = self._ids.values()
        self._digest = self.asker.digest(first, _FIRST_S)
        assert self._digest, "the first pack was not made"

    def go_on(self, faults: int, until: float, tell: Callable[[Round], None]) -> None:
        """Have so many faults happen, as long as the monotonic clock is before `until`."""
        for fault in self._sequence(faults):
            if time.monotonic() > until:
                return
            self.rounds.append(self._round(fault))
            tell(self.rounds[-1])

    def finish(self) -> None:
        """What must be true of all packs together, now that nothing more goes wrong."""
        with self.place.ledger._database.reading() as connection:
            rows = connection.execute(sa.select(sa.func.count()).select_from(PACKS)).scalar_one()
        ids = set(self._ids.values())
        self._hold(rows == len(ids) == len(self._ids), f"{len(self._ids)} asked, {rows} in ledger")
        said = self.asker.unadvised
        self._hold(not said, f"answers without advice: {'; '.join(said)}")
        self.orphans = remove_orphans(self.place.ledger, self.place.storage)
        for row in map(self._row, ids):
            kept = list(self.place.storage.keys(f"packs/{row.id}"))
            wanted = [row.files_key] if row.state == "ready" else []
            self._hold(kept == wanted, f"{row.id} is {row.state} and has {kept}")

    def _sequence(self, count: int) -> Iterator[Fault]:
        """Every fault once in any order, then again."""
        while count > 0:
            order = list(self.place.faults)
            self._chance.shuffle(order)
            yield from order[:count]
            count -= len(order)

    def _round(self, fault: Fault) -> Round:
        before = set(self._ids)
        self._ask(BEFORE, self.stuck_s)
        wait_a_while(lambda: self._states_of(before) & {"making"}, 2.0)
        time.sleep(self._chance.uniform(0.0, 0.4))
        unended = self._unended()
        asking = threading.Thread(target=self._ask, args=(DURING, 2 * self.stuck_s), daemon=True)
        with fault.happens(self._chance):
            asking.start()
            time.sleep(fault.hold_s)
        healed = time.monotonic()
        asking.join(2 * self.stuck_s)
        wait_a_while(self._all_ended, 3 * self.stuck_s)
        recovery_s = time.monotonic() - healed
        new = [self._row(one) for key, one in self._ids.items() if key not in before]
        self._hold(len(new) == BEFORE + DURING, f"after {fault.name}: only {len(new)} accepted")
        self._hold(
            recovery_s <= self.stuck_s, f"after {fault.name}: {recovery_s:.0f} s until all ended"
        )
        for row in new:
            self._check(row, fault)
        failed = [row.error_code or row.state for row in new if row.state != "ready"]
        return Round(
            fault=fault.name,
            packs=len(new),
            touched=unended + len(new) - BEFORE,
            failed=failed,
            recovery_s=recovery_s,
        )

    def _ask(self, count: int, within_s: float) -> None:
        for _ in range(count):
            key = secrets.token_hex(8)
            pack_id = self.asker.ask(key, within_s)
            if pack_id is not None:
                self._ids[key] = pack_id

    def _check(self, row: PackRow, fault: Fault) -> None:
        said = f"after {fault.name}: {row.id} is {row.state}"
        self._hold(row.state in {"ready", "failed"}, said)
        self._hold(row.attempt <= self.place.attempts, f"{said} after {row.attempt} attempts")
        if row.state == "failed":
            self._hold(advised(row.error_code), f"{said} with {row.error_code}")
        if row.state == "ready":
            digest = self.asker.digest(row.id, self.stuck_s)
            self._hold(digest == self._digest, f"{said}, and its file is {digest}")

    def _hold(self, true: bool, otherwise: str) -> None:  # noqa: FBT001 - a condition, like assert.
        if not true:
            self.broken.append(f"{self.place.name}: {otherwise}")

    def _row(self, pack_id: str) -> PackRow:
        return self.place.ledger.pack(pack_id, LOCAL_OWNER)

    def _states_of(self, without: set[str]) -> set[str]:
        with suppress(RicalcoError):
            new = [one for key, one in self._ids.items() if key not in without]
            return {self._row(one).state for one in new}
        return set()

    def _all_ended(self) -> bool:
        """Whether every pack has ended; False too while the ledger cannot be read."""
        with suppress(RicalcoError):
            return self._unended() == 0
        return False

    def _unended(self) -> int:
        unended = PACKS.c.state.not_in(FINAL_STATES)
        with self.place.ledger._database.reading() as connection:
            asked = sa.select(sa.func.count()).select_from(PACKS).where(unended)
            return int(connection.execute(asked).scalar_one())
