"""One thread that reads the ledger for all event streams.

Streams do not read the ledger themselves: sixteen of them, five times a second, would read
whole rows with plans of a hundred kilobytes. The thread first asks whether anything was
written at all, which reads a word of shared memory, and only then reads the progress of the
packs that streams follow. It runs only while there are streams.
"""

from __future__ import annotations

import threading
from collections import Counter

from service.serving.dispatcher import slot_released
from worker.errors import NotFound, RicalcoError
from worker.store.ledger import Ledger, PackProgress

LOOK_EVERY_S = 0.2
#: The ids of owner and pack.
_Key = tuple[str, str]


class ProgressWatcher:
    """Reads the progress of packs that are followed; safe to use from several threads."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger
        self._changed = threading.Condition()
        self._followers: Counter[_Key] = Counter()
        self._found: dict[_Key, PackProgress | RicalcoError] = {}
        self._running = False
        self._new_follower = False

    def follow(self, known: PackProgress, owner_id: str) -> Follower:
        """Follow a pack of `owner_id`, which the caller has just read; `leave` ends it."""
        key = owner_id, known.id
        with self._changed:
            self._followers[key] += 1
            self._found.setdefault(key, known)
            # It may have changed since the caller read it.
            self._new_follower = True
            if not self._running:
                self._running = True
                threading.Thread(target=self._run, name="watching", daemon=True).start()
        return Follower(self, key)

    def wait(self, key: _Key, known: PackProgress, within_s: float) -> PackProgress:
        """See `Follower.wait`."""
        with slot_released(), self._changed:
            self._changed.wait_for(lambda: self._found[key] != known, within_s)
            found = self._found[key]
        if isinstance(found, RicalcoError):
            # Each follower raises an error of its own, since its traceback is attached to it.
            raise type(found)(found.detail)
        return found

    def leave(self, key: _Key) -> None:
        """See `Follower.leave`."""
        with self._changed:
            self._followers[key] -= 1
            if not self._followers[key]:
                del self._followers[key], self._found[key]
            self._changed.notify_all()

    def _run(self) -> None:
        """Read at intervals until there are no followers."""
        seen: int | None = None
        try:
            while keys := self._next_keys():
                with self._changed:
                    seen = None if self._new_follower else seen
                    self._new_follower = False
                seen = self._read(keys, seen)
        except BaseException:
            # An unexpected error: the next follower starts another thread.
            with self._changed:
                self._running = False
            raise

    def _next_keys(self) -> list[_Key]:
        """Wait for the next read, then return what is followed; empty ends the thread."""
        with self._changed:
            self._changed.wait_for(lambda: not self._followers, LOOK_EVERY_S)
            # Set under the lock, so that the next follower starts another thread.
            self._running = bool(self._followers)
            return list(self._followers)

    def _read(self, keys: list[_Key], seen: int | None) -> int | None:
        """Read the progress if the ledger was written since `seen`; returns its version now.

        Args:
            keys: What is followed.
            seen: The version of the ledger at the last read; None: read in any case.
        """
        found: dict[_Key, PackProgress] = {}
        failed: RicalcoError = NotFound("There is no such pack.")
        try:
            # Read before the rows: what is written meanwhile is found the next time.
            now: int | None = self._ledger.data_version()
            if now == seen:
                return seen
            found = self._ledger.progress(_by_owner(keys))
        except RicalcoError as error:
            failed, now = error, None
        with self._changed:
            news = {key: found.get(key, failed) for key in keys if key in self._followers}
            self._found.update(news)
            self._changed.notify_all()
        return now


class Follower:
    """A handle on one pack that is followed."""

    def __init__(self, watcher: ProgressWatcher, key: _Key) -> None:
        self._watcher = watcher
        self._key = key

    def wait(self, known: PackProgress, within_s: float) -> PackProgress:
        """The pack's progress as soon as it differs from `known`, or after `within_s`.

        Raises:
            NotFound: The pack was deleted, or is another owner's.
            LedgerUnavailable: The ledger cannot be read now.
        """
        return self._watcher.wait(self._key, known, within_s)

    def leave(self) -> None:
        """Stop following; called once."""
        self._watcher.leave(self._key)


def _by_owner(keys: list[_Key]) -> dict[str, list[str]]:
    asked: dict[str, list[str]] = {}
    for owner_id, pack_id in keys:
        asked.setdefault(owner_id, []).append(pack_id)
    return asked
