"""Storage in a folder: the contract, and what only a folder can suffer."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import textwrap
import threading
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.unit.store.files.storage_contract import StorageContract, publish, read
from tests.waiting import wait_until
from worker.errors import FolderNotWritable, SettingInvalid
from worker.settings import Settings
from worker.store.files import FolderStorage, Storage, open_storage
from worker.store.files.filelock import try_lock

needs_posix = pytest.mark.skipif(sys.platform == "win32", reason="signals and limits of POSIX")


@pytest.fixture
def root(tmp_path: Path) -> Path:
    return tmp_path / "files with a blank"


@pytest.fixture
def storage(root: Path) -> Storage:
    return FolderStorage(root)


class TestFolderStorage(StorageContract):
    """The contract, over a folder."""


def run_script(script: str, root: Path) -> subprocess.CompletedProcess[str]:
    """Run Python in a process of its own, which may be limited or killed."""
    command = [sys.executable, "-c", textwrap.dedent(script), str(root)]
    return subprocess.run(command, capture_output=True, text=True, check=False)


@needs_posix
def test_a_full_disk_is_told_and_leaves_nothing(root: Path, storage: Storage) -> None:
    ended = run_script(
        """
        import resource, signal, sys
        from pathlib import Path
        from worker.errors import StorageFull
        from worker.store.files import FolderStorage

        storage = FolderStorage(Path(sys.argv[1]))
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))
        try:
            with storage.workspace() as folder:
                (folder / "map.png").write_bytes(b"small")
                with (folder / "pack.pdf").open("wb") as file:
                    for _ in range(100):
                        file.write(b"x" * 10_000)
                storage.publish(folder, "packs/p1/a1")
        except StorageFull as error:
            print(error.code)
        """,
        root,
    )
    assert (ended.stdout.strip(), ended.stderr) == ("storage-full", "")
    assert list(storage.keys("packs")) == []
    assert list((root / ".work").iterdir()) == []


@needs_posix
def test_kill_9_leaves_no_file_and_a_workspace_that_is_tidied(root: Path, storage: Storage) -> None:
    ended = run_script(
        """
        import os, signal, sys
        from pathlib import Path
        from worker.store.files import FolderStorage

        storage = FolderStorage(Path(sys.argv[1]))
        with storage.workspace() as folder:
            (folder / "pack.pdf").write_bytes(b"half")
            os.kill(os.getpid(), signal.SIGKILL)
        """,
        root,
    )
    assert ended.returncode == -9
    assert list(storage.keys("packs")) == []
    assert len(list((root / ".work").iterdir())) == 2
    for path in (root / ".work").glob("*.lock"):
        os.utime(path, (time.time() - 60, time.time() - 60))
    assert storage.tidy() == 1
    assert list((root / ".work").iterdir()) == []


def test_a_workspace_just_begun_is_not_tidied(root: Path, storage: Storage) -> None:
    storage.check()
    (root / ".work" / "young.lock").touch()
    assert storage.tidy() == 0


def test_a_folder_that_is_a_file_is_told_by_name(root: Path, storage: Storage) -> None:
    root.write_text("")
    with pytest.raises(FolderNotWritable, match="files with a blank"):
        storage.check()


def test_publishing_and_deleting_side_by_side_lose_nothing(storage: Storage) -> None:
    """A deletion removes the empty parent that a publication is about to use."""
    stop = threading.Event()

    def disturb() -> None:
        while not stop.is_set():
            publish(storage, "packs/p1/other")
            storage.delete("packs/p1/other")

    thread = threading.Thread(target=disturb)
    thread.start()
    for number in range(40):
        publish(storage, f"packs/p1/a{number}")
        assert len(list(storage.keys(f"packs/p1/a{number}"))) == 2
        storage.delete(f"packs/p1/a{number}")
    stop.set()
    thread.join()


def test_a_parent_that_vanishes_while_it_is_made_is_made_again(
    storage: Storage, monkeypatch: pytest.MonkeyPatch
) -> None:
    """`mkdir` finds the folder there, looks whether it is one, and finds it gone."""
    make, refusals = Path.mkdir, [FileExistsError(17, "File exists"), FileNotFoundError(2, "No")]

    def mkdir(path: Path, *arguments: Any, **named: Any) -> None:
        if path.name == "p1" and refusals:
            raise refusals.pop()
        make(path, *arguments, **named)

    monkeypatch.setattr(Path, "mkdir", mkdir)
    publish(storage, "packs/p1/a1")
    assert refusals == []
    assert read(storage, "packs/p1/a1/pack.pdf") == b"%PDF pack"


def test_a_lock_is_held_once(tmp_path: Path) -> None:
    first = try_lock(tmp_path / "x.lock")
    assert first is not None
    assert try_lock(tmp_path / "x.lock") is None
    first.release()
    again = try_lock(tmp_path / "x.lock")
    assert again is not None
    again.release()


HOLDER = """
import os, sys, time
from pathlib import Path
from worker.store.files.filelock import try_lock
held = try_lock(Path(sys.argv[1]))
child = os.fork()
if child:
    print(child, flush=True)
