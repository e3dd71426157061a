"""Pieces: at their absolute place, continuous, upright, mirrored, turned, toned."""

from __future__ import annotations

import dataclasses
import functools
from itertools import pairwise
from pathlib import Path

import cv2
import numpy as np
import pytest
import skimage.data
import skimage.transform
from PIL import Image

from tests.unit.reference.samples import Bytes, Floats, planned, saved, taken, taken_unread
from worker.picture import enlarge
from worker.picture.enlarge import enlarge_piece, faint_picture
from worker.reference.master import Master
from worker.spec.plan import Piece, Plan, Rect
from worker.spec.reading import NOTHING_READ
from worker.spec.spec import Area, Print, Seams, Spec, Support, Tone
from worker.spec.tone_curve import tone_curve

SIZE_PX = (2400, 1600)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A taken-in photograph of 2400 × 1600 pixels."""
    path = tmp_path_factory.mktemp("reference")
    photo = Image.fromarray(skimage.data.astronaut()[60:401]).resize(
        SIZE_PX, Image.Resampling.BICUBIC
    )
    taken(saved(photo, "PNG", compress_level=1), path)
    return path


def spec_of(**changes: object) -> Spec:
    settings: dict[str, object] = {
        "support": Support(width_mm=600, height_mm=400),
        "tone": Tone(full_strength=True),
        **changes,
    }
    return Spec(**settings)  # type: ignore[arg-type]


def piece_at(rect_mm: Rect) -> Piece:
    """A piece of which only the place matters."""
    return Piece(
        label="1·1",
        page=4,
        row=0,
        column=0,
        picture_rect_mm=rect_mm,
        lap_right_mm=0,
        lap_bottom_mm=0,
        sheet_rect_mm=rect_mm,
        turned_deg=0,
        neighbours={},
    )


def cut(folder: Path, spec: Spec, plan: Plan, rect_mm: Rect, ppi: float) -> Bytes:
    with Master.open(folder / "master.zip") as master:
        return np.asarray(enlarge_piece(master, spec, plan, piece_at(rect_mm), ppi=ppi))


def master_grey(folder: Path) -> Bytes:
    with Master.open(folder / "master.zip") as master:
        return np.asarray(master.window("grey", (0, 0, *SIZE_PX)))


# 600 × 400 mm are whole pixels at each: enlarged, the same, reduced by 1.3, 2.5 and 6.7.
RESOLUTIONS = [127.0, 101.6, 76.2, 40.64, 15.24]


@pytest.mark.parametrize("ppi", RESOLUTIONS)
@pytest.mark.parametrize("style", ["grey", "colour"])
def test_pieces_continue_each_other(folder: Path, ppi: float, style: str) -> None:
    spec = spec_of(tone=Tone(style=style, full_strength=True))
    plan = planned(spec, *SIZE_PX)
    whole = cut(folder, spec, plan, Rect(0, 0, 600, 400), ppi)
    # Pieces whose millimetres are whole pixels, so that their grids are the whole one's.
    unit_mm = 25.4 / ppi
    columns = [0, whole.shape[1] // 3, whole.shape[1] // 2, whole.shape[1]]
    rows = [0, whole.shape[0] // 2 - 1, whole.shape[0]]
    for left, right in pairwise(columns):
        for top, bottom in pairwise(rows):
            rect = Rect(
                left * unit_mm, top * unit_mm, (right - left) * unit_mm, (bottom - top) * unit_mm
            )
            part = cut(folder, spec, plan, rect, ppi)
            expected = whole[top:bottom, left:right]
            assert part.shape == expected.shape
            assert np.abs(part.astype(int) - expected).max() <= 1


def test_a_piece_has_the_pixels_of_its_millimetres_rounded_up(folder: Path) -> None:
    spec = spec_of()
    plan = planned(spec, *SIZE_PX)
    # 190.5 mm at 100 ppi are 750 pixels; a hair more is 751.
    assert cut(folder, spec, plan, Rect(10, 10, 190.5, 25.4), 100).shape == (100, 750)
    assert cut(folder, spec, plan, Rect(10, 10, 190.6, 25.5), 100).shape == (101, 751)
    with Master.open(folder / "master.zip") as master:
        picture = enlarge_piece(master, spec, plan, plan.pieces[0])
    rect, printed_ppi = plan.pieces[0].picture_rect_mm, plan.resolution.printed_ppi
    assert picture.mode == "L"
    assert picture.width == int(np.ceil(rect.width * printed_ppi / 25.4))


@pytest.mark.parametrize("ppi", RESOLUTIONS)
def test_the_enlargement_is_that_of_opencv(folder: Path, ppi: float) -> None:
    spec = spec_of()
    ours = cut(folder, spec, planned(spec, *SIZE_PX), Rect(0, 0, 600, 400), ppi)
    how = cv2.INTER_CUBIC if ppi > 101.6 else cv2.INTER_AREA
    theirs = cv2.resize(master_grey(folder), ours.shape[::-1], interpolation=how)
    assert np.abs(ours.astype(int) - theirs).mean() < 1.5
    # Moved by half a pixel, it would fit clearly worse.
    response = cv2.phaseCorrelate(ours.astype(np.float64), theirs.astype(np.float64))[0]
    assert np.hypot(*response) * 25.4 / ppi < 0.1


def test_a_crop_is_that_part_of_the_reference(folder: Path) -> None:
    spec = spec_of(crop=Area(left=0.25, top=0.125, width=0.5, height=0.5))
    ours = cut(folder, spec, planned(spec, *SIZE_PX), Rect(0, 0, 600, 400), 50.8)
    assert ours.shape == (800, 1200)
    part = master_grey(folder)[200:1000, 600:1800]
    assert np.abs(ours.astype(int) - part).max() <= 1


@functools.cache
def turned_by_scikit_image(folder: Path, crop: Area, angle_deg: float) -> Floats:
    """The crop in pixels of the reference."""
    # scikit-image turns counter-clockwise for positive angles about a centre given in
    # pixel indices; what is in the picture is to turn clockwise.
    centre = (
        (crop.left + crop.width / 2) * 2400,
        (crop.top + crop.height / 2) * 1600,
    )
    turned = skimage.transform.rotate(
        master_grey(folder).astype(float),
        -angle_deg,
        center=(centre[0] - 0.5, centre[1] - 0.5),
        order=3,
        mode="edge",
        preserve_range=True,
    )
    crop_px = (crop.width * 2400, crop.height * 1600)
    return cv2.getRectSubPix(
        turned.astype(np.float32),
        (round(crop_px[0]), round(crop_px[1])),
        (centre[0] - 0.5, centre[1] - 0.5),
    )


@pytest.mark.parametrize("ppi", [101.6, 60.0, 25.4])
@pytest.mark.parametrize("angle_deg", [7.0, -23.0, 90.0])
def test_a_turned_crop_is_what_scikit_image_turns(
    folder: Path, ppi: float, angle_deg: float
) -> None:
    spec = spec_of(rotate_deg=angle_deg)
    plan = planned(spec, *SIZE_PX)
    rect = Rect(0, 0, 600, 400)
    ours = cut(folder, spec, plan, rect, ppi)
    height, width = ours.shape
    frame = turned_by_scikit_image(folder, plan.crop, angle_deg)
    theirs = cv2.resize(frame, (width, height), interpolation=cv2.INTER_AREA)
    inner = (slice(height // 10, -height // 10), slice(width // 10, -width // 10))
    assert np.abs(ours[inner] - theirs[inner]).mean() < 3
    shift = cv2.phaseCorrelate(
        np.ascontiguousarray(ours[inner], np.float64),
        np.ascontiguousarray(theirs[inner], np.float64),
    )[0]
    # The comparison rounds the crop to whole pixels, half a pixel at the most.
    assert np.hypot(*shift) * 25.4 / ppi < 0.15


@pytest.mark.parametrize(("angle_deg", "ppi"), [(11.0, 40.64), (-4.5, 101.6)])
def test_turned_pieces_continue_each_other(folder: Path, angle_deg: float, ppi: float) -> None:
    spec = spec_of(rotate_deg=angle_deg, tone=Tone(style="colour"))
    plan = planned(spec, *SIZE_PX)
    whole = cut(folder, spec, plan, Rect(0, 0, 600, 400), ppi).astype(int)
    seam = whole.shape[1] // 3
    unit_mm = 25.4 / ppi
    left = cut(folder, spec, plan, Rect(0, 0, seam * unit_mm, 400), ppi)
    right = cut(folder, spec, plan, Rect(seam * unit_mm, 0, 600 - seam * unit_mm, 400), ppi)
    joined = np.concatenate([left[:, :seam], right], axis=1)[:, : whole.shape[1]]
    assert np.abs(joined - whole[:, : joined.shape[1]]).max() <= 1


def test_a_turned_crop_that_touches_the_edge_has_no_white_there(tmp_path: Path) -> None:
    taken_unread(saved(Image.new("L", (900, 600), 40), "PNG"), tmp_path)
    spec = spec_of(rotate_deg=10)
    assert cut(tmp_path, spec, planned(spec, 900, 600), Rect(0, 0, 600, 400), 40).max() <= 42


def test_a_mirrored_piece_is_the_mirror_of_its_opposite(folder: Path) -> None:
    plain, mirrored = spec_of(), spec_of(print=Print(mirror=True))
    plan = planned(plain, *SIZE_PX)
    for rotate in (0.0, 8.0):
        turned = {"rotate_deg": rotate}
        one, other = spec_of(**turned), spec_of(**turned, print=mirrored.print)
        plan = planned(one, *SIZE_PX)
        left = cut(folder, other, plan, Rect(0, 50, 254, 127), 100)
        right = cut(folder, one, plan, Rect(600 - 254, 50, 254, 127), 100)
        assert np.array_equal(left, right[:, ::-1])


def test_tones_follow_the_curve(folder: Path) -> None:
    tone = Tone(full_strength=True, lighten=0.4, contrast=0.3)
    plain, toned = spec_of(), spec_of(tone=tone)
    plan = planned(plain, *SIZE_PX)
    rect = Rect(30, 30, 200, 100)
    before = cut(folder, plain, plan, rect, 60)
    assert np.array_equal(cut(folder, toned, plan, rect, 60), tone_curve(tone)[before])
    colour = spec_of(tone=Tone(style="colour", lighten=0.4, contrast=0.3))
    plain_colour = cut(folder, spec_of(tone=Tone(style="colour")), plan, rect, 60)
    assert np.array_equal(cut(folder, colour, plan, rect, 60), tone_curve(tone)[plain_colour])


def test_strips_do_not_show(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for rotate in (0.0, 5.0):
        spec = spec_of(rotate_deg=rotate)
        plan = planned(spec, *SIZE_PX)
        rect = Rect(100, 20, 300, 350)
        tall = cut(folder, spec, plan, rect, 80)
        monkeypatch.setattr(enlarge, "_STRIP_PIXELS", 100_000)
        low = cut(folder, spec, plan, rect, 80)
        monkeypatch.undo()
        assert np.abs(tall.astype(int) - low).max() <= 1


def test_laps_hold_the_same_picture_twice(folder: Path) -> None:
    spec = spec_of(seams=Seams(joint="lap", lap_mm=8.0))
    plan = planned(spec, *SIZE_PX)
    one, other = plan.pieces[0], plan.pieces[1]
    lap_mm = one.picture_rect_mm.right - other.picture_rect_mm.left
    assert lap_mm == pytest.approx(8.0)
    with Master.open(folder / "master.zip") as master:
        left = np.asarray(enlarge_piece(master, spec, plan, one, ppi=254.0), int)
        right = np.asarray(enlarge_piece(master, spec, plan, other, ppi=254.0), int)
    # 8 mm at 254 ppi are 80 pixels; the two grids differ by less than one.
    assert np.abs(left[:, -80:] - right[: len(left), :80]).mean() < 2


def test_the_faint_picture_is_the_whole_in_small(folder: Path) -> None:
    spec = spec_of()
    plan = planned(spec, *SIZE_PX)
    with Master.open(folder / "master.zip") as master:
        faint = faint_picture(master, spec, plan, 600)
    assert faint.size == (600, 400)
    theirs = cv2.resize(master_grey(folder), (600, 400), interpolation=cv2.INTER_AREA)
    assert np.abs(np.asarray(faint, int) - theirs).mean() < 2


def test_lifted_pieces_meet_and_the_light_is_left_alone(folder: Path) -> None:
    for rotate_deg, mirror in ((0.0, False), (0.0, True), (5.0, False)):
        crop = Area(left=0.1, top=0.1, width=0.8, height=0.8)
        changes = {"crop": crop, "rotate_deg": rotate_deg, "print": Print(mirror=mirror)}
        spec = spec_of(tone=Tone(full_strength=True, lift=1.0), **changes)
        plan = planned(spec, *SIZE_PX)
        whole = cut(folder, spec, plan, Rect(0, 0, 600, 400), 25.4)
        plain = cut(folder, spec_of(**changes), plan, Rect(0, 0, 600, 400), 25.4)
        assert np.array_equal(whole[plain >= 144], plain[plain >= 144])
        assert np.all(whole >= plain)
        assert np.mean(whole.astype(int) - plain > 5) > 0.02
        for box in ((0, 0, 217, 140), (217, 0, 600, 140), (0, 140, 217, 400), (217, 140, 600, 400)):
            left, top, right, bottom = box
            rect = Rect(left, top, right - left, bottom - top)
            piece = cut(folder, spec, plan, rect, 25.4).astype(int)
            # Where the pieces as they are meet to the level, so do the lifted ones.
            there = plain[top:bottom, left:right]
            same = cut(folder, spec_of(**changes), plan, rect, 25.4) == there
            assert same.mean() > 0.9
            assert np.abs(piece - whole[top:bottom, left:right])[same].max() <= 1


def test_lifting_spreads_dark_contours_and_overshoots_nowhere(tmp_path: Path) -> None:
    grey = np.full((512, 768), 8, np.uint8)
    grey[:, 300:450] = 30
    grey[:, 450:] = 200
    taken_unread(saved(Image.fromarray(grey), "PNG"), tmp_path)
    contour = np.zeros(grey.shape, np.uint8)
    contour[:, 298:302] = contour[:, 448:452] = 255
    spec = spec_of(tone=Tone(full_strength=True, lift=1.0))
    plan = planned(spec, 768, 512)
    with Master.open(tmp_path / "master.zip") as master:
        vars(master)["reading"] = dataclasses.replace(NOTHING_READ, contour=contour)
        lifted = np.asarray(
            enlarge_piece(master, spec, plan, piece_at(Rect(0, 0, 600, 400)), ppi=100)
        )
        off = spec_of()
        plain = np.asarray(
            enlarge_piece(master, off, plan, piece_at(Rect(0, 0, 600, 400)), ppi=100)
        )
    before, after = (each[700].astype(int) for each in (plain, lifted))
    edge = round(300 / 768 * len(before))
    near = 12
    assert after[edge + near] - after[edge - near] > 1.5 * (
        before[edge + near] - before[edge - near]
    )
    # Beside the light edge: it rises as before and never beyond, and falls nowhere.
    light = round(450 / 768 * len(before))
    window = slice(light - 30, light + 30)
    assert np.diff(after[window]).min() >= min(np.diff(before[window]).min(), 0) - 1
    assert after[window].max() == before[window].max()
    assert after[window].min() >= before[window].min()
