"""The demo's twelve packs in four renderers of PDF: whether each shows the pages alike.

    python -m tests.bench renderers FOLDER

PDFium (Chromium), Poppler, Ghostscript (print shops) and MuPDF draw a page of each kind, those of
them that are installed, and `qpdf --check` reads every file. What is written into the folder:
the packs, and a picture of differences for each page that differs.

Renderers place letters on whole pixels or between them, draw a thin line a pixel wider or narrower,
and soften edges each in its own way: no difference of the page. So two things count as different,
at 300 pixels per inch:

- ink that the other page lacks: a pixel darker than `DARK` where within three pixels, a quarter of
  a millimetre, nothing is darker than `LIGHT`; and the same of white in black;
- another tone: a patch at least three pixels thick in which every pixel is more than `LEVELS` away
  from all nine around its place on the other page.

Two figures are told of each page, both against PDFium: the share of its pixels that differ so, and
the largest patch of them, in pixels.
"""

from __future__ import annotations

import io
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterable, Sequence
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt
from PIL import Image

from tests.prints.joined import by_pdfium, by_poppler

DEMO = Path(__file__).parents[2] / "deploy" / "demo"
PPI = 300
#: Of 255.
DARK, LIGHT = 96, 160
#: Tints and greys of a picture are a few levels apart, by how they are rounded and resampled.
LEVELS = 24
_NINE, _FURTHER = np.ones((3, 3), np.uint8), np.ones((7, 7), np.uint8)
Page = npt.NDArray[np.uint8]
Flags = npt.NDArray[np.bool_]
Render = Callable[[Path, int], Page]


def by_ghostscript(pdf: Path, page: int) -> Page:
    """One page rendered by Ghostscript, softened as the others are."""
    command = ["gs", "-q", "-dSAFER", "-dBATCH", "-dNOPAUSE", "-sDEVICE=pnggray", f"-r{PPI}"]
    command += ["-dTextAlphaBits=4", "-dGraphicsAlphaBits=4", "-dInterpolateControl=-1"]
    command += [f"-dFirstPage={page}", f"-dLastPage={page}", "-sOutputFile=-", str(pdf)]
    shown = subprocess.run(command, capture_output=True, check=True).stdout
    return np.asarray(Image.open(io.BytesIO(shown)).convert("L"))


def by_mupdf(pdf: Path, page: int) -> Page:
    """One page rendered by MuPDF."""
    library = import_module("pymupdf")
    with library.open(pdf) as document:
        drawn = document[page - 1].get_pixmap(dpi=PPI, colorspace=library.csGRAY)
        return np.frombuffer(drawn.samples, np.uint8).reshape(drawn.h, drawn.w).copy()


#: What each is drawn with, and whether it is there.
RENDERERS: dict[str, tuple[Render, bool]] = {
    "Poppler": (lambda pdf, page: by_poppler(pdf, page, PPI), bool(shutil.which("pdftoppm"))),
    "Ghostscript": (by_ghostscript, bool(shutil.which("gs"))),
    "MuPDF": (by_mupdf, find_spec("pymupdf") is not None),
}


def different(one: Page, other: Page) -> Flags:
    """Pixels of one page or the other that differ, as this module counts it."""
    found = np.zeros(one.shape, dtype=bool)
    for this, that in ((one, other), (other, one)):
        level = this.astype(np.int16)
        found |= _thick(level < cv2.erode(that, _NINE).astype(np.int16) - LEVELS)
        found |= _thick(level > cv2.dilate(that, _NINE).astype(np.int16) + LEVELS)
        found |= (this < DARK) & (cv2.erode(that, _FURTHER) > LIGHT)
        found |= (this > LIGHT) & (cv2.dilate(that, _FURTHER) < DARK)
    return found


def _thick(flags: Flags) -> Flags:
    """What is left of patches that are at least three pixels thick."""
    return cv2.morphologyEx(flags.astype(np.uint8), cv2.MORPH_OPEN, _NINE) > 0


def largest_patch(found: Flags) -> int:
    """Pixels of the largest patch that hangs together."""
    count, _, boxes, _ = cv2.connectedComponentsWithStats(found.astype(np.uint8), connectivity=8)
    return int(boxes[1:, cv2.CC_STAT_AREA].max()) if count > 1 else 0


def report(names: Sequence[str] = ()) -> None:
    """Print the tables; the folder that is named keeps packs and differences."""
    with tempfile.TemporaryDirectory() as kept:
        folder = Path(names[0] if names else kept)
        folder.mkdir(parents=True, exist_ok=True)
        missing = [name for name, (_, there) in RENDERERS.items() if not there]
        print(f"not installed: {', '.join(missing) or 'none'}")
        print("pack | page | differs from PDFium: share of pixels, largest patch")
        for pack in _packs(folder):
            for kind, page in pack.kinds.items():
                print(f"{pack.name} | {kind} | {_compared(folder, pack, kind, page)}", flush=True)
            print(f"{pack.name} | qpdf | {checked(pack.pdf)}", flush=True)


def _packs(folder: Path) -> Iterable[Any]:
    """The packs, made by the demo's script, which is found in its folder."""
    sys.path.append(str(DEMO))
    still_life = import_module("pictures").STILL_LIFE
    packs: Iterable[Any] = import_module("packs").made(still_life, folder)
    return packs


def _compared(folder: Path, pack: Any, kind: str, page: int) -> str:
    """The figures of one page, renderer by renderer."""
    shown = by_pdfium(pack.pdf, page, PPI)
    shown = shown.reshape(shown.shape[:2])
    figures = []
    for name, (render, there) in RENDERERS.items():
        if there:
            other = _cut_alike(render(pack.pdf, page), shown)
            found = different(shown, other)
            patch = largest_patch(found)
            figures.append(f"{name} {found.mean():.4%}, {patch} px")
            if patch:
                _keep(folder / f"{pack.name}-{kind.replace(' ', '-')}-{name}.png", shown, found)
    return " | ".join(figures)


def _cut_alike(page: Page, like: Page) -> Page:
    """Whether a page ends in a whole pixel or a part of one, renderers decide each for itself.

    Raises:
        AssertionError: It is another size.
    """
    sizes = zip(page.shape, like.shape, strict=True)
    assert all(abs(one - other) <= 1 for one, other in sizes), "pages have one size"
    more = [(0, max(0, other - one)) for one, other in zip(page.shape, like.shape, strict=True)]
    return np.pad(page, more, mode="edge")[: like.shape[0], : like.shape[1]]


def _keep(path: Path, shown: Page, found: Flags) -> None:
    """The page, faint, with what differs in red."""
    picture = np.repeat((255 - (255 - shown) // 4)[:, :, None], 3, axis=2).astype(np.uint8)
    picture[cv2.dilate(found.astype(np.uint8), _FURTHER) > 0] = (220, 0, 0)
    Image.fromarray(picture).save(path)


def checked(pdf: Path) -> str:
    """What qpdf says of a file: its last line, or all of them where it finds something."""
    if not shutil.which("qpdf"):
        return "not installed"
    done = subprocess.run(
        ["qpdf", "--check", str(pdf)], capture_output=True, text=True, check=False
    )
    told = (done.stdout + done.stderr).strip().splitlines()
    return "clean" if done.returncode == 0 else " / ".join(told)
