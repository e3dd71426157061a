"""Other accounts of the machine read nothing: folders 700, files 600, under any umask."""

from __future__ import annotations

import io
import os
import stat
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from service.app import create_app
from service.runtime.context import EXTENSION, ServiceContext
from tests.unit.reference.samples import quarters, saved
from worker.settings import Settings
from worker.store.files.privacy import close_all_to_others, close_to_others

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="modes of POSIX")


@pytest.fixture(params=[0o000, 0o022, 0o077], ids=oct)
def umask(request: pytest.FixtureRequest) -> Iterator[int]:
    before = os.umask(request.param)
    yield request.param
    os.umask(before)


def open_places(folder: Path) -> dict[str, str]:
    """What is below a folder, and itself, with a mode that grants others anything."""
    places = [folder, *folder.rglob("*")]
    modes = {str(place.relative_to(folder)): stat.S_IMODE(place.stat().st_mode) for place in places}
    return {place: oct(mode) for place, mode in modes.items() if mode & 0o077}


def work(folder: Path) -> None:
    """Start the service in a folder, take a photo in, and look while it runs."""
    app = create_app(Settings(data_dir=folder))
    context: ServiceContext = app.extensions[EXTENSION]
    # A strip: the less there is to be read, the sooner it is taken in.
    photo = io.BytesIO(saved(quarters(400, 64), "JPEG"))
    answer = app.test_client().post(
        "/v1/references", data={"file": (photo, "photo.jpg")}, headers={"Host": "localhost"}
    )
    assert answer.status_code == 201, answer.text
    with context.storage.workspace() as workspace:
        (workspace / "pack.pdf").write_bytes(b"%PDF")
        context.storage.publish(workspace, "packs/pck_x/a1")
    names = {path.name for path in folder.rglob("*")}
    assert {"ledger.db", "ledger.db-wal", "ledger.db-shm", "master.zip", "pack.pdf"} <= names
    assert open_places(folder) == {}
    context.ledger.close()


def test_what_is_made_is_closed(tmp_path: Path, umask: int) -> None:
    assert umask == os.umask(umask)
    work(tmp_path / "data")


def test_what_was_open_is_closed_at_the_start(tmp_path: Path) -> None:
    folder = tmp_path / "data"
    work(folder)
    for place in (folder, *folder.rglob("*")):
        place.chmod(0o755 if place.is_dir() else 0o644)
    assert len(open_places(folder)) > 8
    work(folder)


def test_no_link_is_followed_out_of_the_folder(tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    outside.write_text("")
    outside.chmod(0o644)
    folder = tmp_path / "files"
    folder.mkdir(0o755)
    (folder / "link").symlink_to(outside)
    close_all_to_others(folder)
    assert stat.S_IMODE(outside.stat().st_mode) == 0o644
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700


def test_a_folder_that_is_everybodys_on_purpose_stays_so(tmp_path: Path) -> None:
    shared = tmp_path / "shared"
    shared.mkdir()
    shared.chmod(0o1777)
    close_to_others(shared)
    assert stat.S_IMODE(shared.stat().st_mode) == 0o1777
