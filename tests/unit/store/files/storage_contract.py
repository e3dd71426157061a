"""What every storage must do. A new kind inherits `StorageContract` and gives a fixture.

class TestMyStorage(StorageContract):
    @pytest.fixture
    def storage(self) -> Storage: ...
"""

from __future__ import annotations

from pathlib import Path

import pytest

from worker.errors import NotFound
from worker.store.files import ShownFile, Storage

SHOWN = ShownFile(
    content_type="application/pdf",
    disposition="inline; filename=\"one two.pdf\"; filename*=UTF-8''%E9%9D%99.pdf",
    caching="private, no-cache",
)
FILES = {"pack.pdf": b"%PDF pack", "map.png": b"map"}


def publish(storage: Storage, key: str, files: dict[str, bytes] | None = None) -> None:
    with storage.workspace() as folder:
        for name, content in (FILES if files is None else files).items():
            (folder / name).write_bytes(content)
        storage.publish(folder, key)


def read(storage: Storage, key: str) -> bytes:
    with storage.file(key) as path:
        return path.read_bytes()


class StorageContract:
    """Tests that use a fixture `storage`: a fresh one."""

    def test_what_was_published_can_be_read(self, storage: Storage) -> None:
        publish(storage, "packs/p1/a1")
        assert {name: read(storage, f"packs/p1/a1/{name}") for name in FILES} == FILES

    def test_subfolders_of_a_workspace_are_not_published(self, storage: Storage) -> None:
        with storage.workspace() as folder:
            (folder / "sub").mkdir()
            (folder / "sub" / "x").write_bytes(b"x")
            (folder / "y").write_bytes(b"y")
            storage.publish(folder, "packs/p1/a1")
        assert list(storage.keys("packs/p1/a1")) == ["packs/p1/a1/y"]

    def test_publishing_again_replaces_file_by_file(self, storage: Storage) -> None:
        publish(storage, "packs/p1/a1")
        publish(storage, "packs/p1/a1", {"map.png": b"newer"})
        assert read(storage, "packs/p1/a1/map.png") == b"newer"
        assert read(storage, "packs/p1/a1/pack.pdf") == FILES["pack.pdf"]

    @pytest.mark.parametrize("key", ["packs/p1/a1/none.pdf", "packs/p1/a1", "packs", "none/x"])
    def test_what_is_no_file_is_not_found(self, storage: Storage, key: str) -> None:
        publish(storage, "packs/p1/a1")
        with pytest.raises(NotFound), storage.file(key):
            pass

    @pytest.mark.parametrize(
        "key",
        ["../x", "packs/../../etc/passwd", "/etc/passwd", "packs//x", "packs/.work", "", "a\\b"],
    )
    def test_keys_cannot_leave_the_storage(self, storage: Storage, key: str) -> None:
        with pytest.raises(NotFound), storage.file(key):
            pass
        with storage.workspace() as folder, pytest.raises(ValueError, match="key"):
            storage.publish(folder, key)
        with pytest.raises(ValueError, match="key"):
            storage.delete(key)

    def test_deleting_takes_the_whole_subtree_and_nothing_else(self, storage: Storage) -> None:
        publish(storage, "packs/p1/a1")
        publish(storage, "packs/p1/a2")
        publish(storage, "packs/p2/a1")
        storage.delete("packs/p1/a1")
        assert list(storage.keys("packs/p1")) == ["packs/p1/a2"]
        storage.delete("packs/p1")
        assert list(storage.keys("packs")) == ["packs/p2"]
        storage.delete("packs/p2/a1/map.png")
        assert list(storage.keys("packs/p2/a1")) == ["packs/p2/a1/pack.pdf"]

    def test_what_is_empty_is_no_key(self, storage: Storage) -> None:
        publish(storage, "packs/p1/a1")
        storage.delete("packs/p1/a1")
        assert list(storage.keys("packs")) == []
        assert list(storage.keys("references")) == []

    def test_deleting_nothing_is_no_error(self, storage: Storage) -> None:
        storage.delete("packs/none")
        storage.delete("none/none/none")

    def test_keys_are_the_direct_children_in_order(self, storage: Storage) -> None:
        for key in ("references/b", "references/a", "packs/c"):
            publish(storage, key)
        assert list(storage.keys("references")) == ["references/a", "references/b"]

    def test_age_runs_from_the_publishing(self, storage: Storage) -> None:
        publish(storage, "references/a")
        assert 0 <= storage.age_s("references/a") < 60
        assert storage.age_s("references/none") == 0

    def test_a_workspace_is_removed_also_after_an_error(self, storage: Storage) -> None:
        def work() -> Path:
            with storage.workspace() as folder:
                kept.append(folder)
                (folder / "half").write_bytes(b"half")
                raise ZeroDivisionError

        kept: list[Path] = []
        with pytest.raises(ZeroDivisionError):
            work()
        assert not kept[0].exists()

    def test_two_workspaces_are_not_the_same(self, storage: Storage) -> None:
        with storage.workspace() as first, storage.workspace() as second:
            assert first != second

    def test_tidying_leaves_workspaces_alone_that_are_in_use(self, storage: Storage) -> None:
        with storage.workspace() as folder:
            (folder / "half").write_bytes(b"half")
            assert storage.tidy() == 0
            assert (folder / "half").exists()

    def test_only_well_formed_keys_are_presigned(self, storage: Storage) -> None:
        for key in ("../x", "packs//x", "/etc/passwd"):
            with pytest.raises(NotFound):
                storage.presigned(key, SHOWN, outside=True)

    def test_a_check_leaves_nothing_behind(self, storage: Storage) -> None:
        storage.check()
        assert list(storage.keys("packs")) == []
