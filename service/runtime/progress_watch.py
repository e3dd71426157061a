"""One look at the ledger for all who follow a pack.

Streams of events do not ask the ledger themselves: sixteen of them, five times a second,
would read whole rows with plans of a hundred kilobytes. One thread asks whether anything was
written at all, which costs a word of shared memory, and only then how far the followed packs
are. It runs while somebody follows.
"""

from __future__ import annotations

import threading
from collections import Counter

from service.serving.dispatcher import slot_released
from worker.errors import NotFound, RicalcoError
from worker.store.ledger import Ledger, PackProgress

LOOK_EVERY_S = 0.2
#: Owner and pack.
_Key = tuple[str, str]


class ProgressWatcher:
    """Looks after the packs that are followed; safe to use from several threads."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger
        self._changed = threading.Condition()
        self._followers: Counter[_Key] = Counter()
        self._found: dict[_Key, PackProgress | RicalcoError] = {}
        self._looking = False
        self._fresh = False

    def follow(self, known: PackProgress, owner_id: str) -> Follower:
        """Follow a pack that `owner_id` was just seen to have; whoever follows must leave."""
        key = owner_id, known.id
        with self._changed:
            self._followers[key] += 1
            self._found.setdefault(key, known)
            # It may have moved on since it was read, and nobody have looked at it.
            self._fresh = True
            if not self._looking:
                self._looking = True
                threading.Thread(target=self._look_on, name="watching", daemon=True).start()
        return Follower(self, key)

    def wait(self, key: _Key, known: PackProgress, within_s: float) -> PackProgress:
        """See `Follower.wait`."""
        with slot_released(), self._changed:
            self._changed.wait_for(lambda: self._found[key] != known, within_s)
            found = self._found[key]
        if isinstance(found, RicalcoError):
            # Each who follows raises an error of their own: it takes a trace along.
            raise type(found)(found.detail)
        return found

    def leave(self, key: _Key) -> None:
        """See `Follower.leave`."""
        with self._changed:
            self._followers[key] -= 1
            if not self._followers[key]:
                del self._followers[key], self._found[key]
            self._changed.notify_all()

    def _look_on(self) -> None:
        """Look again and again, until nobody follows any more."""
        seen: int | None = None
        try:
            while keys := self._waited():
                with self._changed:
                    seen = None if self._fresh else seen
                    self._fresh = False
                seen = self._look(keys, seen)
        except BaseException:
            # A fault of ours: whoever comes next starts anew.
            with self._changed:
                self._looking = False
            raise

    def _waited(self) -> list[_Key]:
        """What is followed when it is time to look again; empty: nobody looks any more."""
        with self._changed:
            self._changed.wait_for(lambda: not self._followers, LOOK_EVERY_S)
            # Said under the lock, so that who comes next starts another look.
            self._looking = bool(self._followers)
            return list(self._followers)

    def _look(self, keys: list[_Key], seen: int | None) -> int | None:
        """Look where the ledger was written since `seen`; returns what it is seen at now.

        None stands for not at all: the next look is a look in any case.
        """
        found: dict[_Key, PackProgress] = {}
        failed: RicalcoError = NotFound("There is no such pack.")
        try:
            # Asked first: what is written while rows are read is found the next time.
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
    """Someone who follows one pack."""

    def __init__(self, watcher: ProgressWatcher, key: _Key) -> None:
        self._watcher = watcher
        self._key = key

    def wait(self, known: PackProgress, within_s: float) -> PackProgress:
        """How far the pack is, as soon as that is not what is known; or after `within_s`.

        Raises:
            NotFound: It is not there any more, or not theirs.
            LedgerUnavailable: There is no telling.
        """
        return self._watcher.wait(self._key, known, within_s)

    def leave(self) -> None:
        """Follow no more; once."""
        self._watcher.leave(self._key)


def _by_owner(keys: list[_Key]) -> dict[str, list[str]]:
    asked: dict[str, list[str]] = {}
    for owner_id, pack_id in keys:
        asked.setdefault(owner_id, []).append(pack_id)
    return asked
