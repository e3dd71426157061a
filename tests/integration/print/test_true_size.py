"""The main job against outside renderers: print, trim, join, and hold against the photo.

Every sheet is rendered by PDFium and by Poppler, cut at its TrimBox as a person would cut
it, joined by the plan, and compared with an enlargement of the same photograph that OpenCV
makes. Displacement is measured by phase correlation in windows all over the picture
(scikit-image's `phase_cross_correlation`, after Guizar-Sicairos et al. 2008), so that a
shift, a wrong scale or a gap shows as millimetres.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt
import pikepdf
import pytest
import skimage.color
import skimage.data
from PIL import Image
from skimage.registration import phase_cross_correlation

from tests.pictures.photographs import as_jpeg, enlarged
from tests.prints.joined import PX_PER_MM, Made, Values, by_pdfium, by_poppler, joined
from worker.layout.planning import plan_sheets
from worker.make.pack import make_pack
from worker.reference.decode import Limits
from worker.reference.intake import take_in
from worker.spec.spec import Area, Focus, Print, Seams, Sheet, Spec, Support, Tone
from worker.spec.study import ReferenceStudy


def make(photo: npt.NDArray[np.uint8], spec: Spec, folder: Path) -> Made:
    """Intake, plan and pack of a photograph, in process."""
    return pack_of(take(photo, folder), folder / "master.zip", spec, folder)


def take(photo: npt.NDArray[np.uint8], folder: Path) -> ReferenceStudy:
    """Intake of a photograph into a folder."""
    jpeg = io.BytesIO(as_jpeg(Image.fromarray(photo), quality=97))
    # What is compared is place and size: an enlarged photo would be printed with fewer pixels.
    return replace(take_in(jpeg, folder, Limits()).study, resolved_px=1.0)


def pack_of(study: ReferenceStudy, master: Path, spec: Spec, folder: Path) -> Made:
    """Plan and pack of a reference."""
    # What is compared are the photo's own tones, without the one ink of ours that is on it.
    spec = replace(
        spec,
        tone=replace(spec.tone, full_strength=True),
        seams=replace(spec.seams, register_marks=False),
    )
    plan = plan_sheets(spec, study)
    files = make_pack(master, spec, plan, title="Renders", folder=folder)
    return Made(files.pack_pdf, spec, plan)


def enlargement(grey: Values, made: Made) -> Values:
    """The same crop of a photograph's luminance, enlarged by OpenCV at the picture's size."""
    crop, rows, columns = made.plan.crop, grey.shape[0], grey.shape[1]
    height = round(made.plan.picture.height_mm * PX_PER_MM)
    width = round(made.plan.picture.width_mm * PX_PER_MM)
    turn = np.radians(made.plan.rotate_deg)
    # Where the middle of each output pixel lies in the photo.
    size = made.plan.picture
    x = ((np.arange(width) + 0.5) / PX_PER_MM / size.width_mm - 0.5) * crop.width * columns
    y = ((np.arange(height) + 0.5) / PX_PER_MM / size.height_mm - 0.5) * crop.height * rows
    y = y[:, None]
    if made.spec.print.mirror:
        x = -x
    centre_x = (crop.left + crop.width / 2) * columns - 0.5
    centre_y = (crop.top + crop.height / 2) * rows - 0.5
    map_x = (centre_x + np.cos(turn) * x + np.sin(turn) * y).astype(np.float32)
    map_y = (centre_y - np.sin(turn) * x + np.cos(turn) * y).astype(np.float32)
    return cv2.remap(
        grey.astype(np.float32), map_x, map_y, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
    ).astype(np.float64)


def luminance(photo: npt.NDArray[np.uint8]) -> Values:
    """Encoded linear-light grey by scikit-image: Y of its XYZ (IEC 61966-2-1), encoded again."""
    if photo.ndim == 2:
        return photo.astype(np.float64)
    y = skimage.color.rgb2xyz(photo)[..., 1]
    encoded = np.where(y <= 0.0031308, 12.92 * y, 1.055 * np.maximum(y, 1e-9) ** (1 / 2.4) - 0.055)
    return np.clip(encoded * 255, 0, 255)


def worst_displacement_mm(one: Values, other: Values) -> float:
    """The largest shift between two pictures, over windows of 16 mm that show anything."""
    side, worst, measured = round(16 * PX_PER_MM), 0.0, 0
    for top in range(0, one.shape[0] - side + 1, side):
        for left in range(0, one.shape[1] - side + 1, side):
            window = np.s_[top : top + side, left : left + side]
            if other[window].std() < 12:
                continue
            fade = np.outer(np.hanning(side), np.hanning(side))
            first, second = (
                (values[window] - values[window].mean()) * fade for values in (one, other)
            )
            shift, _, _ = phase_cross_correlation(
                first, second, upsample_factor=20, normalization=None
            )
            worst, measured = max(worst, float(np.abs(shift).max()) / PX_PER_MM), measured + 1
    assert measured > 10
    return worst


def tone_differences(whole: Values, expected: Values) -> Values:
    """How far the mean tones of all places 3 mm wide lie apart, 0 to 255."""
    places = (round(3 * PX_PER_MM), round(3 * PX_PER_MM))
    return np.abs(cv2.blur(whole - expected, places))


A5 = Sheet(format="iso_a5_148x210mm")
FINE = Print(resolution_ppi=400)
#: Small sheets, so that few square centimetres have many seams.
JOBS = {
    "plain": Spec(support=Support(width_mm=225, height_mm=180), sheet=A5, print=FINE),
    "turned": Spec(support=Support(width_mm=295, height_mm=135), sheet=A5, print=FINE),
    "lap": Spec(
        support=Support(width_mm=225, height_mm=180),
        sheet=A5,
        seams=Seams(joint="lap", lap_mm=8.0),
        print=FINE,
    ),
    "staggered": Spec(
        support=Support(width_mm=280, height_mm=220),
        sheet=A5,
        seams=Seams(arrangement="staggered"),
        print=FINE,
    ),
    "odd sizes and a protected face": Spec(
        support=Support(width_mm=231.3, height_mm=173.7, border_mm=3.1),
        crop=Focus(x=0.4, y=0.2),
        sheet=A5,
        seams=Seams(protect=(Area(left=0.3, top=0.2, width=0.2, height=0.3),)),
        print=FINE,
    ),
    "mirrored": Spec(
        support=Support(width_mm=225, height_mm=180),
        sheet=A5,
        print=Print(resolution_ppi=400, mirror=True),
    ),
    "turned by 7 degrees": Spec(
        support=Support(width_mm=190, height_mm=150), rotate_deg=7.0, sheet=A5, print=FINE
    ),
    # By default the crop keeps the head whole, with more plain wall: too little to align by.
    "corrected": Spec(
        support=Support(width_mm=225, height_mm=180),
        crop=Focus(x=0.5, y=0.5),
        sheet=A5,
        print=Print(resolution_ppi=400, across_correction=1.012, down_correction=0.991),
    ),
    "letter": Spec(
        support=Support(width_mm=279.4, height_mm=215.9),
        sheet=Sheet(format="na_letter_8.5x11in"),
        print=FINE,
    ),
}


@dataclass(frozen=True, kw_only=True)
class Portrait:
    """A photograph that was taken in, and its luminance."""

    study: ReferenceStudy
    master: Path
    grey: Values


@pytest.fixture(scope="module")
def portrait(tmp_path_factory: pytest.TempPathFactory) -> Portrait:
    """scikit-image's portrait at a phone camera's pixel count."""
    photo = np.asarray(enlarged(skimage.data.astronaut(), 3600, 3600))
    folder = tmp_path_factory.mktemp("portrait")
    study, grey = take(photo, folder), luminance(photo)
    return Portrait(study=study, master=folder / "master.zip", grey=grey)


@pytest.mark.slow
@pytest.mark.parametrize("job", JOBS)
def test_the_joined_sheets_are_the_photo_at_true_size(
    job: str, portrait: Portrait, tmp_path: Path
) -> None:
    made = pack_of(portrait.study, portrait.master, JOBS[job], tmp_path)
    expected = enlargement(portrait.grey, made)
    for render in (by_pdfium, by_poppler):
        whole, covered = joined(made, render)
        assert covered.all()
        assert worst_displacement_mm(whole, expected) <= 0.1
        assert tone_differences(whole, expected).max() < 8.0


def test_tones_print_the_luminance_that_scikit_image_computes(tmp_path: Path) -> None:
    """Flat patches of strong colour, read back from the rendered page."""
    colours = np.array(
        [[255, 0, 0], [0, 255, 0], [0, 0, 255], [128, 64, 32], [30, 200, 180], [250, 240, 90]],
        dtype=np.uint8,
    )
    photo = np.repeat(np.repeat(colours.reshape(2, 3, 3), 200, axis=0), 200, axis=1)
    spec = Spec(support=Support(width_mm=150, height_mm=100))
    made = make(photo, spec, tmp_path)
    whole, _ = joined(made, by_pdfium)
    expected = luminance(colours.reshape(2, 3, 3))
    for row in range(2):
        for column in range(3):
            middle = whole[
                round((25 + 50 * row) * PX_PER_MM), round((25 + 50 * column) * PX_PER_MM)
            ]
            assert middle == pytest.approx(expected[row, column], abs=2.0)


def test_lightening_spares_the_ink_that_the_plan_says(tmp_path: Path) -> None:
    photo = skimage.data.camera()
    spec = Spec(support=Support(width_mm=180, height_mm=180), tone=Tone(lighten=0.4))
    made = make(photo, spec, tmp_path)
    whole, _ = joined(made, by_pdfium)
    assert made.plan.mean_coverage == pytest.approx(1 - whole.mean() / 255, abs=0.01)


@pytest.mark.parametrize(("full_strength", "darkest"), [(False, 0.65), (True, 1.0)])
def test_the_darkest_ink_of_a_grey_is_as_said(
    tmp_path: Path, *, full_strength: bool, darkest: float
) -> None:
    """Black paper with a white edge, rendered by PDFium."""
    photo = np.zeros((200, 300), dtype=np.uint8)
    photo[:, 200:] = 255
    tone = Tone(full_strength=full_strength)
    spec = Spec(support=Support(width_mm=150, height_mm=100), tone=tone)
    study = take(photo, tmp_path)
    plan = plan_sheets(spec, study)
    files = make_pack(tmp_path / "master.zip", spec, plan, title="Black", folder=tmp_path)
    whole, _ = joined(Made(files.pack_pdf, spec, plan), by_pdfium)
    inner = whole[20:-20, 20:-20]
    assert 1 - inner.min() / 255 == pytest.approx(darkest, abs=0.01)
    assert inner.max() > 250
    assert plan.mean_coverage == pytest.approx(darkest * 2 / 3, abs=0.01)


@pytest.mark.parametrize("job", ["plain", "turned", "letter", "corrected"])
def test_boxes_and_matrices_read_back_by_pikepdf(job: str, tmp_path: Path) -> None:
    """ISO 32000-1: MediaBox, TrimBox, PrintScaling, and the matrix that places the piece."""
    made = make(skimage.data.astronaut(), JOBS[job], tmp_path)
    with pikepdf.open(made.pdf) as document:
        assert document.Root.ViewerPreferences.PrintScaling == "/None"
        boxes = {tuple(float(v) for v in page.MediaBox) for page in document.pages}
        assert len(boxes) == 1
        width_pt, height_pt = boxes.pop()[2:]
        assert width_pt == pytest.approx(made.plan.sheet.width_mm * 72 / 25.4, abs=0.001)
        assert height_pt > width_pt
        for piece in made.plan.pieces:
            page = document.pages[piece.page - 1]
            assert page.get("/Rotate", 0) == 0
            across, down = placed_mm(page)
            width, height = piece.picture_rect_mm.width, piece.picture_rect_mm.height
            if piece.turned_deg:
                width, height = height, width
            assert across == pytest.approx(width * made.spec.print.across_correction, abs=0.01)
            assert down == pytest.approx(height * made.spec.print.down_correction, abs=0.01)


def placed_mm(page: pikepdf.Page) -> tuple[float, float]:
    """Width and height on the page of the one picture that is drawn, from its matrix."""
    matrix, stack, found = pikepdf.Matrix(), [], []
    for instruction in pikepdf.parse_content_stream(page):
        operator = str(instruction.operator)
        if operator == "q":
            stack.append(matrix)
        elif operator == "Q":
            matrix = stack.pop()
        elif operator == "cm":
            matrix = pikepdf.Matrix(*(float(v) for v in instruction.operands)) @ matrix
        elif operator == "Do":
            found.append(matrix)
    assert len(found) == 1
    a, b, c, d, _, _ = found[0].shorthand
    return max(abs(a), abs(c)) * 25.4 / 72, max(abs(b), abs(d)) * 25.4 / 72


def test_the_same_photo_and_spec_give_the_same_bytes(tmp_path: Path) -> None:
    packs = []
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        packs.append(make(skimage.data.chelsea(), JOBS["plain"], tmp_path / name).pdf.read_bytes())
    assert packs[0] == packs[1]
