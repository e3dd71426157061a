"""Tallies in Redis, for the web processes of all machines. They expire by themselves."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any, TypeVar

import redis
from redis.exceptions import RedisError, WatchError

from service.runtime.limits.tallies.guarded import TalliesUnavailable
from service.runtime.limits.tallies.protocol import Act, Name, Tally, hidden, known

_PREFIX = "ricalco:limits:"
#: A Redis that does not answer must not keep people waiting.
_PATIENCE_S = 1.0
#: Of those that change one tally at the same moment one succeeds each time.
_TRIES = 100
_T = TypeVar("_T")


class RedisTallies:
    """See `Tallies`.

    Args:
        url: The broker's.
    """

    def __init__(self, url: str) -> None:
        self._client: Any = redis.Redis.from_url(
            url, socket_timeout=_PATIENCE_S, socket_connect_timeout=_PATIENCE_S
        )

    def change(self, names: Sequence[Name], act: Act[_T]) -> _T:
        """See `Tallies`; the clock is the server's.

        Raises:
            TalliesUnavailable: Redis does not answer.
        """
        try:
            with self._client.pipeline() as pipe:
                for _ in range(_TRIES):
                    try:
                        return self._try(pipe, names, act)
                    except WatchError:
                        continue
        except RedisError as error:
            raise TalliesUnavailable(str(error)) from error
        raise TalliesUnavailable("Too many processes change the same count.")

    def close(self) -> None:
        """Close all connections."""
        self._client.close()

    def _try(self, pipe: Any, names: Sequence[Name], act: Act[_T]) -> _T:
        """Change them, or raise WatchError where another process was quicker."""
        keys = [_PREFIX + hidden(name) for name in names]
        pipe.watch(*keys)
        seconds, micros = pipe.time()
        now = seconds + micros / 1e6
        read = {
            name: Tally(**json.loads(value))
            for name, value in zip(names, pipe.mget(keys), strict=True)
            if value is not None
        }
        result, changed = act(now, {name: one for name, one in read.items() if known(one, now)})
        if not changed:
            pipe.unwatch()
            return result
        pipe.multi()
        for name, one in changed.items():
            key, kept_ms = _PREFIX + hidden(name), max(1, round(1000 * one.keep_s))
            pipe.set(key, json.dumps(vars(one)), px=kept_ms)
        pipe.execute()
        return result
