"""Two hundred packs for a class, and one student who asks for one in the middle of it."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import pytest

#: It measures time.
pytestmark = pytest.mark.alone

PACKS = 200
SMALL = {"support": {"width_mm": 180, "height_mm": 130}}


@pytest.mark.slow
def test_a_student_waits_for_the_pack_being_made_and_no_longer(
    running: Any,
    open_class: Callable[..., Any],
    photo: bytes,
    capsys: pytest.CaptureFixture[str],
) -> None:
    room = open_class(running, ("Ada", "Ben"))
    reference_id = room.tutor.upload(photo)
    ada = room.askers[0]
    own = ada.upload(photo)
    items = [{"student": room.students[1].id} for _ in range(PACKS)]
    wish = {"reference_id": reference_id, "spec": SMALL, "items": items}
    began = time.monotonic()
    asked = room.tutor.post(room.batches, wish)
    assert asked.status_code == 202, asked.text
    path = asked.json()["links"]["self"]
    accepted = time.monotonic() - began
    while room.tutor.get(path).json()["counts"].get("ready", 0) < 5:
        time.sleep(0.05)
    waits = [_wait(ada, own) for _ in range(3)]
    counts = room.tutor.get(path).json()["counts"]
    made = room.tutor.ended(path)
    total = time.monotonic() - began
    each = total / PACKS
    with capsys.disabled():
        print(
            f"\nbatch of {PACKS}: accepted in {accepted:.2f} s, made in {total:.1f} s, "
            f"{each:.2f} s a pack; one student's packs meanwhile took "
            f"{', '.join(f'{wait:.2f} s' for wait in waits)}; then "
            f"{counts.get('queued', 0)} of the batch still waited"
        )
    assert made["counts"] == {"ready": PACKS}
    assert counts.get("queued", 0) > PACKS / 4
    # At most the packs that both workers hold, and their own; the rest is room for others.
    assert max(waits) < 8 * each + 2


def _wait(asker: Any, reference_id: str) -> float:
    """From asking for one pack until it is ready."""
    began = time.monotonic()
    asked = asker.post("/v1/packs", {"reference_id": reference_id, "spec": SMALL})
    assert asked.status_code == 202, asked.text
    assert asker.ended(asked.json()["links"]["self"])["state"] == "ready"
    return time.monotonic() - began
