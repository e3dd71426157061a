"""Flat pictures: without loss, small, and bound into print runs as they are.

Read back by pikepdf, drawn by PDFium and Poppler.
"""

from __future__ import annotations

import io
import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pikepdf
import pytest
from PIL import Image

from worker.pdf.binding import Part, bind
from worker.pdf.indexed_image import IndexedImage, index_image
from worker.pdf.raster import rasterise
from worker.pdf.writer import PdfWriter
from worker.spec.plan import Size

#: One pixel is one point, and four by four when rendered.
SIZE_PX = (215, 93)


def picture_of(tones: int) -> Image.Image:
    """Slanting stripes of so many greys, with paper white."""
    y, x = np.mgrid[0 : SIZE_PX[1], 0 : SIZE_PX[0]]
    greys = np.linspace(0, 255, tones).astype(np.uint8)
    return Image.fromarray(greys[(x + 2 * y) // 9 % tones])


def drawn(path: Path, *pictures: Image.Image | IndexedImage) -> Path:
    """Each picture on a page of its own size."""
    size = Size(SIZE_PX[0] * 25.4 / 72, SIZE_PX[1] * 25.4 / 72)
    with PdfWriter(path, size, title="Tones") as pdf:
        for picture in pictures:
            pdf.draw_indexed(picture, matrix=f"{SIZE_PX[0]} 0 0 {SIZE_PX[1]} 0 0")
            pdf.finish_page()
        pdf.save()
    return path


def only_image(page: pikepdf.Page) -> Any:
    (image,) = page.Resources.XObject.values()
    return image


def rendered(path: Path, page: int) -> npt.NDArray[np.uint8]:
    """The middle of each pixel, as PDFium draws it."""
    drawn_large = np.asarray(rasterise(path, page, 288).convert("L"))
    return drawn_large[2::4, 2::4][: SIZE_PX[1], : SIZE_PX[0]]


@pytest.mark.parametrize(("tones", "bits"), [(3, 2), (5, 4), (7, 4), (16, 4), (17, 8)])
def test_every_pixel_is_kept(tmp_path: Path, tones: int, bits: int) -> None:
    picture = picture_of(tones)
    path = drawn(tmp_path / "flat.pdf", picture)
    with pikepdf.open(path) as pdf:
        assert pdf.check_pdf_syntax() == []
        image = only_image(pdf.pages[0])
        assert int(image.BitsPerComponent) == bits
        read = pikepdf.PdfImage(image).as_pil_image().convert("L")
    assert np.array_equal(np.asarray(read), np.asarray(picture))


@pytest.mark.parametrize("tones", [2, 3, 7, 40])
def test_pdfium_and_poppler_show_the_same_greys(tmp_path: Path, tones: int) -> None:
    picture = picture_of(tones)
    path = drawn(tmp_path / "flat.pdf", picture)
    assert np.array_equal(rendered(path, 1), np.asarray(picture))
    command = ["pdftoppm", "-r", "288", "-gray", "-singlefile", str(path), str(tmp_path / "page")]
    subprocess.run(command, check=True)
    poppler = np.asarray(Image.open(tmp_path / "page.pgm"))[2::4, 2::4]
    poppler = poppler[: SIZE_PX[1], : SIZE_PX[0]]
    assert np.array_equal(poppler, np.asarray(picture))


def test_one_tone_alone_is_a_picture_too(tmp_path: Path) -> None:
    white = Image.new("L", SIZE_PX, 255)
    path = drawn(tmp_path / "white.pdf", white)
    assert np.array_equal(rendered(path, 1), np.asarray(white))


def test_a_sheet_of_tones_is_small() -> None:
    # An A4 piece at 200 ppi, in shapes of some centimetres.
    y, x = np.mgrid[0:2200, 0:1600]
    waves = np.sin(x / 90) + np.cos(y / 120) + np.sin((x + y) / 200)
    tones = np.digitize(waves, (-1.2, -0.3, 0.4, 1.3))
    greys = np.array([30, 90, 150, 200, 255], np.uint8)
    picture, jpeg = Image.fromarray(greys[tones]), io.BytesIO()
    picture.save(jpeg, "JPEG", quality=90)
    packed = index_image(picture)
    assert len(packed.content) < 60_000
    assert len(packed.content) < len(jpeg.getvalue()) / 3


def test_it_is_packed_in_strips_as_in_one(tmp_path: Path) -> None:
    tall = Image.fromarray(np.tile(np.asarray(picture_of(5)), (60, 5)))
    assert tall.width * tall.height > 2 << 20
    with pikepdf.open(drawn(tmp_path / "tall.pdf", tall)) as pdf:
        image = only_image(pdf.pages[0])
        read = pikepdf.PdfImage(image).as_pil_image().convert("L")
    assert np.array_equal(np.asarray(read), np.asarray(tall))


def test_a_print_run_keeps_them_byte_for_byte(tmp_path: Path) -> None:
    pictures = [picture_of(tones) for tones in (3, 5, 40)]
    paths = [drawn(tmp_path / f"{i}.pdf", picture) for i, picture in enumerate(pictures)]
    # A palette or pixels that look like a reference or a stream must not be taken for one.
    greys = [ord(letter) for letter in "1 0 R >>strea"]
    odd = Image.fromarray(np.resize(np.array(greys, np.uint8), SIZE_PX[::-1]))
    paths.append(drawn(tmp_path / "odd.pdf", odd))
    whole = tmp_path / "whole.pdf"
    whole.write_bytes(b"".join(bind([Part(path=path) for path in paths], title="Run")))
    with pikepdf.open(whole) as run:
        assert run.check_pdf_syntax() == []
        for page, path in zip(run.pages, paths, strict=True):
            with pikepdf.open(path) as part:
                copy, image = only_image(page), only_image(part.pages[0])
                assert copy.read_raw_bytes() == image.read_raw_bytes()
                assert repr(copy.ColorSpace) == repr(image.ColorSpace)
    for number, picture in enumerate([*pictures, odd], 1):
        assert np.array_equal(rendered(whole, number), np.asarray(picture))


def test_what_was_packed_before_is_drawn_the_same(tmp_path: Path) -> None:
    picture = picture_of(5)
    now = drawn(tmp_path / "now.pdf", picture).read_bytes()
    assert drawn(tmp_path / "then.pdf", index_image(picture)).read_bytes() == now
    assert io.BytesIO(now).read(5) == b"%PDF-"
