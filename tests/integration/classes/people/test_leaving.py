"""Somebody is deleted while a class's files are being sent: nothing of theirs follows."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Iterator
from itertools import count, islice
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from werkzeug.test import TestResponse

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
    studio = furnished.copy(folder / "copy")
    for steps in count(step=every):
        assert steps < MOST_BLOCKS
        studio.become(furnished)
        tutor = studio.asker("tutor")
        batch = tutor.ask("GET", studio.ids["batch"]).json
        answer = tutor.ask("GET", address(batch), buffered=False)
        blocks = answer.iter_encoded()
        begun = list(islice(blocks, steps))
        assert tutor.ask("DELETE", studio.ids[NAMES[1]]).status_code == 204
        rest = b"".join(blocks)
        answer.close()
        yield b"".join(begun) + rest
        studio.close()
        if len(begun) < steps:
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


def test_a_print_run_is_whole_or_breaks_off_when_somebody_is_deleted(
    furnished: Studio, tmp_path: Path
) -> None:
    """What has a length cannot leave anybody out; nothing of who is gone follows."""

    def run(batch: Any) -> str:
        return f"{batch['print_runs'][0]['path']}?covers=true"

    full = ask_run(furnished).data
    seen = set()
    for data in sent_while_leaving(furnished, tmp_path, run, every=STRIDE):
        assert full.startswith(data)
        seen.add(len(data) == len(full))
    assert seen == {True, False}


def ask_run(studio: Studio, method: str = "GET", **headers: str) -> TestResponse:
    """The print run with covers, as it is now."""
    tutor = studio.asker("tutor")
    batch = tutor.ask("GET", studio.ids["batch"]).json
    path = f"{batch['print_runs'][0]['path']}?covers=true"
    return tutor.ask(method, path, headers=headers, buffered=True)


def names_in(run: bytes) -> list[str]:
    """Whose packs are in a print run, as pikepdf reads it."""
    with pikepdf.open(io.BytesIO(run)) as whole, whole.open_outline() as outline:
        assert whole.check_pdf_syntax() == []
        return [one.title for one in outline.root]


def test_a_print_run_has_a_length_an_etag_and_ranges(furnished: Studio, tmp_path: Path) -> None:
    """RFC 9110: 8.6 (Content-Length), 8.8.3 (ETag), 13.1.5 (If-Range), 14 (ranges)."""
    whole, head = ask_run(furnished), ask_run(furnished, "HEAD")
    assert names_in(whole.data) == list(NAMES)
    assert whole.content_length == head.content_length == len(whole.data)
    assert head.data == b""
    assert whole.headers["Accept-Ranges"] == "bytes"
    tag = whole.headers["ETag"]
    assert head.headers["ETag"] == tag
    assert not tag.startswith("W/")
    half = len(whole.data) // 2
    rest = ask_run(furnished, Range=f"bytes={half}-", **{"If-Range": tag})
    assert (rest.status_code, rest.data) == (206, whole.data[half:])
    assert rest.headers["Content-Range"] == f"bytes {half}-{len(whole.data) - 1}/{len(whole.data)}"
    last = ask_run(furnished, Range="bytes=-10")
    assert (last.status_code, last.data) == (206, whole.data[-10:])
    beyond = ask_run(furnished, Range=f"bytes={len(whole.data)}-")
    assert (beyond.status_code, beyond.json["code"]) == (416, "requested-range-not-satisfiable")
    same = ask_run(furnished, **{"If-None-Match": f"W/{tag}"})
    assert (same.status_code, same.data, same.headers["ETag"]) == (304, b"", tag)
    # Somebody leaves: it is another file, and half of the old one is no use.
    studio = furnished.copy(tmp_path / "copy")
    studio.asker("tutor").ask("DELETE", studio.ids[NAMES[1]])
    other = ask_run(studio, Range=f"bytes={half}-", **{"If-Range": tag})
    assert (other.status_code, names_in(other.data)) == (200, [NAMES[0], NAMES[2]])
    assert other.headers["ETag"] != tag
    studio.close()
