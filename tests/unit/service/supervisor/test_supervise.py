"""A child that dies at once is started again ever later; a healthy one at once."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from service.supervisor import child as one_child
from service.supervisor.child import FIRST_PAUSE_S, LONGEST_PAUSE_S, Child
from service.supervisor.supervise import _children, address
from worker.settings import Settings


class Ended:
    """A process that is over."""

    stdin = None


@pytest.fixture
def child(monkeypatch: pytest.MonkeyPatch) -> Child:
    """A child whose starting is only noted."""

    def start(self: Child) -> None:
        self.started_s = time.monotonic()
        self.process = Ended()  # type: ignore[assignment]  # No real process is needed.

    monkeypatch.setattr(Child, "start", start)
    return Child(name="worker", module="nothing", patience_s=1, environment={})


def test_the_pause_grows_and_is_bounded(child: Child, capsys: pytest.CaptureFixture[str]) -> None:
    pauses = []
    for _ in range(9):
        child.start()
        child.again()
        assert child.process is None
        pauses.append(child.pause_s)
    assert pauses[:4] == [FIRST_PAUSE_S, 1.0, 2.0, 4.0]
    assert pauses[-1] == LONGEST_PAUSE_S
    assert "worker process ended" in capsys.readouterr().err


def test_it_waits_before_it_starts_again(child: Child) -> None:
    child.start()
    child.again()
    child.again()
    assert child.process is None
    child.again_at_s = time.monotonic() - 1
    child.again()
    assert child.process is not None


def test_a_healthy_life_is_forgiven(child: Child, monkeypatch: pytest.MonkeyPatch) -> None:
    child.pause_s = 8
    child.start()
    monkeypatch.setattr(one_child, "HEALTHY_S", -1)
    child.again()
    assert child.pause_s == FIRST_PAUSE_S


def test_both_keep_few_heaps_unless_told_otherwise(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.delenv("MALLOC_ARENA_MAX", raising=False)
    for told in ("2", "7"):
        children = _children(Settings(data_dir=tmp_path))
        assert [child.environment["MALLOC_ARENA_MAX"] for child in children] == [told, told]
        monkeypatch.setenv("MALLOC_ARENA_MAX", "7")


@pytest.mark.parametrize(
    ("host", "told"),
    [("127.0.0.1", "http://127.0.0.1:8640"), ("::1", "http://[::1]:8640")],
)
def test_the_address_is_one_for_a_browser(host: str, told: str) -> None:
    assert address(Settings(data_dir=Path("unused"), host=host)) == told
