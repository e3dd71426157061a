"""A copy of ledger and files: made while packs are made, lost, put back."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from tests.migrated import migrated
from tests.unit.jobs.conftest import ask
from worker.errors import SettingInvalid
from worker.jobs.upkeep.backup import back_up, restore
from worker.jobs.upkeep.cleanup import delete_each
from worker.jobs.upkeep.deletion_lists import delete_again, write_list
from worker.jobs.upkeep.missing_files import MissingFiles
from worker.jobs.upkeep.sweeper import Sweeper, WorkerResources
from worker.settings import Settings
from worker.store.files import Storage, open_storage
from worker.store.ledger import Ledger, NewPack, PackResult, PackRow, ReferenceRow, open_ledger


class Machine:
    """One machine with photos and packs."""

    def __init__(self, folder: Path) -> None:
        self.settings = Settings(data_dir=folder)
        self.open()
        migrated(self.ledger)
        row = ReferenceRow(width_px=9, height_px=9, format="jpeg", sha256="0" * 64)
        self.photo = self.ledger.add_reference(row)
        self.publish(self.photo.files_key, "master.zip")

    def open(self) -> None:
        self.ledger: Ledger = open_ledger(self.settings)
        self.storage: Storage = open_storage(self.settings)

    def publish(self, key: str, *names: str) -> None:
        with self.storage.workspace() as folder:
            for name in names:
                (folder / name).write_text(key)
            self.storage.publish(folder, key)

    def asked(self) -> PackRow:
        return self.ledger.enqueue(NewPack(reference_id=self.photo.id, spec={}))

    def ready(self) -> PackRow:
        pack = self.asked()
        claim = self.ledger.claim("w/1")
        assert claim is not None
        assert claim.pack.id == pack.id
        self.publish(claim.files_key, "pack.pdf", "map.png")
        assert self.ledger.finish(claim, PackResult(number="1", files_key=claim.files_key, total=1))
        return self.ledger.pack(pack.id, "local")

    def delete(self, pack: PackRow) -> None:
        delete_each(self.storage, self.ledger.cancel_or_delete(pack.id, "local").keys)

    def lose(self, *, but_deletions: bool = False) -> None:
        self.ledger.close()
        lists, kept = self.settings.data_dir / "files" / "deletions", None
        if but_deletions:
            kept = lists.rename(self.settings.data_dir.with_name("kept"))
        shutil.rmtree(self.settings.data_dir)
        if kept is not None:
            lists.parent.mkdir(parents=True)
            kept.rename(lists)

    def states(self) -> dict[str, str]:
        return {row.id: row.state for row in self.ledger.holdings.of_person("local").packs}


@pytest.fixture
def machine(tmp_path: Path) -> Machine:
    return Machine(tmp_path / "data")


def test_all_is_lost_and_put_back(machine: Machine, tmp_path: Path) -> None:
    """Packs download, half-made ones are made again, deleted ones stay deleted."""
    before, kept, after = machine.ready(), machine.ready(), machine.ready()
    machine.delete(before)
    waiting = machine.asked()
    half = machine.ledger.claim("w/1")
    assert half is not None
    back_up(machine.settings, tmp_path / "copy")
    machine.delete(after)
    assert write_list(machine.ledger, machine.storage) == 1
    machine.lose(but_deletions=True)
    done = restore(machine.settings, tmp_path / "copy")
    machine.open()
    assert done.deleted_again == 1
    assert machine.states() == {kept.id: "ready", waiting.id: "making"}
    assert MissingFiles(machine.ledger, machine.storage).check_some() == 0
    assert not machine.storage.holds(f"{after.files_key}/pack.pdf")
    freed = machine.ledger.free_held_by({"w/1"})
    assert freed.requeued == (waiting.id,)
    machine.ledger.close()


def test_without_the_lists_what_was_deleted_since_comes_back_until_they_do(
    machine: Machine, tmp_path: Path
) -> None:
    """What is true: a copy knows what was deleted before it, and nothing later."""
    pack = machine.ready()
    back_up(machine.settings, tmp_path / "copy")
    machine.delete(pack)
    write_list(machine.ledger, machine.storage)
    shutil.copytree(machine.settings.data_dir / "files" / "deletions", tmp_path / "lists")
    machine.lose()
    restore(machine.settings, tmp_path / "copy")
    machine.open()
    assert machine.states() == {pack.id: "ready"}
    lists = machine.settings.data_dir / "files" / "deletions"
    shutil.copytree(tmp_path / "lists", lists, dirs_exist_ok=True)
    assert delete_again(machine.ledger, machine.storage) == 1
    assert machine.states() == {}
    assert delete_again(machine.ledger, machine.storage) == 0
    machine.ledger.close()


def test_the_next_copy_takes_what_is_new_and_keeps_nothing_deleted(
    machine: Machine, tmp_path: Path
) -> None:
    gone = machine.ready()
    assert back_up(machine.settings, tmp_path / "copy").copied == 2
    machine.delete(gone)
    machine.ready()
    # A pack and the list of what was deleted.
    again = back_up(machine.settings, tmp_path / "copy")
    assert (again.copied, again.removed) == (2, 1)
    left = {path.parent.parent.name for path in (tmp_path / "copy").rglob("pack.pdf")}
    assert gone.id not in left
    assert (tmp_path / "copy" / "ledger.db").stat().st_mode & 0o077 == 0
    machine.ledger.close()


def test_neither_a_ledger_nor_a_mistake_is_overwritten(machine: Machine, tmp_path: Path) -> None:
    back_up(machine.settings, tmp_path / "copy")
    with pytest.raises(SettingInvalid, match="already"):
        restore(machine.settings, tmp_path / "copy")
    elsewhere = Settings(data_dir=tmp_path / "elsewhere")
    with pytest.raises(SettingInvalid, match="that a backup was made into"):
        restore(elsewhere, tmp_path)
    with pytest.raises(SettingInvalid, match="There is no ledger"):
        back_up(elsewhere, tmp_path / "other")
    shared = replace(machine.settings, database_url="postgresql+psycopg://127.0.0.1/ricalco")
    with pytest.raises(SettingInvalid, match="pg_dump"):
        back_up(shared, tmp_path / "other")
    machine.ledger.close()


def test_upkeep_lists_what_was_deleted_and_obeys_lists_it_does_not_know(
    resources: WorkerResources, ledger: Ledger, storage: Storage
) -> None:
    gone, other = ask(ledger, 2)
    for _ in range(2):
        ledger.cancel_or_delete(gone, "local")
    with storage.workspace() as folder:
        (folder / "ids.txt").write_text(f"{other}\n")
        storage.publish(folder, "deletions/from-before")
    Sweeper(resources).sweep()
    assert ledger.holdings.of_person("local").packs == ()
    assert len(list(storage.keys("deletions"))) == 2
    assert ledger.deleted_ids.lists() == {
        key.rpartition("/")[2] for key in storage.keys("deletions")
    }
