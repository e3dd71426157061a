"""What the tests of outlines have in common: pictures taken in, and strokes found in them."""

from __future__ import annotations

from concurrent.futures import Executor
from pathlib import Path

import numpy as np
import numpy.typing as npt

from tests.bench.outline import sampled
from tests.pictures.photographs import as_png
from tests.unit.reference.samples import taken
from worker.layout.planning import plan_sheets
from worker.picture.outline import find_strokes
from worker.picture.outline.detected_points import Artefacts
from worker.picture.outline.pipeline import find_points, strokes_of
from worker.picture.outline.points.sampled_picture import SampledPicture
from worker.reference.master import Master
from worker.spec.plan import Plan
from worker.spec.spec import Area, Outline, Print, Spec, Support, Tone
from worker.spec.strokes import Strokes

Bytes = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float64]

__all__ = ["found", "found_for", "found_in", "sampled", "spec_of", "strokes_on"]


def spec_of(
    width_mm: float,
    height_mm: float,
    *,
    mirror: bool = False,
    rotate_deg: float = 0.0,
    crop: Area | None = None,
    **outline: float,
) -> Spec:
    """A job that draws lines."""
    return Spec(
        support=Support(width_mm=width_mm, height_mm=height_mm),
        crop=crop,
        rotate_deg=rotate_deg,
        tone=Tone(style="outline", outline=Outline(**outline)),
        print=Print(mirror=mirror),
    )


def found_in(data: bytes, spec: Spec, folder: Path, threads: int = 2) -> tuple[Strokes, Plan]:
    """The strokes of a file."""
    # A picture that is squared up may be smaller than a photo.
    study = taken(data, folder, min_side_px=16).study
    plan = plan_sheets(spec, study)
    with Master.open(folder / "master.zip") as master:
        return find_strokes(master, spec, plan, threads=threads), plan


def found_for(data: bytes, specs: list[Spec], folder: Path) -> list[Strokes]:
    """The strokes of a file for each spec; it is taken in once, which takes longer than they do."""
    study = taken(data, folder, min_side_px=16).study
    with Master.open(folder / "master.zip") as master:
        return [find_strokes(master, spec, plan_sheets(spec, study)) for spec in specs]


def strokes_on(
    sampled_picture: SampledPicture,
    outline: Outline,
    artefacts: Artefacts,
    pool: Executor,
    **tiles: int,
) -> Strokes:
    """The strokes of a canvas."""
    return strokes_of(find_points(sampled_picture, outline, artefacts, pool, **tiles), outline)


def found(grey: Bytes, spec: Spec, folder: Path) -> Strokes:
    """The strokes of a picture."""
    return found_in(as_png(grey), spec, folder)[0]
