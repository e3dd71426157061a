"""A photograph, its plan and its pieces, made without the imaging room."""

from __future__ import annotations

import io
import subprocess
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from skimage import data

from worker.layout.planning import plan_sheets
from worker.pages.pack import PrintedPiece, write_pack
from worker.pages.pack_content import PackContent, PackText
from worker.spec.plan import Piece, Plan
from worker.spec.spec import Spec
from worker.spec.study import DetailLevel, ReferenceStudy

TEXT = PackText(title="Still life with a pear", number="7K3F-Q2ZD")


@dataclass
class Made:
    """A pack on disk and what it was made from."""

    path: Path
    spec: Spec
    plan: Plan
    pieces: list[PrintedPiece]


def plan_for(spec: Spec) -> Plan:
    shape = (250, 375)
    density = np.random.default_rng(7).random(shape).astype(np.float32) * 0.05
    study = ReferenceStudy(
        width_px=3000,
        height_px=2000,
        levels=(DetailLevel(density=density, pixel_size_px=8),),
        thumb=np.full((213, 320), 120, np.uint8),
    )
    return plan_sheets(spec, study)


def content_for(spec: Spec, text: PackText = TEXT) -> PackContent:
    return PackContent(spec=spec, plan=plan_for(spec), text=text)


def jpeg_of(picture: Image.Image) -> bytes:
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=90)
    return out.getvalue()


def printed(piece: Piece, picture: Image.Image) -> PrintedPiece:
    return PrintedPiece(piece, jpeg_of(picture), picture.width, picture.height, picture.mode == "L")


def white(piece: Piece) -> Image.Image:
    rect = piece.picture_rect_mm
    return Image.new("L", (round(rect.width), round(rect.height)), 255)


def photograph(piece: Piece) -> Image.Image:
    """The astronaut that ships with scikit-image, in the piece's proportions."""
    rect = piece.picture_rect_mm
    size = (round(rect.width * 3), round(rect.height * 3))
    return Image.fromarray(data.astronaut()).resize(size).convert("L")


def maker(folder: Path) -> Callable[..., Made]:
    """Makes packs in a folder."""

    def made(
        spec: Spec,
        *,
        draw: Callable[[Piece], Image.Image] = white,
        text: PackText = TEXT,
        name: str = "pack.pdf",
        small: bool = False,
    ) -> Made:
        plan = plan_for(spec)
        pieces = [printed(piece, draw(piece)) for piece in plan.pieces]
        faint = Image.fromarray(data.astronaut()).resize((300, 200))
        write_pack(
            folder / name,
            spec=spec,
            plan=plan,
            text=text,
            faint=faint,
            printed=iter(pieces),
            small=faint if small else None,
        )
        return Made(folder / name, spec, plan, pieces)

    return made


@pytest.fixture
def make(tmp_path: Path) -> Callable[..., Made]:
    return maker(tmp_path)


def words_on(path: Path, page: int) -> str:
    """The text of a page as Poppler reads it; no-break spaces are spaces."""
    command = ["pdftotext", "-layout", "-f", str(page), "-l", str(page), str(path), "-"]
    told = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    return told.replace("\u00a0", " ")


@pytest.fixture
def read() -> Callable[[Path, int], str]:
    return words_on


@pytest.fixture
def pack() -> Callable[..., PackContent]:
    return content_for


@pytest.fixture
def photo() -> Callable[[Piece], Image.Image]:
    return photograph
