"""Keys of platforms: asked for by one request at a time, seldom, and without holding a slot."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

import pytest

from service.http.errors import LaunchRefused
from service.lti import platform_keys
from service.lti.platform_keys import LONGEST_S, PAUSE_S, PlatformKeys
from service.serving import dispatcher
from service.serving.turns import Turn
from tests.clock import Clock
from tests.servers.learning_platform import new_key
from worker.errors import PlatformUnreachable
from worker.lti.fetch import Fetcher, Reply

URL = "https://platform.example/jwks"
#: For what must happen; reached only where it does not.
PATIENCE_S = 30.0


@dataclass
class Platform(Fetcher):
    """Publishes these keys, or is down; `then` happens while it is asked."""

    names: list[str] = field(default_factory=lambda: ["k1"])
    down: bool = False
    asked: int = 0
    then: Callable[[], object] = lambda: None

    def send(self, method: str, url: str, **_: Any) -> Reply:
        """Answer, or do not."""
        assert (method, url) == ("GET", URL)
        self.asked += 1
        self.then()
        if self.down:
            raise PlatformUnreachable("It is down.")
        keys = [{**new_key("k1").as_dict(private=False), "kid": one} for one in self.names]
        return Reply(status=200, headers={}, content=json.dumps({"keys": keys}).encode())


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def platform() -> Platform:
    return Platform()


@pytest.fixture
def keys(platform: Platform, clock: Clock) -> PlatformKeys:
    return PlatformKeys(platform, clock)


def find(keys: PlatformKeys, key_id: str = "k1") -> None:
    keys.find(URL, key_id, "RS256")


def test_a_platform_that_is_down_is_asked_once_in_half_a_minute(
    keys: PlatformKeys, platform: Platform, clock: Clock
) -> None:
    platform.down = True
    for _ in range(5):
        with pytest.raises(PlatformUnreachable, match="It is down"):
            find(keys)
    assert platform.asked == 1
    clock.now += PAUSE_S
    platform.down = False
    find(keys)
    assert platform.asked == 2


def test_a_key_that_is_withdrawn_is_not_trusted_while_the_platform_is_down(
    keys: PlatformKeys, platform: Platform, clock: Clock
) -> None:
    find(keys)
    platform.down, began = True, clock.now
    # For a while a platform that does not answer keeps nobody out.
    for _ in range(3):
        clock.now += (LONGEST_S - 1) / 3
        find(keys)
    clock.now = began + LONGEST_S
    with pytest.raises(PlatformUnreachable):
        find(keys)


def test_an_invented_key_makes_us_ask_once_in_half_a_minute(
    keys: PlatformKeys, platform: Platform, clock: Clock
) -> None:
    find(keys)
    clock.now += PAUSE_S
    for _ in range(5):
        with pytest.raises(LaunchRefused, match="does not publish"):
            find(keys, "invented")
    assert platform.asked == 2
    platform.down = True
    clock.now += PAUSE_S
    with pytest.raises(PlatformUnreachable):
        find(keys, "invented")
    # The others come in meanwhile.
    find(keys)
    assert platform.asked == 3


def test_launches_at_the_same_moment_ask_once(
    keys: PlatformKeys, platform: Platform, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun, go_on = threading.Event(), threading.Event()
    found: list[str] = []

    def hold() -> None:
        begun.set()
        assert go_on.wait(PATIENCE_S)

    def launch() -> None:
        find(keys)
        found.append("k1")

    platform.then = hold
    monkeypatch.setattr(platform_keys, "MOST_WAITING", 4)
    launches = [threading.Thread(target=launch) for _ in range(4)]
    for one in launches:
        one.start()
    assert begun.wait(PATIENCE_S)
    kept = keys._kept[URL]
    while kept.waiting._value:  # type: ignore[attr-defined]
        assert all(one.is_alive() for one in launches)
        time.sleep(0.01)
    # More do not wait, so that threads are left for everybody else.
    with pytest.raises(PlatformUnreachable, match="try again soon"):
        find(keys)
    go_on.set()
    for one in launches:
        one.join(PATIENCE_S)
    assert (found, platform.asked) == (["k1"] * 4, 1)


def test_a_slow_platform_holds_no_slot(
    keys: PlatformKeys, platform: Platform, monkeypatch: pytest.MonkeyPatch
) -> None:
    pool = dispatcher.SlotDispatcher(threads=0, max_running=1)
    pool.free_slots = 0
    asking: Any = SimpleNamespace(turn=Turn("192.0.2.1"))
    request = dispatcher._RunningRequest(pool, asking)
    monkeypatch.setattr(dispatcher._thread, "running", request, raising=False)
    free: list[int] = []
    platform.then = lambda: free.append(pool.free_slots)
    find(keys)
    assert (free, pool.free_slots) == ([1], 0)
