"""How long one person's plan takes while all others come at once.

Three hundred connections that hardly move (photos sent a byte at a time, packs taken so), two
hundred streams of events, and a thousand requests in one moment, to nginx with everything behind
it. The slow ones come from one address, of which nginx lets in so many, the thousand from those of
thirty students and then from a thousand.
Meanwhile a tutor's page asks for plans, one after the other and each another one.

The thousand come from one process and the tutor from another (`burst`): a class has devices of its
own. What both take of the two cores is in the figures.
"""

from __future__ import annotations

import json
import signal
import statistics
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager

import psutil

from tests.bench.crowds.burst import Answers, Asked, Person, beside
from tests.bench.crowds.school import SPEC, STUDENTS, School, opened, sent, small_photo
from tests.hoards import Hoard

SLOW, STREAMS, AT_ONCE = 300, 200, 1000
#: Within this 95 of 100 plans are to come.
_WANTED_S = 1.0
#: How often they come.
ROUNDS = 5
#: Plans alone, and beside connections that only stand.
_PLANS = 40
#: As many borders are planned in turn, of 0.1 mm more each: more than plans that are kept.
_BORDERS = 200


def report() -> None:
    """Start everything, let all come, print."""
    with opened(workers=1) as school:
        pack = school.ask()
        school.await_end(pack["id"])
        tutor = _tutor(school)
        _print("alone", [tutor.plan_s(number) for number in range(_PLANS)])
        with _stopped(school), _slow(school, pack["id"]), _streams(school) as waiting:
            _print(f"beside {SLOW} slow clients and {STREAMS} streams", _plans(tutor, _PLANS))
            for addresses in (STUDENTS, AT_ONCE):
                before = _core_s(school), _busy_s()
                took, answers = _burst(school, tutor, addresses)
                _print(
                    f"while {AT_ONCE} requests came at once from {addresses} addresses,"
                    f" {ROUNDS} times",
                    took,
                )
                _print_answers(answers, _core_s(school) - before[0], _busy_s() - before[1])
        ends = Counter(school.await_end(one, key) for one, key in waiting.items())
        print(f"  the packs that were followed meanwhile ended {dict(ends)}")


def _print_answers(answers: Answers, core_s: float, busy_s: float) -> None:
    ranked = sorted(answers.took_s)
    print(
        f"  these were answered {dict(sorted(answers.statuses.items()))}"
        f" ({answers.without_retry_after} refused without Retry-After), half within"
        f" {statistics.median(ranked):.1f} s, all within {ranked[-1]:.1f} s;"
        f" each time {core_s / ROUNDS:.1f} core s of the service, of {busy_s / ROUNDS:.1f} in all"
    )


def _core_s(school: School) -> float:
    """Processor time so far of all programs of the school, in s."""
    groups = school.processes()
    return sum(sum(one.cpu_times()[:2]) for some in groups.values() for one in some)


def _busy_s() -> float:
    """Processor time so far of all programs on this machine, in s."""
    spent = psutil.cpu_times()
    return float(sum(spent) - spent.idle - getattr(spent, "iowait", 0.0))


def _print(when: str, took: list[float]) -> None:
    ranked = sorted(took)
    print(
        f"  {len(took)} plans {when}: median {statistics.median(ranked) * 1000:.0f} ms, 95 %"
        f" within {ranked[int(len(ranked) * 0.95)] * 1000:.0f} ms,"
        f" longest {ranked[-1] * 1000:.0f} ms; {_late(took):.1%} of the time more than"
        f" {_WANTED_S:g} s away",
        flush=True,
    )


def _late(took: list[float]) -> float:
    """The share of moments at which a plan that is asked for takes longer than is wanted.

    Who asks one after the other asks seldom while it is slow, so that ranks alone flatter.
    """
    return sum(max(0.0, one - _WANTED_S) for one in took) / sum(took)


def _plans(tutor: Person, count: int) -> list[float]:
    """Plans with a pause between them, as a hand makes it."""
    took = []
    for number in range(count):
        took.append(tutor.plan_s(number))
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


def _burst(school: School, tutor: Person, addresses: int) -> tuple[list[float], Answers]:
    """A thousand requests in one moment, some times, and the plans asked for meanwhile."""
    took, total = list[float](), Answers()
    for _ in range(ROUNDS):
        answers, plans = beside(tutor, school.arrangement.address, _crowd(school, addresses))
        took += plans
        total.statuses += answers.statuses
        total.took_s += answers.took_s
        total.without_retry_after += answers.without_retry_after
    return took, total


def _crowd(school: School, addresses: int) -> list[Asked]:
    """What the students ask for; the tutor, who waits for plans, sends none of them."""
    paths = ("/", "/v1/me", "/v1/me/packs", "/v1/printers", "/v1/sheet-formats")
    crowd = []
    for number in range(AT_ONCE):
        path, student = paths[number % len(paths)], 1 + number % STUDENTS
        head = f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n"
        key = f"Authorization: Bearer {school.keys[student]}\r\n\r\n"
        crowd.append(Asked(school.source(1 + number % addresses), (head + key).encode()))
    return crowd


def _tutor(school: School) -> Person:
    """Whose page asks for a plan with another border each time: none is kept from before."""
    wanted = [
        {
            "reference_id": school.reference_id,
            "spec": {"support": {**SPEC["support"], "border_mm": border / 10}},
        }
        for border in range(_BORDERS)
    ]
    return Person(
        address=school.arrangement.address,
        source=school.source(0),
        key=school.keys[0],
        bodies=tuple(json.dumps(one).encode() for one in wanted),
    )
