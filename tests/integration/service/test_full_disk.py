"""The service on a full disk: it starts, says so, and everything can be deleted."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.small_disks import SmallDisk, small_disk
from tests.waiting import wait_until


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[SmallDisk]:
    # Where `launch` has its service keep its data.
    with small_disk(tmp_path / "service" / "data", 128) as mounted:
        yield mounted


def wait_until_room_is(api: Any, told: str) -> None:
    """An answer is kept for some seconds."""
    wait_until(lambda: api.get("/readyz").json()["checks"]["room"] == told, every_s=0.2)


def test_photos_and_packs_are_deleted_from_a_full_disk(
    launch: Callable[..., Any], api_of: Callable[..., Any], photo: bytes, disk: SmallDisk
) -> None:
    service = launch(disk.path.parent)
    try:
        api = api_of(service)
        photos = [api.upload(photo).json()["id"] for _ in range(3)]
        path = api.ask(photos[0]).json()["links"]["self"]
        assert api.ended(path)["state"] == "ready"
        wait_until_room_is(api, "ok")
        disk.fill()
        wait_until_room_is(api, "storage-full")
        refused = api.upload(photo)
        assert (refused.status_code, refused.json()["code"]) == (507, "storage-full")
        assert api.delete(path).status_code == 204
        disk.fill()
        assert api.delete(f"/v1/references/{photos[0]}").status_code == 204
    finally:
        assert service.stop() == 0
    # Stopped there, it starts there: it is what one makes room with.
    disk.fill()
    service = launch(disk.path.parent)
    try:
        api = api_of(service)
        assert "are free" in service.log.read_text()
        disk.fill()
        for one in photos[1:]:
            assert api.delete(f"/v1/references/{one}").status_code == 204
        assert list((disk.path / "files" / "references").glob("*/*")) == []
        disk.empty()
        assert api.upload(photo).status_code == 201
        wait_until_room_is(api, "ok")
        assert "Traceback" not in service.log.read_text()
    finally:
        assert service.stop() == 0
