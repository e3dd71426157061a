"""Somebody is deleted while a class's files are being sent: the rest arrives whole."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Iterator
from itertools import count, islice
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from tests.integration.classes.studio import SPEC, Studio
from worker.jobs.pack_from_plan import make_from_plan
from worker.jobs.pack_job import PackWorker
from worker.settings import Settings

NAMES = ("Ann Lee", "Bo Ek", "Şule Öz")
#: More blocks than any of these files is sent in.
MOST_BLOCKS = 600
#: A print run is sent object by object.
STRIDE = 11


@pytest.fixture(scope="module")
def furnished(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Studio]:
    """A class of three with a batch whose packs are really made, each from an own photo."""
    studio = Studio(tmp_path_factory.mktemp("leaving") / "studio")
    studio.keys["tutor"] = studio.context.ledger.people.add_tutor("Tutor")[1].key
    tutor = studio.asker("tutor")
    class_id = tutor.made("/v1/classes", {"name": "Thursday 7b"})["id"]
    path = f"/v1/classes/{class_id}"
    for seed, one in enumerate(tutor.made(f"{path}/students", {"names": NAMES})["items"]):
        studio.ids[one["name"]] = one["links"]["self"]
        studio.send_photo("tutor", seed, f"?student_id={one['id']}")
    batch = tutor.made(f"{path}/batches", {"title": "Krug", "spec": SPEC})
    studio.ids["batch"] = batch["links"]["self"]
    pack_worker = PackWorker(Settings(data_dir=studio.folder), "test", make_from_plan)
    while pack_worker.make_next():
        pass
    yield studio
    studio.close()


def sent_while_leaving(
    furnished: Studio, folder: Path, address: Callable[[Any], str], *, every: int = 1
) -> Iterator[bytes]:
    """What arrives when the second student is deleted after 0, 1, 2 … times `every` blocks."""
    for steps in count(step=every):
        assert steps < MOST_BLOCKS
        studio = furnished.copy(folder / str(steps))
        tutor = studio.asker("tutor")
        batch = tutor.ask("GET", studio.ids["batch"]).json
        answer = tutor.ask("GET", address(batch), buffered=False)
        blocks = answer.iter_encoded()
        begun = b"".join(islice(blocks, steps))
        assert tutor.ask("DELETE", studio.ids[NAMES[1]]).status_code == 204
        rest = b"".join(blocks)
        answer.close()
        yield begun + rest
        studio.close()
        if not rest:
            return


def test_an_archive_is_whole_whenever_somebody_is_deleted(
    furnished: Studio, tmp_path: Path
) -> None:
    seen = set()
    for data in sent_while_leaving(furnished, tmp_path, lambda batch: batch["links"]["archive"]):
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            assert archive.testzip() is None
            names = archive.namelist()
            theirs = [name for name in names if NAMES[1] in name]
            assert len(theirs) in {0, 2}
            seen.add(len(theirs))
            for name in (NAMES[0], NAMES[2]):
                assert sum(name in one for one in names) == 2
            for name in names[:-1]:
                with pikepdf.open(io.BytesIO(archive.read(name))) as pack:
                    assert pack.check_pdf_syntax() == []
            assert names[-1] == "table.csv"
    assert seen == {0, 2}


def test_the_table_of_an_archive_names_nobody_who_is_gone(
    furnished: Studio, tmp_path: Path
) -> None:
    sent = sent_while_leaving(furnished, tmp_path, lambda batch: batch["links"]["archive"])
    data = next(sent)
    sent.close()
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        table = archive.read("table.csv").decode("utf-8-sig")
    assert NAMES[1] not in table
    assert all(name in table for name in (NAMES[0], NAMES[2]))


def test_a_print_run_is_whole_whenever_somebody_is_deleted(
    furnished: Studio, tmp_path: Path
) -> None:
    def run(batch: Any) -> str:
        return f"{batch['print_runs'][0]['path']}?covers=true"

    seen = set()
    for data in sent_while_leaving(furnished, tmp_path, run, every=STRIDE):
        with pikepdf.open(io.BytesIO(data)) as whole, whole.open_outline() as outline:
            assert whole.check_pdf_syntax() == []
            listed = [one.title for one in outline.root]
            assert listed in ([NAMES[0], NAMES[2]], list(NAMES))
            # A separator, a cover and the pack itself for each.
            assert len(whole.pages) % len(listed) == 0
            seen.add(len(listed))
    assert seen == {2, 3}
