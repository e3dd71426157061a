"""How fast making is, beside what the same pixels cost at the least and a plain script costs.

The floor decodes luma only, resamples to the pixels that the pack prints and encodes them, on
two threads: nothing that makes a pack of this photo with Pillow can be faster. The plain
script is what a person writes first. All take turns within one run, and medians are told.
"""

from __future__ import annotations

import io
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import skimage.data
from PIL import Image
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen import canvas

from tests.photographs import as_jpeg, enlarged
from worker.imaging import Limits, load_study, take_in
from worker.layout import Spec, plan_sheets
from worker.layout.spec import Support
from worker.making import make_pack

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
        works: dict[str, Callable[[], object]] = {
            "floor": lambda: floor(photo),
            "plain": lambda: plain_script(photo),
            "intake": lambda: take_in(io.BytesIO(photo), folder, Limits()),
            "planning": lambda: plan_sheets(SPEC, study),
            "making": lambda: make_pack(
                folder / "master.zip", SPEC, plan, title="Bench", folder=folder
            ),
        }
        times: dict[str, list[float]] = {work: [] for work in works}
        for _ in range(ROUNDS):
            for work, run in works.items():
                times[work].append(_timed(run))
    return Speeds(**{work: statistics.median(took) for work, took in times.items()})


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
from worker.imaging import load_study
from worker.layout import Spec, plan_sheets
from worker.layout.spec import Support, Tone
from worker.making import make_pack

folder, (width, height) = Path(sys.argv[1]), map(float, sys.argv[2:4])
spec = Spec(support=Support(width_mm=width, height_mm=height), tone=Tone(style=sys.argv[4]))
plan = plan_sheets(spec, load_study(folder / "study.npz"))
make_pack(folder / "master.zip", spec, plan, title="Warm", folder=folder)
start = time.perf_counter()
make_pack(folder / "master.zip", spec, plan, title="Mural", folder=folder)
took = time.perf_counter() - start
status = Path("/proc/self/status").read_text()
peak = int(status.split("VmHWM:")[1].split()[0]) / 1024
print(plan.sheet_count, took, peak)
"""


def mural(photo: bytes, sizes: tuple[tuple[float, float], ...], style: str) -> None:
    """Peak memory and time per sheet of the process that makes packs of growing size.

    The kernel's high-water mark of the process's own memory is read: what `getrusage` tells
    remembers the parent's.
    """
    with tempfile.TemporaryDirectory() as name:
        take_in(io.BytesIO(photo), Path(name), Limits())
        for width, height in sizes:
            command = [sys.executable, "-c", MURAL, name, str(width), str(height), style]
            shown = subprocess.run(command, check=True, capture_output=True, text=True).stdout
            sheets, took, peak = shown.split()
            print(
                f"  {width / 10:.0f} × {height / 10:.0f} cm, {style:6}  {sheets:>4} sheets  "
                f"{float(took):6.2f} s  {float(took) / int(sheets) * 1000:5.0f} ms a sheet  "
                f"peak {float(peak):4.0f} MB"
            )


def report_mural() -> None:
    """Print memory and time per sheet, for 24 and 60 megapixels, grey and colour."""
    sizes = ((600.0, 400.0), (3000.0, 2000.0))
    print("\nMemory and time as the picture grows (one process each, second pack of two)")
    print(" from 24 megapixels")
    mural(camera_photo(), sizes, "grey")
    print(" from 60 megapixels")
    large = as_jpeg(enlarged(skimage.data.astronaut(), 9400, 6300))
    mural(large, sizes, "grey")
    mural(large, sizes, "colour")
