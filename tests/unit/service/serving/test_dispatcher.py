"""Few requests are worked on at once, in a fair order; who waits holds nobody up."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import pytest

from service.serving import dispatcher as module
from service.serving.dispatcher import SlotDispatcher, release_slot_if_long, slot_released
from service.serving.turns import Turn

FROM = Turn("192.0.2.1")
#: For hangs; nothing here takes time.
LONG_S = 60.0


@dataclass
class Job:
    """A request that does this."""

    do: Callable[[], object]
    turn: Turn = FROM

    def service(self) -> None:
        self.do()

    def cancel(self) -> None:
        """Nothing is held."""


@pytest.fixture
def dispatcher() -> Iterator[SlotDispatcher]:
    """Four threads, of which one at a time may work."""
    made = SlotDispatcher(4, max_running=1)
    yield made
    made.shutdown()


def test_one_at_a_time_is_at_work(dispatcher: SlotDispatcher) -> None:
    running, most, done = [0], [0], threading.Semaphore(0)

    def work() -> None:
        running[0] += 1
        most[0] = max(most[0], running[0])
        # Were others at work, they would be let in here.
        threading.Event().wait(0.01)
        running[0] -= 1
        done.release()

    for _ in range(12):
        dispatcher.add_task(Job(work))
    for _ in range(12):
        assert done.acquire(timeout=LONG_S)
    assert most == [1]


def test_who_waits_gives_the_turn_away(dispatcher: SlotDispatcher) -> None:
    came, gone_on = threading.Event(), threading.Event()

    def wait() -> None:
        with slot_released():
            assert came.wait(LONG_S)
        gone_on.set()

    for _ in range(3):
        dispatcher.add_task(Job(wait))
    dispatcher.add_task(Job(came.set))
    assert gone_on.wait(LONG_S)


def test_what_goes_on_for_long_goes_on_beside(
    dispatcher: SlotDispatcher, monkeypatch: pytest.MonkeyPatch
) -> None:
    came, ended = threading.Event(), threading.Event()

    def send() -> None:
        dispatcher.add_task(Job(came.set))
        release_slot_if_long()
        # It is not long yet: nobody else is at work.
        assert not came.is_set()
        monkeypatch.setattr(module, "LONG_S", -1.0)
        release_slot_if_long()
        assert came.wait(LONG_S)
        with slot_released():
            pass
        ended.set()

    dispatcher.add_task(Job(send))
    assert ended.wait(LONG_S)
    dispatcher.shutdown()
    assert dispatcher.free_slots == 1


def test_what_runs_for_long_frees_its_slot_and_so_do_as_many_as_have_one(
    dispatcher: SlotDispatcher, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun, over = threading.Semaphore(0), threading.Event()

    def hang() -> None:
        begun.release()
        assert over.wait(LONG_S)

    for _ in range(3):
        dispatcher.add_task(Job(hang))
    assert begun.acquire(timeout=LONG_S)
    dispatcher.free_long()
    # It is not long yet.
    assert not begun.acquire(blocking=False)
    monkeypatch.setattr(module, "LONG_S", -1.0)
    dispatcher.free_long()
    assert begun.acquire(timeout=LONG_S)
    # One runs so already, where one slot is.
    dispatcher.free_long()
    assert not begun.acquire(timeout=0.1)
    over.set()
    assert begun.acquire(timeout=LONG_S)
    dispatcher.shutdown()
    assert dispatcher.free_slots == 1


def test_a_slot_that_is_given_away_meanwhile_is_freed_once(
    dispatcher: SlotDispatcher, monkeypatch: pytest.MonkeyPatch
) -> None:
    waits, go_on, ended = threading.Event(), threading.Event(), threading.Event()
    monkeypatch.setattr(module, "LONG_S", -1.0)

    def wait() -> None:
        with slot_released():
            waits.set()
            assert go_on.wait(LONG_S)
        dispatcher.free_long()
        with slot_released():
            pass
        ended.set()

    dispatcher.add_task(Job(wait))
    assert waits.wait(LONG_S)
    dispatcher.free_long()
    go_on.set()
    assert ended.wait(LONG_S)
    dispatcher.shutdown()
    assert dispatcher.free_slots == 1


def test_a_fault_gives_the_turn_back(dispatcher: SlotDispatcher) -> None:
    done = threading.Event()
    dispatcher.add_task(Job(lambda: 1 / 0))
    dispatcher.add_task(Job(done.set))
    assert done.wait(LONG_S)


def test_elsewhere_waiting_does_nothing() -> None:
    with slot_released():
        pass
