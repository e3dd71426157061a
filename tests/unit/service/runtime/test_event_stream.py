"""How a stream of events ends."""

from __future__ import annotations

import re
import threading
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

from service.runtime.event_stream import RETRY_MS, SOONEST_MS, Followed, _Stream


@dataclass(frozen=True)
class Step:
    """How far something is."""

    done: int
    ended: bool = False


def messages(closing: threading.Event, later: list[Step]) -> list[str]:
    """What a client is told of something that goes these steps further."""

    def wait(known: Step, _within_s: float) -> Step:
        if not later:
            closing.set()
            return known
        return later.pop(0)

    follower: Any = SimpleNamespace(wait=wait)
    followed = Followed[Step](
        watcher=SimpleNamespace(),  # type: ignore[arg-type]  # Nobody asks it here.
        key=("owner", "pack"),
        event_id=lambda step: str(step.done),
        data=lambda step: {"done": step.done},
    )
    stream = _Stream(followed=followed, follower=follower, last_id=None, gone=lambda: False)
    context: Any = SimpleNamespace(closing=closing)
    return list(stream.messages(context, Step(0)))


def test_a_stream_of_a_service_that_stops_tells_when_to_come_again() -> None:
    told = messages(threading.Event(), [Step(1)])
    assert told[1:3] == ['id: 0\ndata: {"done":0}\n\n', 'id: 1\ndata: {"done":1}\n\n']
    # HTML, 9.2: a line that sets the pause before the next connection, in milliseconds.
    last = re.fullmatch(r"retry: (\d+)\n\n", told[-1])
    assert last
    assert SOONEST_MS <= int(last[1]) < SOONEST_MS + RETRY_MS


def test_streams_do_not_all_come_again_at_once() -> None:
    assert len({messages(threading.Event(), [])[-1] for _ in range(20)}) > 10


def test_what_has_ended_is_told_to_the_end() -> None:
    told = messages(threading.Event(), [Step(1, ended=True)])
    assert told[-1] == 'id: 1\ndata: {"done":1}\n\n'
