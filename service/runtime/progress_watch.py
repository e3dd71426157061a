"""One thread that reads the ledger for all event streams.

Streams do not read the ledger themselves: sixteen of them, five times a second, would read
whole rows with plans of a hundred kilobytes. The thread first asks whether anything was
written at all, which reads a word of shared memory, and only then reads the progress of the
packs or batches that streams follow. It runs only while there are streams.
"""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable, Mapping
from typing import Generic, TypeVar

from service.serving.dispatcher import slot_released
from worker.errors import NotFound, RicalcoError

LOOK_EVERY_S = 0.2
#: The ids of owner and pack, or of tutor and batch.
Key = tuple[str, str]
_P = TypeVar("_P")
#: Reads the progress of what these owners follow; what is not theirs is left out.
Read = Callable[[dict[str, list[str]]], Mapping[Key, _P]]


class ProgressWatcher(Generic[_P]):
    """Reads the progress of what is followed; safe to use from several threads.

    Args:
        version: A number that changes whenever the ledger was written.
        read: Reads progress from the ledger.
        gone: What is told where something is not there any more.
    """

    def __init__(self, version: Callable[[], int], read: Read[_P], gone: str) -> None:
        self._version = version
        self._read_rows = read
        self._gone = gone
        self._changed = threading.Condition()
        self._followers: Counter[Key] = Counter()
        self._found: dict[Key, _P | RicalcoError] = {}
        self._running = False
        self._new_follower = False

    def follow(self, key: Key, known: _P) -> Follower[_P]:
        """Follow what the caller has just read; `leave` ends it."""
        with self._changed:
            self._followers[key] += 1
            self._found.setdefault(key, known)
            # It may have changed since the caller read it.
            self._new_follower = True
            if not self._running:
                self._running = True
                threading.Thread(target=self._run, name="watching", daemon=True).start()
        return Follower(self, key)

    def wait(self, key: Key, known: _P, within_s: float) -> _P:
        """See `Follower.wait`."""
        with slot_released(), self._changed:
            self._changed.wait_for(lambda: self._found[key] != known, within_s)
            found = self._found[key]
        if isinstance(found, RicalcoError):
            # Each follower raises an error of its own, since its traceback is attached to it.
            raise type(found)(found.detail)
        return found

    def leave(self, key: Key) -> None:
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

    def _next_keys(self) -> list[Key]:
        """Wait for the next read, then return what is followed; empty ends the thread."""
        with self._changed:
            self._changed.wait_for(lambda: not self._followers, LOOK_EVERY_S)
            # Set under the lock, so that the next follower starts another thread.
            self._running = bool(self._followers)
            return list(self._followers)

    def _read(self, keys: list[Key], seen: int | None) -> int | None:
        """Read the progress if the ledger was written since `seen`; returns its version now.

        Args:
            keys: What is followed.
            seen: The version of the ledger at the last read; None: read in any case.
        """
        found: Mapping[Key, _P] = {}
        failed: RicalcoError = NotFound(self._gone)
        try:
            # Read before the rows: what is written meanwhile is found the next time.
            now: int | None = self._version()
            if now == seen:
                return seen
            found = self._read_rows(_by_owner(keys))
        except RicalcoError as error:
            failed, now = error, None
        with self._changed:
            news = {key: found.get(key, failed) for key in keys if key in self._followers}
            self._found.update(news)
            self._changed.notify_all()
        return now


class Follower(Generic[_P]):
    """A handle on one thing that is followed."""

    def __init__(self, watcher: ProgressWatcher[_P], key: Key) -> None:
        self._watcher = watcher
        self._key = key

    def wait(self, known: _P, within_s: float) -> _P:
        """The progress as soon as it differs from `known`, or after `within_s`.

        Raises:
            NotFound: It was deleted, or is another owner's.
            LedgerUnavailable: The ledger cannot be read now.
        """
        return self._watcher.wait(self._key, known, within_s)

    def leave(self) -> None:
        """Stop following; called once."""
        self._watcher.leave(self._key)


def _by_owner(keys: list[Key]) -> dict[str, list[str]]:
    asked: dict[str, list[str]] = {}
    for owner_id, id_ in keys:
        asked.setdefault(owner_id, []).append(id_)
    return asked
