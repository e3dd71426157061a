"""Bound together, pages are what they were (read by pikepdf, drawn by PDFium and Poppler)."""

from __future__ import annotations

import io
import shutil
import subprocess
import tracemalloc
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pytest
from PIL import Image, ImageChops

from tests.unit.pages.conftest import maker
from worker.pages.pack import page_names
from worker.pages.pack_content import PackText
from worker.pdf.binding import Part, bind
from worker.pdf.catalog import PageName
from worker.pdf.raster import rasterise
from worker.spec.spec import Spec, Support
from worker.words.catalogue import words_for

SPEC = Spec(support=Support(width_mm=300, height_mm=200))
NAMES = ("Amélie Dvořáková", "ليلى بن يوسف", "王小明", "प्रिया शर्मा", "נועה לוי", "👩🏽‍🎨 Kit")


@pytest.fixture(scope="module")
def bound(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[Path]]:
    """Packs bound together, and each by itself; who changes a file changes a copy."""
    folder = tmp_path_factory.mktemp("bound")
    make = maker(folder)
    packs = [
        make(SPEC, text=PackText(title=name, number="7K3F-Q2ZD"), name=f"{i}.pdf").path
        for i, name in enumerate(NAMES)
    ]
    pages = page_names(make(SPEC, name="again.pdf").plan, words_for("en"))
    parts = (
        Part(
            path=path,
            name=name,
            pages=[replace(page, label=f"{name}, {page.label}") for page in pages],
        )
        for path, name in zip(packs, NAMES, strict=True)
    )
    whole = folder / "whole.pdf"
    whole.write_bytes(b"".join(bind(parts, title="Класс Ж")))
    return whole, packs


def images(page: pikepdf.Page) -> list[bytes]:
    """The JPEG files on a page."""
    return [image.read_raw_bytes() for image in page.Resources.get("/XObject", {}).values()]


def test_boxes_and_content_are_kept(bound: tuple[Path, list[Path]]) -> None:
    whole, packs = bound
    with pikepdf.open(whole) as run:
        assert run.check_pdf_syntax() == []
        pages = iter(run.pages)
        for path in packs:
            with pikepdf.open(path) as pack:
                for page in pack.pages:
                    copy = next(pages)
                    assert copy.MediaBox == page.MediaBox
                    assert copy.get("/TrimBox") == page.get("/TrimBox")
                    assert copy.Contents.read_raw_bytes() == page.Contents.read_raw_bytes()
                    assert images(copy) == images(page)
        assert next(pages, None) is None


def test_it_asks_to_be_printed_at_actual_size_on_one_side(bound: tuple[Path, list[Path]]) -> None:
    with pikepdf.open(bound[0]) as run:
        assert run.Root.ViewerPreferences.PrintScaling == "/None"
        assert run.Root.ViewerPreferences.Duplex == "/Simplex"
        assert run.Root.ViewerPreferences.PickTrayByPDFSize is True
        assert str(run.Root.Lang) == "en"
        assert run.pdf_version == "1.7"
        assert str(run.docinfo["/Title"]) == "Класс Ж"


