"""Squaring up: the same places and tones as OpenCV's, in one piece, and never much memory."""

from __future__ import annotations

import functools
import io
import subprocess
import sys
from pathlib import Path

import cv2
import numpy as np
import pytest
import skimage.data
import skimage.registration
from PIL import Image

from tests.pictures.cameras import View
from tests.unit.reference.samples import Bytes, Floats, quarters, saved, taken, taken_unread
from worker.errors import CornersUnusable
from worker.reference.decode import Limits
from worker.reference.intake import IntakeResult
from worker.reference.master import Master
from worker.reference.square_up.corners import quad_of
from worker.reference.square_up.square_up import square_up
from worker.reference.study_file import load_study

PHOTO_PX = (1800, 1200)
VIEWS = (
    View(photo_px=PHOTO_PX),
    View(photo_px=PHOTO_PX, tilt_deg=(25.0, 0.0)),
    View(photo_px=PHOTO_PX, tilt_deg=(20.0, -30.0), roll_deg=12.0),
    View(photo_px=PHOTO_PX, tilt_deg=(50.0, 10.0), sheet_mm=(297.0, 210.0)),
)


@functools.cache
def photograph(mode: str = "RGB") -> Image.Image:
    """The astronaut (NASA, public domain), with detail down to a few pixels."""
    picture = Image.fromarray(skimage.data.astronaut()).resize(PHOTO_PX, Image.Resampling.BICUBIC)
    grain = np.random.default_rng(7).integers(-24, 25, (PHOTO_PX[1] // 3, PHOTO_PX[0] // 3, 1))
    values = np.asarray(picture, np.int16) + np.kron(grain, np.ones((3, 3, 1), np.int64))
    return Image.fromarray(np.clip(values, 0, 255).astype(np.uint8)).convert(mode)


def whole(folder: Path, style: str = "colour") -> Bytes:
    with Master.open(folder / "master.zip") as master:
        box = (0, 0, master.width_px, master.height_px)
        return np.asarray(master.window(style, box))  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def references(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The photograph by its mode, taken in once."""
    made = {mode: tmp_path_factory.mktemp(mode) for mode in ("L", "RGB")}
    for mode, folder in made.items():
        taken_unread(saved(photograph(mode), "PNG", compress_level=1), folder)
    return made


@pytest.fixture
def folders(tmp_path: Path) -> tuple[Path, Path]:
    """One for the reference, one for what is made of it."""
    before, after = tmp_path / "before", tmp_path / "after"
    before.mkdir()
    after.mkdir()
    return before, after


def squared(
    folders: tuple[Path, Path], corners: object, *, format_: str = "png", **more: object
) -> IntakeResult:
    with Master.open(folders[0] / "master.zip") as master:
        return square_up(master, corners, folders[1], format_=format_, **more)  # type: ignore[arg-type]


def opencvs(picture: Bytes, corners_px: Floats, size: tuple[int, int], finer: int = 1) -> Floats:
    """The same by OpenCV, which counts from pixel centres; sampled more finely and averaged."""
    width, height = size[0] * finer, size[1] * finer
    flat = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
    to_photo = cv2.getPerspectiveTransform(flat, corners_px.astype(np.float32))
    centre = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])
    sampled = cv2.warpPerspective(
        picture,
        np.linalg.inv(centre) @ to_photo @ centre,
        (width, height),
        flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    parts = sampled.reshape(size[1], finer, size[0], finer, -1).astype(np.float64)
    return np.asarray(parts.mean(axis=(1, 3)).squeeze())


@pytest.mark.usefixtures("unread")
@pytest.mark.parametrize("mode", ["L", "RGB"])
@pytest.mark.parametrize("view", VIEWS)
def test_it_is_what_opencv_makes(
    references: dict[str, Path], tmp_path: Path, mode: str, view: View
) -> None:
    folders = (references[mode], tmp_path)
    found = squared(folders, view.corners().tolist())
    style = "grey" if mode == "L" else "colour"
    ours = whole(folders[1], style).astype(np.float64)
    quad = quad_of(view.corners().tolist(), PHOTO_PX)
    theirs = opencvs(whole(folders[0], style), quad.corners_px, (found.width_px, found.height_px))
    difference = np.abs(ours - theirs)
    # Both are bicubic, with another constant, and ours went through JPEG: 1 % of the range.
    assert difference.mean() < 2.55
    assert np.quantile(difference, 0.999) < 26
    greys = [one if one.ndim == 2 else one.mean(axis=2) for one in (ours, theirs)]
    moved, *_ = skimage.registration.phase_cross_correlation(
        *greys, upsample_factor=50, normalization=None
    )
    assert np.abs(moved).max() <= 0.1


@pytest.mark.usefixtures("unread")
def test_no_part_is_off_by_a_tenth_of_a_pixel(references: dict[str, Path], tmp_path: Path) -> None:
    """The same, in the ninth at each corner by itself: what bends would show there."""
    folders = (references["L"], tmp_path)
    view = VIEWS[2]
    found = squared(folders, view.corners().tolist())
    size = (found.width_px, found.height_px)
    quad = quad_of(view.corners().tolist(), PHOTO_PX)
    ours = whole(folders[1], "grey").astype(np.float64)
    theirs = opencvs(whole(folders[0], "grey"), quad.corners_px, size)
    for row, column in ((0, 0), (0, 2), (2, 0), (2, 2)):
        part = (
            slice(size[1] * row // 3, size[1] * (row + 1) // 3),
            slice(size[0] * column // 3, size[0] * (column + 1) // 3),
        )
        moved, *_ = skimage.registration.phase_cross_correlation(
            ours[part], theirs[part], upsample_factor=50, normalization=None
        )
        assert np.abs(moved).max() <= 0.1, (row, column)


@pytest.mark.usefixtures("unread")
def test_made_smaller_it_is_averaged_and_does_not_flicker(folders: tuple[Path, Path]) -> None:
    """Stripes two pixels apart, made five times smaller, are grey: what skips shows moiré."""
    stripes = np.zeros((1200, 1600), np.uint8)
    stripes[:, ::2] = 255
    taken(saved(Image.fromarray(stripes), "PNG"), folders[0])
    corners = [(0.02, 0.03), (0.98, 0.08), (0.93, 0.97), (0.04, 0.9)]
    found = squared(folders, corners, limits=Limits(max_pixels=60_000))
    assert 0.9 * 60_000 < found.width_px * found.height_px <= 60_000
    grey = whole(folders[1], "grey")[2:-2, 2:-2]
    assert np.abs(grey.astype(int) - 128).max() <= 12


@pytest.mark.usefixtures("unread")
@pytest.mark.parametrize("max_pixels", [1_500_000, 250_000, 40_000])
def test_at_every_size_it_is_what_fine_sampling_gives(
    references: dict[str, Path], tmp_path: Path, max_pixels: int
) -> None:
    folders = (references["L"], tmp_path)
    view = VIEWS[3]
    found = squared(folders, view.corners().tolist(), limits=Limits(max_pixels=max_pixels))
    quad = quad_of(view.corners().tolist(), PHOTO_PX)
    size = (found.width_px, found.height_px)
    theirs = opencvs(whole(folders[0], "grey"), quad.corners_px, size, finer=4)
    assert np.abs(whole(folders[1], "grey") - theirs).mean() < 3


@pytest.mark.usefixtures("unread")
def test_tiles_and_blocks_meet_without_a_trace(references: dict[str, Path], tmp_path: Path) -> None:
    """Along the borders of tiles the picture is no rougher than beside them."""
    folders = (references["L"], tmp_path)
    corners = [(0.3, 0.05), (0.75, 0.1), (1.0, 1.0), (0.0, 0.95)]
    found = squared(folders, corners, proportion=1.0)
    assert min(found.width_px, found.height_px) > 1024
    grey = whole(folders[1], "grey").astype(np.float64)
    down = np.abs(np.diff(grey, axis=0)).mean(axis=1)
    across = np.abs(np.diff(grey, axis=1)).mean(axis=0)
    for steps, tile in ((down, 512), (across, 1024)):
        for at in range(tile, len(steps), tile):
            beside = np.r_[steps[at - 12 : at - 2], steps[at + 1 : at + 11]]
            assert steps[at - 1] < beside.mean() + 4 * beside.std()


@pytest.mark.usefixtures("unread")
def test_it_is_upright_and_in_its_own_colours(folders: tuple[Path, Path]) -> None:
    taken(saved(quarters(480, 320), "PNG"), folders[0])
    found = squared(folders, [(0.9, 0.88), (0.1, 0.1), (0.05, 0.95), (0.95, 0.05)])
    pixels = whole(folders[1])
    height, width = found.height_px, found.width_px
    rows, columns = [height // 4, height * 3 // 4], [width // 4, width * 3 // 4]
    corners = pixels[np.ix_(rows, columns)].reshape(4, 3).astype(int)
    wanted = [[255, 0, 0], [0, 255, 0], [0, 0, 255], [255, 255, 0]]
    assert np.abs(corners - wanted).max() < 8


def test_it_is_a_reference_like_any_other(folders: tuple[Path, Path]) -> None:
    photo = saved(photograph().resize((900, 600)), "JPEG", quality=92)
    original = taken_unread(photo, folders[0])
    found = squared(folders, VIEWS[2].corners().tolist(), format_="jpeg")
    assert sorted(path.name for path in folders[1].iterdir()) == [
        "master.zip",
        "preview.jpg",
        "study.npz",
    ]
    study = load_study(folders[1] / "study.npz")
    assert (study.width_px, study.height_px) == (found.width_px, found.height_px)
    assert found.format == "jpeg"
    assert found.sha256 != original.sha256
    assert len(found.sha256) == 64
    with Image.open(folders[1] / "preview.jpg") as preview:
        assert max(preview.size) == min(max(found.width_px, found.height_px), 1600)
        assert preview.width / preview.height == pytest.approx(
            found.width_px / found.height_px, abs=1e-3
        )
    first = (folders[1] / "master.zip").read_bytes()
    squared(folders, VIEWS[2].corners().tolist()[::-1], format_="jpeg")
    assert (folders[1] / "master.zip").read_bytes() == first


@pytest.mark.usefixtures("unread")
def test_corners_that_will_not_do_write_nothing(folders: tuple[Path, Path]) -> None:
    taken(saved(quarters(), "PNG"), folders[0])
    with pytest.raises(CornersUnusable):
        squared(folders, [(0, 0), (0.5, 0.5), (1, 1), (0, 1)])
    assert list(folders[1].iterdir()) == []


#: Squares one up in a process of its own, to a small and a large one, and tells the pixels of
#: each and the peak in kB by then (proc(5)).
_ALONE = """
import sys
from pathlib import Path
from worker.reference.decode import Limits
from worker.reference.master import Master
from worker.reference.square_up.square_up import square_up
corners = [(0.08, 0.05), (0.95, 0.12), (0.9, 0.9), (0.02, 0.97)]
with Master.open(Path(sys.argv[1]) / "master.zip") as master:
    for pixels in (2_000_000, 16_000_000):
        limits = Limits(max_pixels=pixels)
        made = square_up(master, corners, Path(sys.argv[2]), format_="jpeg", limits=limits)
        status = Path("/proc/self/status").read_text()
        print(made.width_px * made.height_px, status.split("VmHWM:")[1].split()[0])
"""


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="Linux tells the peak")
def test_memory_stays_flat_however_large_it_is(folders: tuple[Path, Path]) -> None:
    """Whole, a picture in colour takes three bytes a pixel; what grows here is less than two."""
    file = io.BytesIO()
    photograph().resize((4800, 3200), Image.Resampling.BILINEAR).save(file, "JPEG", quality=90)
    taken_unread(file.getvalue(), folders[0])
    told = subprocess.run(
        [sys.executable, "-c", _ALONE, *map(str, folders)],
        capture_output=True,
        text=True,
        check=True,
    ).stdout.split()
    pixels, peak_kb, more_pixels, more_kb = map(int, told)
    assert more_pixels - pixels > 13_000_000
    assert (more_kb - peak_kb) * 1024 < 2 * (more_pixels - pixels)
    # With sixty megapixels, the most that is taken, it stays so below 250 MB.
    assert more_kb < 230_000
