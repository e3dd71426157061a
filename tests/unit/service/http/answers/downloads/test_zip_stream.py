"""The streamed archive, opened by Python's zipfile and by unzip where it is installed."""

from __future__ import annotations

import io
import shutil
import subprocess
import tracemalloc
import zipfile
from pathlib import Path

import pytest

from service.http.answers.downloads.zip_stream import Entry, stream_archive

NAMES = ("Amélie.pdf", "ليلى بن يوسف.pdf", "王小明.pdf", "प्रिया.pdf", "נועה.pdf", "👩🏽‍🎨 Kit.pdf")
MADE_AT = 1_790_000_000.0


def test_names_and_content_come_out_as_they_went_in(tmp_path: Path) -> None:
    file = tmp_path / "pack.pdf"
    file.write_bytes(bytes(range(256)) * 4000)
    entries = [Entry(name=name, content=file.open("rb")) for name in NAMES]
    entries.append(Entry(name="table.csv", content="\ufeffStudent".encode()))
    data = b"".join(stream_archive(entries, made_at=MADE_AT))
    for entry in entries[:-1]:
        assert not isinstance(entry.content, bytes)
        entry.content.close()
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert archive.testzip() is None
        assert archive.namelist() == [*NAMES, "table.csv"]
        assert archive.read(NAMES[2]) == file.read_bytes()
        # Bit 11: the name is UTF-8 (APPNOTE.TXT 4.4.4).
        assert all(about.flag_bits & 0x800 for about in archive.infolist()[:-1])
        assert {about.compress_type for about in archive.infolist()} == {zipfile.ZIP_STORED}
        assert {about.date_time[0] for about in archive.infolist()} == {2026}


@pytest.mark.skipif(shutil.which("unzip") is None, reason="unzip is not installed")
def test_another_program_unpacks_it(tmp_path: Path) -> None:
    entries = [Entry(name=name, content=name.encode()) for name in NAMES]
    path = tmp_path / "a.zip"
    path.write_bytes(b"".join(stream_archive(entries, made_at=0)))
    subprocess.run(["unzip", "-q", str(path), "-d", str(tmp_path / "out")], check=True)
    found = {file.name: file.read_text() for file in (tmp_path / "out").iterdir()}
    assert found == {name: name for name in NAMES}


def test_an_archive_of_nothing_is_one() -> None:
    data = b"".join(stream_archive([], made_at=MADE_AT))
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert archive.namelist() == []


def test_memory_does_not_grow_with_the_archive(tmp_path: Path) -> None:
    file = tmp_path / "pack.pdf"
    file.write_bytes(b"x" * 3_000_000)
    opened = file.open("rb")
    tracemalloc.start()
    entries = (Entry(name=f"{number}.pdf", content=opened) for number in range(40))
    blocks = stream_archive(entries, made_at=MADE_AT)
    total = sum(map(len, blocks))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    opened.close()
    assert total > 120_000_000
    assert peak < 5_000_000
