"""How fast making is, beside what the same pixels cost at the least and a plain script costs.

The floor decodes luma only, resamples to the pixels that the pack prints and encodes them, on
two threads: nothing that makes a pack of this photo with Pillow can be faster. The plain
script is what a person writes first. All take turns within one run, and medians are told.
"""

from __future__ import annotations

import io
import itertools
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import skimage.data
from PIL import Image
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen import canvas

from tests.pictures.photographs import as_jpeg, enlarged
from worker.layout.planning import plan_sheets
from worker.make.pack import make_pack
from worker.reference.decode import Limits
from worker.reference.intake import take_in
from worker.reference.isolated import Budget, Intake
from worker.reference.study_file import load_study
from worker.spec.spec import Spec, Support

SPEC = Spec(support=Support(width_mm=600, height_mm=400))
WIDTH_PX, HEIGHT_PX = 4724, 3150
ROUNDS = 7


def camera_photo() -> bytes:
    """A 24-megapixel JPEG: scikit-image's portrait with a camera's pixels and grain."""
    return as_jpeg(enlarged(skimage.data.astronaut(), 6000, 4000))


def floor(photo: bytes) -> None:
    """Luma, the pixels that are printed, six JPEGs; two threads."""
    image = Image.open(io.BytesIO(photo))
    image.draft("L", image.size)
    image.load()

    def piece(number: int) -> None:
        row, column = divmod(number, 3)
        box = (column * 2000, row * 2000, column * 2000 + 2000, row * 2000 + 2000)
        size = (WIDTH_PX // 3, HEIGHT_PX // 2)
        image.resize(size, Image.Resampling.BICUBIC, box=box).save(io.BytesIO(), "JPEG", quality=90)

    with ThreadPoolExecutor(2) as pool:
        list(pool.map(piece, range(6)))


def plain_script(photo: bytes) -> None:
    """What one writes first: grey, resize, slice, drawImage, all by default."""
    grey = Image.open(io.BytesIO(photo)).convert("L").resize((WIDTH_PX, HEIGHT_PX))
    pdf = canvas.Canvas(io.BytesIO(), pagesize=(210 * mm, 297 * mm))
    for number in range(6):
        row, column = divmod(number, 3)
        left, top = column * WIDTH_PX // 3, row * HEIGHT_PX // 2
        part = grey.crop((left, top, left + WIDTH_PX // 3, top + HEIGHT_PX // 2))
        pdf.drawImage(ImageReader(part), 5 * mm, 20 * mm, 200 * mm, 200 * mm)
        pdf.showPage()
    pdf.save()


@dataclass(frozen=True)
class Speeds:
    """Medians in seconds."""

    floor: float
    plain: float
    intake: float
    planning: float
    making: float


def measure() -> Speeds:
    """All of them in turns, warm."""
    photo = camera_photo()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        take_in(io.BytesIO(photo), folder, Limits())
        study = load_study(folder / "study.npz")
        plan = plan_sheets(SPEC, study)
        # As the service has it done: by a warm process of its own.
        intake = Intake(Limits(), Budget.for_pixels(Limits().max_pixels, 60))
        works: dict[str, Callable[[], object]] = {
            "floor": lambda: floor(photo),
            "plain": lambda: plain_script(photo),
            "intake": lambda: _taken_in(intake, photo),
            "planning": lambda: plan_sheets(SPEC, study),
            "making": lambda: make_pack(
                folder / "master.zip", SPEC, plan, title="Bench", folder=folder
            ),
        }
        times: dict[str, list[float]] = {work: [] for work in works}
        for _ in range(ROUNDS):
            for work, run in works.items():
                times[work].append(_timed(run))
        intake.close()
    return Speeds(**{work: statistics.median(took) for work, took in times.items()})


def _taken_in(intake: Intake, photo: bytes) -> None:
    with tempfile.TemporaryDirectory() as name:
        intake.take_in(io.BytesIO(photo), Path(name))


def _timed(run: Callable[[], object]) -> float:
    start = time.perf_counter()
    run()
    return time.perf_counter() - start


def report() -> None:
    """Print the table."""
    found = measure()
    print("\n24 megapixels, 60 × 40 cm, 200 ppi, A4: medians of", ROUNDS, "turns")
    print(f"  floor            {found.floor:6.3f} s   1.0")
    print(f"  plain script     {found.plain:6.3f} s   {found.plain / found.floor:.1f} × floor")
    print(f"  intake           {found.intake:6.3f} s   {found.intake / found.floor:.1f} × floor")
    print(f"  planning         {found.planning:6.3f} s")
    print(
        f"  making           {found.making:6.3f} s   {found.making / found.floor:.2f} × floor, "
        f"plain script {found.plain / found.making:.1f} × as long"
    )


MURAL = """
import sys, time
from pathlib import Path
from worker.reference.study_file import load_study
from worker.layout.planning import plan_sheets
from worker.spec.spec import Spec
from worker.spec.spec import Grid, Support, Tone
from worker.make.pack import make_pack

folder, (width, height, square) = Path(sys.argv[1]), map(float, sys.argv[2:5])
grid = Grid(square_mm=square, diagonals=True) if square else None
support = Support(width_mm=width, height_mm=height)
spec = Spec(support=support, tone=Tone(style=sys.argv[5]), grid=grid)
plan = plan_sheets(spec, load_study(folder / "study.npz"))
make_pack(folder / "master.zip", spec, plan, title="Warm", folder=folder)
start = time.process_time()
make_pack(folder / "master.zip", spec, plan, title="Mural", folder=folder)
took = time.process_time() - start
status = Path("/proc/self/status").read_text()
peak = int(status.split("VmHWM:")[1].split()[0]) / 1024
print(plan.sheet_count, took, peak)
"""


STYLES = ("grey", "colour", "outline", "mixed", "values")
#: Sides of squares in millimetres, with diagonals; 0 is no grid.
SQUARES_MM = (0, 5)


def mural(photo: bytes) -> None:
    """Peak memory and processor time per sheet of the process that makes small and large packs.

    The kernel's high-water mark of the process's own memory is read: what `getrusage` tells
    remembers the parent's.
    """
    with tempfile.TemporaryDirectory() as name:
        take_in(io.BytesIO(photo), Path(name), Limits())
        for style, square in itertools.product(STYLES, SQUARES_MM):
            small, _ = _made(name, "600", "400", str(square), style)
            each, peak = _made(name, "3000", "2000", str(square), style)
            print(
                f"  {style:8} squares {square:>2} mm  {each * 1000:5.0f} ms a sheet, "
                f"{each / small:4.2f} × those of 60 × 40 cm   peak {peak:4.0f} MB"
            )


def _made(*asked: str) -> tuple[float, float]:
    """Seconds of processor for each sheet, and the peak in MB."""
    command = [sys.executable, "-c", MURAL, *asked]
    shown = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    sheets, took, peak = map(float, shown.split())
    return took / sheets, peak


def report_mural() -> None:
    """Print memory and time per sheet in every style, with and without a grid.

    A lawn is the worst case: nearly all of it is finer than a line or a patch may be.
    """
    print("\nA mural of 3 × 2 m (one process each, second pack of two)")
    lawn = np.tile(skimage.data.grass(), (13, 19))[:6300, :9400]
    photos = {
        "24 megapixels": camera_photo(),
        "60 megapixels": as_jpeg(enlarged(skimage.data.astronaut(), 9400, 6300)),
        "60 megapixels of lawn": as_jpeg(Image.fromarray(lawn).convert("RGB")),
    }
    for told, photo in photos.items():
        print(f" from {told}")
        mural(photo)
