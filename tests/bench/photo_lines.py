"""Outlines of photographs in a folder, at any detail or at a given length of line."""

from __future__ import annotations

import contextlib
import dataclasses
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image, ImageOps

from worker.layout.planning import plan_sheets
from worker.picture.outline import find_strokes
from worker.reference.decode import Limits
from worker.reference.intake import take_in
from worker.reference.master import Master
from worker.reference.study_file import load_study
from worker.spec.spec import Area, Outline, Spec, Support, Tone
from worker.spec.strokes import Strokes

LONG_MM, SHORT_MM = 600.0, 400.0
#: Detail is halved so often at most; strokes are then left out to the exact length.
_HALVINGS = 7
#: Close enough, before strokes are left out.
_NEAR = 0.02
#: Less apart than this lengths are the same but for the order in which they are added up.
_SAME = 1e-6


def photos_in(folder: Path) -> list[Path]:
    """The photographs of a folder, by name."""
    return sorted(path for path in folder.iterdir() if path.suffix in {".jpg", ".png"})


@dataclass(frozen=True)
class Photo:
    """A photograph that was taken in.

    Attributes:
        folder: Where its study lies.
        master: Its master, open.
        crop: What is drawn of it, in shares.
        width_mm: The picture's width.
        height_mm: Its height.
    """

    folder: Path
    master: Master
    crop: Area
    width_mm: float
    height_mm: float

    def outlines(self, detail: float) -> Strokes:
        """Its lines with everything else at its default."""
        spec = Spec(
            support=Support(width_mm=self.width_mm, height_mm=self.height_mm),
            crop=self.crop,
            tone=Tone(style="outline", outline=Outline(detail=detail)),
        )
        study = load_study(self.folder / "study.npz")
        return find_strokes(self.master, spec, plan_sheets(spec, study))

    def outlines_of(self, length_mm: float, *, first: float | None = None) -> tuple[Strokes, float]:
        """Its lines at a given length, and the detail at which they were found.

        The least detail that gives at least as much line is searched by halving; of what is
        too much the lightest strokes are left out, of equally heavy ones the shortest. There
        is less line only if everything that is found at full detail is less.

        Args:
            length_mm: How much line.
            first: A detail that is taken if it gives as much and hardly more: lines that gave
                the length at this detail are the same then, which others would not be.
        """
        if first is not None:
            strokes = self.outlines(first)
            if length_mm * (1 - _SAME) <= total_mm(strokes) <= length_mm * (1 + _NEAR):
                return heaviest(strokes, length_mm * (1 + _SAME)), first
        low, high = 0.0, 1.0
        strokes, at = self.outlines(high), high
        for _ in range(_HALVINGS):
            if total_mm(strokes) <= length_mm * (1 + _NEAR):
                break
            middle = (low + high) / 2
            found = self.outlines(middle)
            if total_mm(found) < length_mm:
                low = middle
            else:
                high, strokes, at = middle, found, middle
        return heaviest(strokes, length_mm), at


def total_mm(strokes: Strokes) -> float:
    """How much line there is."""
    return float(strokes.length_mm.sum(dtype=np.float64))


def heaviest(strokes: Strokes, length_mm: float) -> Strokes:
    """The heaviest and longest strokes, up to so much line."""
    order = np.lexsort((-strokes.length_mm, -strokes.weight.astype(int)))
    kept = np.zeros(len(strokes), bool)
    kept[order[np.cumsum(strokes.length_mm[order], dtype=np.float64) <= length_mm]] = True
    counts = np.diff(strokes.first)
    whole = {
        "curves_mm": strokes.curves_mm[np.repeat(kept, counts)],
        "first": np.concatenate(([0], np.cumsum(counts[kept]))).astype(np.int32),
    }
    # What else a stroke may have is one value for each.
    rest = {
        field.name: getattr(strokes, field.name)[kept]
        for field in dataclasses.fields(Strokes)
        if field.name not in whole
    }
    return Strokes(**whole, **rest)


@contextlib.contextmanager
def taken(path: Path, *, whole: bool = False) -> Iterator[Photo]:
    """A photograph, taken in for as long as it is wanted.

    By default its middle is drawn on 60 x 40 cm, upright where the photograph is; the crop is
    given, so that no default decides what is compared. As a whole it is drawn on a support of
    its own proportion with the same area.
    """
    with Image.open(path) as image:
        width, height = ImageOps.exif_transpose(image).size
    if whole:
        high_mm = round((LONG_MM * SHORT_MM * height / width) ** 0.5, 1)
        size_mm = (round(high_mm * width / height, 1), high_mm)
    else:
        size_mm = (LONG_MM, SHORT_MM) if width >= height else (SHORT_MM, LONG_MM)
    crop = _middle(width / height, size_mm[0] / size_mm[1])
    with tempfile.TemporaryDirectory() as name, path.open("rb") as data:
        take_in(data, Path(name), Limits())
        with Master.open(Path(name) / "master.zip") as master:
            yield Photo(Path(name), master, crop, *size_mm)


def _middle(has: float, wanted: float) -> Area:
    """The largest part in the middle of one proportion that has another."""
    across, down = min(1.0, wanted / has), min(1.0, has / wanted)
    return Area(left=(1 - across) / 2, top=(1 - down) / 2, width=across, height=down)