def test_parts_are_listed_by_name(bound: tuple[Path, list[Path]]) -> None:
    with pikepdf.open(bound[0]) as run, run.open_outline() as outline:
        assert [item.title for item in outline.root] == list(NAMES)
        first = [run.pages.index(pikepdf.Page(item.destination[0])) for item in outline.root]
        assert first == [i * len(run.pages) // len(NAMES) for i in range(len(NAMES))]


def test_below_each_name_stand_map_guide_and_sheets(bound: tuple[Path, list[Path]]) -> None:
    with pikepdf.open(bound[0]) as run, run.open_outline() as outline:
        found = []
        for item in outline.root:
            assert item.is_closed
            below = [run.pages.index(pikepdf.Page(each.destination[0])) for each in item.children]
            found += [run.pages[page].label for page in below]
            assert [each.title for each in item.children] == ["Map", "Guide", "1·1", "1·2"]
        each = ("Map", "Guide 1", "1·1", "1·2")
        assert found == [f"{name}, {label}" for name in NAMES for label in each]


def test_of_the_parts_own_bookmarks_nothing_is_left(bound: tuple[Path, list[Path]]) -> None:
    with pikepdf.open(bound[0]) as run:
        roots = [
            each
            for each in run.objects
            if isinstance(each, pikepdf.Dictionary) and each.get("/Type") == "/Outlines"
        ]
        entries = [
            each for each in run.objects if isinstance(each, pikepdf.Dictionary) and "/Dest" in each
        ]
        assert len(roots) == 1
        assert len(entries) == len(NAMES) * 5


def test_a_part_without_names_counts_its_pages(make: Callable[..., Any]) -> None:
    path = make(SPEC).path
    parts = [Part(path=path, pages=[PageName(label="First")]), Part(path=path)]
    with pikepdf.open(io.BytesIO(b"".join(bind(parts, title="x")))) as run:
        assert run.check_pdf_syntax() == []
        labels = [page.label for page in run.pages]
        assert labels == ["First", *map(str, range(2, len(run.pages) + 1))]
        assert "/Outlines" not in run.Root


def test_pages_look_as_they_did(bound: tuple[Path, list[Path]]) -> None:
    whole, packs = bound
    with pikepdf.open(packs[0]) as pack:
        each = len(pack.pages)
    for number, path in enumerate(packs):
        for page in (1, each):
            was, now = rasterise(path, page, 50), rasterise(whole, number * each + page, 50)
            assert ImageChops.difference(was, now).getbbox() is None


def test_poppler_reads_it_without_a_word(bound: tuple[Path, list[Path]], tmp_path: Path) -> None:
    command = ["pdftoppm", "-r", "20", "-png", str(bound[0]), str(tmp_path / "page")]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    assert done.stderr == ""
    with Image.open(max(tmp_path.glob("page-*.png"))) as last:
        assert np.asarray(last.convert("L")).min() < 255


def test_the_same_parts_give_the_same_bytes(bound: tuple[Path, list[Path]]) -> None:
    parts = [Part(path=path) for path in bound[1]]
    first, again = (b"".join(bind(parts, title="x")) for _ in range(2))
    assert first == again


def test_bound_once_more_it_still_reads(bound: tuple[Path, list[Path]]) -> None:
    """What is written is as simple as what is read."""
    again = b"".join(bind([Part(path=bound[0])] * 2, title="x"))
    with pikepdf.open(io.BytesIO(again)) as run, pikepdf.open(bound[0]) as once:
        assert run.check_pdf_syntax() == []
        assert len(run.pages) == 2 * len(once.pages)


def test_memory_does_not_grow_with_the_run(
    make: Callable[..., Any], photo: Callable[..., Image.Image]
) -> None:
    path = make(SPEC, draw=photo).path

    def peak(count: int) -> int:
        tracemalloc.start()
        sent = sum(len(block) for block in bind([Part(path=path)] * count, title="x"))
        top = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        assert sent > count * path.stat().st_size * 0.9
        return top

    few, many = peak(5), peak(200)
    assert many < few + 2_000_000


@pytest.mark.parametrize("content", [b"", b"%PDF-1.7\nnothing", b"%PDF-1.7\n" + b"x" * 5000])
def test_what_is_not_ours_is_refused(content: bytes, tmp_path: Path) -> None:
    path = tmp_path / "other.pdf"
    path.write_bytes(content)
    with pytest.raises(ValueError, match="This PDF"):
        b"".join(bind([Part(path=path)], title="x"))


def test_it_has_a_length_and_goes_on_from_any_place(bound: tuple[Path, list[Path]]) -> None:
    document = bind([Part(path=path, name="x") for path in bound[1]], title="x")
    whole = b"".join(document)
    assert len(whole) == document.length
    places = [0, 1, len(whole) // 2, len(whole) - 1, len(whole)]
    places += [one.start + more for one in document.placed for more in (-1, 0, 1, 5000)]
    for place in places:
        assert b"".join(document.blocks(place)) == whole[place:]
    assert all(document.blocks(7))


def test_its_digest_is_that_of_its_content(bound: tuple[Path, list[Path]]) -> None:
    parts = [Part(path=path) for path in bound[1]]
    one = bind(parts, title="x")
    assert bind(list(parts), title="x").digest == one.digest
    for other in (
        bind(parts, title="y"),
        bind(parts[::-1], title="x"),
        bind(parts[1:], title="x"),
        bind([replace(parts[0], name="Kit"), *parts[1:]], title="x"),
    ):
        assert other.digest != one.digest


def test_a_part_that_is_gone_ends_it(bound: tuple[Path, list[Path]], tmp_path: Path) -> None:
    copies = [Path(shutil.copy(path, tmp_path)) for path in bound[1]]
    document = bind([Part(path=path) for path in copies], title="x")
    copies[2].unlink()
    sent: list[bytes] = []
    with pytest.raises(FileNotFoundError):
        sent.extend(document)
    assert sum(map(len, sent)) == document.placed[2].start
