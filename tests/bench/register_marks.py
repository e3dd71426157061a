"""What is read off register marks that are joined with shifts, drawn and from a 600 ppi laser.

Run `python -m tests.bench register`; with `register FOLDER` the joined marks are kept as pictures.
The last table says why marks are black dashes and no grey lines: what a laser makes of a line of
0.18 mm. Dots of one or two pixels are not printed alike by any two printers (common practice).
"""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np
from PIL import Image

from tests.prints.joined_marks import PX_PER_MM, Halves, halves_at, read_mark, screened
from worker.layout.planning import plan_sheets
from worker.pages.pack import PackText, PrintedPiece, write_pack
from worker.pages.sheet import register_marks
from worker.pdf.palette import HAIR_MM
from worker.spec.plan import Plan
from worker.spec.spec import Seams, Spec, Support
from worker.spec.study import DetailLevel, ReferenceStudy

#: Shifts along the seam and away from it, in millimetres; an overlap is below 0.
SHIFTS = ((0.0, 0.0), (0.3, 0.0), (0.6, 0.0), (0.0, 0.3), (0.0, 0.6), (0.0, -0.3), (0.0, -0.6))
JOINTS = {"edge to edge": Seams(), "lapped": Seams(joint="lap", lap_mm=8)}
#: Inks of a line: black in dashes as marks are drawn, and greys that a screen makes dots of.
INKS = {"black dashes": 0.0, "84 %": 0.16, "50 %": 0.5, "30 %": 0.7, "15 %": 0.85}
_SHOWN = 2


def report(names: Sequence[str] = ()) -> None:
    """Print the tables; a folder among the names gets the pictures."""
    folder = Path(names[0]) if names else None
    with tempfile.TemporaryDirectory() as kept:
        for joint, seams in JOINTS.items():
            halves = _halves(Path(kept), seams)
            print(f"\n{joint}: shift along, away | ticks | cross along, away | laser: the same")
            for shift in SHIFTS:
                readings = " | ".join(_read(one, shift) for one in (halves, halves.laser()))
                print(f"{shift[0]:+.1f}, {shift[1]:+.1f} | {readings}")
            if folder:
                _keep(folder / f"{joint.replace(' ', '-')}.png", halves)
    print("\n0.18 mm line, laser | tone | usual dot, pixels | from the edge to its ink, at worst")
    for name, grey in INKS.items():
        tone, dot_px, away_mm = _line_in(grey, broken="dashes" in name)
        print(f"{name} | {tone:.0%} | {dot_px:.0f} | {away_mm:.2f} mm")


def _line_in(grey: float, *, broken: bool) -> tuple[float, float, float]:
    """How a fine line prints that begins at a cut edge, at many places of the printer's screen.

    Returns:
        The share of it that is black; the pixels of the median dot; how far from the edge the
        first ink is at worst, in millimetres.
    """
    columns = np.arange(2000)
    lines = columns % 13 < round(HAIR_MM * PX_PER_MM)
    sheet = np.full((120, columns.size), 255, np.uint8)
    sheet[:, lines] = round(grey * 255)
    if broken:
        dash = round(register_marks.DASH_MM * PX_PER_MM)
        sheet[np.arange(sheet.shape[0]) % (2 * dash) >= dash] = 255
    black = screened(sheet) == 0
    _, _, boxes, _ = cv2.connectedComponentsWithStats(black.astype(np.uint8), connectivity=4)
    numbers = np.cumsum(np.diff(lines.astype(int), prepend=0) == 1) * lines
    first = [np.argmax(black[:, numbers == one].any(axis=1)) for one in range(1, numbers.max())]
    return float(black[:, lines].mean()), float(np.median(boxes[1:, 4])), max(first) / PX_PER_MM


def _read(halves: Halves, shift: tuple[float, float]) -> str:
    reading = read_mark(halves.joined(*shift))
    return f"{reading.ticks:+.1f} | {reading.along:+.2f}, {reading.across:+.2f}"


def _halves(folder: Path, seams: Seams) -> Halves:
    """Both halves of the first mark of a pack with nothing on it."""
    plan = _written(folder / "pack.pdf", seams)
    seam = plan.seams[0]
    return halves_at(folder / "pack.pdf", plan, seam, seam.register_marks_mm[0])


def _written(path: Path, seams: Seams) -> Plan:
    spec = Spec(support=Support(width_mm=330, height_mm=170), seams=seams)
    level = DetailLevel(density=np.zeros((85, 165), np.float32), pixel_size_px=20.0)
    thumb = np.full((85, 165), 128, np.uint8)
    plan = plan_sheets(
        spec, ReferenceStudy(width_px=3300, height_px=1700, levels=(level,), thumb=thumb)
    )
    write_pack(
        path,
        spec=spec,
        plan=plan,
        text=PackText(title="Register marks", number="7K3F-Q2ZD"),
        faint=None,
        printed=(PrintedPiece(piece) for piece in plan.pieces),
    )
    return plan


def _keep(path: Path, halves: Halves) -> None:
    """All shifts side by side, enlarged."""
    path.parent.mkdir(parents=True, exist_ok=True)
    row = np.concatenate([halves.joined(*shift).pixels for shift in SHIFTS], axis=1)
    picture = Image.fromarray(row)
    size = picture.width * _SHOWN, picture.height * _SHOWN
    picture.resize(size, Image.Resampling.NEAREST).save(path)
