"""The whole picture in tones: patches large enough, and parted where a contour runs."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest
import skimage.data
from PIL import Image
from scipy import ndimage

from tests.unit.reference.samples import planned, saved, taken
from worker.picture.tones import Posterised, posterise, values_part
from worker.picture.tones.posterisation import SMALLEST_MM2
from worker.reference.master import Master
from worker.spec.plan import Rect
from worker.spec.reading import NOTHING_READ, Reading
from worker.spec.spec import Spec, Support, Tone, Values


def posterised(path: Path, spec: Spec, reading: Reading | None = None) -> Posterised:
    with Master.open(path) as master:
        if reading is not None:
            vars(master)["reading"] = reading
        plan = planned(spec, master.width_px, master.height_px)
        return posterise(master, spec, plan)


@pytest.fixture(scope="module")
def cup(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("cup")
    taken(saved(Image.fromarray(skimage.data.coffee()), "PNG"), folder)
    return folder / "master.zip"


@pytest.mark.parametrize(("width", "height"), [(600, 400), (210, 140)])
def test_no_printed_patch_is_too_small_to_lay_in(cup: Path, width: float, height: float) -> None:
    spec = Spec(support=Support(width_mm=width, height_mm=height), tone=Tone(style="values"))
    found = dataclasses.replace(posterised(cup, spec), lines=None)
    plan = planned(spec, 600, 400)
    size = (round(width * 4), round(height * 4))
    picture = np.asarray(values_part(found, plan, Rect(0, 0, width, height), size))
    areas = [np.bincount(ndimage.label(picture == tone)[0].ravel())[1:] for tone in found.tones]
    assert min(each.min() for each in areas if len(each)) / 16 >= SMALLEST_MM2


def cheek() -> tuple[Image.Image, Reading]:
    """A light disc before a wall nearly as light, a dark floor, and the disc's contour."""
    y, x = np.mgrid[0:400, 0:600]
    far = np.hypot(x - 300, y - 180)
    grey = np.where(far < 100, 205, 200).astype(np.uint8)
    grey[330:] = 40
    contour = ((np.abs(far - 100) < 2) * 255).astype(np.uint8)
    return Image.fromarray(grey), dataclasses.replace(NOTHING_READ, contour=contour)


def test_a_contour_parts_two_patches_of_one_tone(tmp_path: Path) -> None:
    picture, reading = cheek()
    taken(saved(picture, "PNG"), tmp_path)
    spec = Spec(
        support=Support(width_mm=600, height_mm=400),
        tone=Tone(style="values", values=Values(count=3, thresholds=(0.3, 0.6))),
    )
    found = posterised(tmp_path / "master.zip", spec, reading)
    plan = planned(spec, 600, 400)
    shown = np.asarray(values_part(found, plan, Rect(0, 0, 600, 400), (2400, 1600)))
    light = ndimage.label(shown == 255)[0]
    assert light[720, 1200] != light[100, 100]
    assert light[720, 1200] > 0
    assert light[100, 100] > 0
    unread = posterised(tmp_path / "master.zip", spec, NOTHING_READ)
    assert unread.lines is None


def test_where_all_patches_are_kept_there_are_no_lines(cup: Path) -> None:
    tone = Tone(style="values", values=Values(smallest_mm=0.0))
    spec = Spec(support=Support(width_mm=300, height_mm=200), tone=tone)
    assert posterised(cup, spec).lines is None
