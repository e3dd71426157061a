"""Things that are made on several threads and used in order, a few ahead of whoever uses them.

So all processors are used, and what waits is little, however many things there are.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Executor, Future
from itertools import islice
from typing import Generic, TypeVar

#: Begun before they are used: a page is written in far less time than its picture is made, and
#: what waits is only a JPEG.
AHEAD = 6

_Item = TypeVar("_Item")
_Made = TypeVar("_Made")


class MadeAhead(Generic[_Item, _Made]):
    """What is made of items, in their order; the first ones are begun at once.

    Args:
        pool: The threads.
        make: Makes one; called in the pool.
        items: What to make.
    """

    def __init__(
        self, pool: Executor, make: Callable[[_Item], _Made], items: Iterable[_Item]
    ) -> None:
        self._pool = pool
        self._make = make
        self._left = iter(items)
        self._begun = deque(self._begin(AHEAD))

    def __iter__(self) -> Iterator[_Made]:
        """Each as soon as it is made; what failed raises here."""
        while self._begun:
            yield self._begun.popleft().result()
            self._begun.extend(self._begin(1))

    def give_up(self) -> None:
        """Begin no more."""
        for future in self._begun:
            future.cancel()

    def _begin(self, count: int) -> list[Future[_Made]]:
        return [self._pool.submit(self._make, item) for item in islice(self._left, count)]