# Until the test ends it.
sys.stdin.read() if child else time.sleep(600)
"""


@needs_posix
def test_a_killed_process_keeps_its_lock_as_long_as_its_forked_child_lives(tmp_path: Path) -> None:
    """flock(2): a lock belongs to the open file, which a forked child shares."""
    path = tmp_path / "x.lock"
    command = [sys.executable, "-c", HOLDER, str(path)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as holder:
        assert holder.stdout is not None
        child = int(holder.stdout.readline())
        holder.kill()
        holder.wait()
        try:
            assert try_lock(path) is None
        finally:
            os.kill(child, signal.SIGKILL)
    wait_until(lambda: (lock := try_lock(path)) is not None and lock.release() is None)


def test_settings_choose_the_folder(tmp_path: Path) -> None:
    settings = Settings(data_dir=tmp_path / "a b")
    chosen = open_storage(settings)
    assert isinstance(chosen, FolderStorage)
    assert chosen.root == tmp_path / "a b" / "files"
    elsewhere = replace(settings, storage_url=(tmp_path / "c d").as_uri())
    assert open_storage(elsewhere).root == tmp_path / "c d"  # type: ignore[attr-defined]


def test_a_kind_of_storage_that_is_not_known_is_refused(tmp_path: Path) -> None:
    settings = Settings(data_dir=tmp_path, storage_url="ftp://somewhere/files")
    with pytest.raises(SettingInvalid, match="RICALCO_STORAGE_URL"):
        open_storage(settings)


class Disk:
    """Notes what is put through to the disk, by inode, and what is renamed to where."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.synced: list[int] = []
        self.appeared: list[tuple[Path, set[int]]] = []
        sync = os.fsync

        def fsync(descriptor: int) -> None:
            self.synced.append(os.fstat(descriptor).st_ino)
            sync(descriptor)

        monkeypatch.setattr(os, "fsync", fsync)
        for name in ("rename", "replace"):
            self._watch(monkeypatch, name, getattr(Path, name))

    def _watch(self, monkeypatch: pytest.MonkeyPatch, name: str, move: Any) -> None:
        def moved(path: Path, target: Path) -> Path:
            after: Path = move(path, target)
            self.appeared.append((Path(target), set(self.synced)))
            self.synced.clear()
            return after

        monkeypatch.setattr(Path, name, moved)


@needs_posix
@pytest.mark.parametrize("again", [False, True])
def test_what_is_published_outlives_a_power_cut(
    root: Path, storage: Storage, monkeypatch: pytest.MonkeyPatch, *, again: bool
) -> None:
    """Bytes before the name that makes them whole; then every folder that a name is new in.

    POSIX promises neither without fsync(2), whose page asks for the folder's own.
    """
    if again:
        publish(storage, "packs/p1/a1")
    disk = Disk(monkeypatch)
    publish(storage, "packs/p1/a1")
    target = root / "packs" / "p1" / "a1"
    synced: set[int] = set()
    for place, before in disk.appeared:
        synced |= before
        if place == target or target in place.parents:
            files = [place] if again else list(target.iterdir())
            assert {path.stat().st_ino for path in files} <= synced
    new = [target] if again else [target, *target.parents[:3]]
    # The folder itself was put through under its first name; those above it afterwards.
    assert {path.stat().st_ino for path in new} <= synced | set(disk.synced)
    assert {path.stat().st_ino for path in new[not again :]} <= set(disk.synced)
    assert root in new or again
