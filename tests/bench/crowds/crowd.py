"""How long one person's plan takes while all others come at once.

Three hundred connections that hardly move (photos sent a byte at a time, packs taken so), two
hundred streams of events, and a thousand requests in one moment, to nginx with everything behind
it. The slow ones come from one address, of which nginx lets in so many, all others from their own.
Meanwhile a tutor's page asks for plans, one after the other.
"""

from __future__ import annotations

import signal
import statistics
import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager

import requests

from tests.bench.crowds.school import SPEC, STUDENTS, School, opened, sent, small_photo
from tests.hoards import Hoard

SLOW, STREAMS, AT_ONCE = 300, 200, 1000
#: Plans alone, and beside connections that only stand.
_PLANS = 40


def report() -> None:
    """Start everything, let all come, print."""
    with opened(workers=1) as school:
        pack = school.ask()
        school.await_end(pack["id"])
        alone = [_plan(school) for _ in range(_PLANS)]
        _print("alone", alone)
        with _stopped(school), _slow(school, pack["id"]), _streams(school) as waiting:
            _print(f"beside {SLOW} slow clients and {STREAMS} streams", _plans(school, _PLANS))
            took, statuses = _burst(school)
            _print(f"while {AT_ONCE} requests came at once as well", took)
            print(f"  these were answered {dict(sorted(statuses.items()))}")
        ends = Counter(school.await_end(one, key) for one, key in waiting.items())
        print(f"  the packs that were followed meanwhile ended {dict(ends)}")


def _print(when: str, took: list[float]) -> None:
    ranked = sorted(took)
    print(
        f"  {len(took)} plans {when}: median {statistics.median(ranked) * 1000:.0f} ms, 95 %"
        f" within {ranked[int(len(ranked) * 0.95)] * 1000:.0f} ms,"
        f" longest {ranked[-1] * 1000:.0f} ms",
        flush=True,
    )


def _plan(school: School) -> float:
    """Seconds from asking to the answer, as a page waits."""
    began = time.perf_counter()
    wanted = {"reference_id": school.reference_id, "spec": SPEC}
    school.call("POST", "/v1/plans", json=wanted).raise_for_status()
    return time.perf_counter() - began


def _plans(school: School, count: int) -> list[float]:
    """Plans with a pause between them, as a hand makes it."""
    took = []
    for _ in range(count):
        took.append(_plan(school))
        time.sleep(0.1)
    return took


@contextmanager
def _stopped(school: School) -> Iterator[None]:
    """The worker makes nothing, so that packs are followed without end."""
    worker = school.arrangement.parts["worker-1"]
    worker.send(signal.SIGSTOP)
    try:
        yield
    finally:
        worker.send(signal.SIGCONT)


@contextmanager
def _slow(school: School, pack_id: str) -> Iterator[None]:
    key = f"Authorization: Bearer {school.keys[0]}\r\n".encode()
    host = b" HTTP/1.1\r\nHost: 127.0.0.1\r\n" + key
    sending = (
        b"POST /v1/references" + host + b"Content-Length: 5000000\r\n"
        b"Content-Type: multipart/form-data; boundary=x\r\n\r\n--x\r\n"
    )
    taking = f"GET /v1/packs/{pack_id}/pack.pdf".encode() + host + b"\r\n"
    with Hoard(school.arrangement.address) as hoard:
        hoard.open(sending, SLOW // 2)
        hoard.open(taking, SLOW // 2)
        yield


@contextmanager
def _streams(school: School) -> Iterator[dict[str, str]]:
    """Every student follows a pack, from several windows: the packs, with their keys.

    As many as are let in follow; the rest is told to come again.
    """
    followed, told, packs = [], Counter[int](), {}
    students = school.keys[1:]
    try:
        for key in students:
            packs[str(school.ask(key, sent(school, small_photo(), key))["id"])] = key
        for pack_id, key in [*packs.items()] * -(-STREAMS // len(students)):
            if len(followed) < STREAMS:
                answer = school.call("GET", f"/v1/packs/{pack_id}/events", key, stream=True)
                followed.append(answer)
                told[answer.status_code] += 1
        print(f"  streams were answered {dict(told)}")
        yield packs
    finally:
        for answer in followed:
            answer.close()


def _burst(school: School) -> tuple[list[float], Counter[str]]:
    """A thousand requests in one moment, and the plans asked for until all are answered."""
    paths = ("/", "/v1/me", "/v1/me/packs", "/v1/printers", "/v1/sheet-formats")
    start, statuses = threading.Barrier(AT_ONCE + 1), Counter[str]()

    def ask(number: int) -> None:
        start.wait()
        try:
            path = paths[number % len(paths)]
            # The tutor, who waits for plans, sends none of them.
            key = school.keys[1 + number % STUDENTS]
            statuses[str(school.call("GET", path, key).status_code)] += 1
        except requests.RequestException as error:
            statuses[type(error).__name__] += 1

    crowd = [threading.Thread(target=ask, args=(number,)) for number in range(AT_ONCE)]
    for one in crowd:
        one.start()
    start.wait()
    took = []
    while len(took) < _PLANS or any(one.is_alive() for one in crowd):
        took.append(_plan(school))
    for one in crowd:
        one.join()
    return took, statuses
