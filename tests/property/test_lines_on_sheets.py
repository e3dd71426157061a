"""Lines and grids on sheets: the same numbers everywhere, at the exact place, cut at the edge.

Content streams are read back with pikepdf; every number is taken through the matrices in
the file to the page, and held against the plan's place of the piece.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pikepdf
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from worker.layout.planning import plan_sheets
from worker.pages.pack import Aids, PackText, PrintedPiece, write_sheet
from worker.pdf.stroke_paths import LineWork
from worker.spec.plan import Piece, Plan
from worker.spec.spec import Margins, Print, Seams, Sheet, Spec, Support, Tone
from worker.spec.strokes import Strokes, line_widths_mm
from worker.spec.study import DetailLevel, ReferenceStudy

TEXT = PackText(title="Lines", number="7K3F-Q2ZD")
Points = npt.NDArray[np.float64]


def study() -> ReferenceStudy:
    strewn = np.random.default_rng(5).random((96, 144)).astype(np.float32) ** 4
    level = DetailLevel(density=strewn, pixel_size_px=8.0)
    thumb = np.full((64, 96), 128, np.uint8)
    return ReferenceStudy(width_px=6000, height_px=4000, levels=(level,), thumb=thumb)


def strokes_over(width_mm: float, height_mm: float, seed: int) -> Strokes:
    """Some strokes of one to five curves each, strewn over a picture."""
    dice = np.random.default_rng(seed)
    counts = dice.integers(1, 6, 25)
    curves = []
    for count in counts:
        start = dice.random(2) * (width_mm, height_mm)
        for _ in range(count):
            steps = np.cumsum(dice.normal(0, 25, (3, 2)), axis=0)
            points = np.clip(np.vstack((start, start + steps)), 0, (width_mm, height_mm))
            curves.append(points)
            start = points[-1]
    return Strokes(
        curves_mm=np.asarray(curves, np.float32),
        first=np.concatenate(([0], np.cumsum(counts))).astype(np.int32),
        weight=dice.integers(0, 3, len(counts)).astype(np.uint8),
        length_mm=np.full(len(counts), 50, np.float32),
    )


specs = st.builds(
    lambda width, height, margin, lap, across, down: Spec(
        support=Support(width_mm=width, height_mm=height),
        tone=Tone(style="outline"),
        sheet=Sheet(format="iso_a5_148x210mm", margin_mm=Margins(top=margin)),
        seams=Seams(
            joint="lap" if lap else "butt", lap_mm=8.0 if lap else 0.0, arrangement="staggered"
        ),
        print=Print(across_correction=across, down_correction=down),
    ),
    st.floats(60, 420),
    st.floats(60, 420),
    st.floats(0, 18),
    st.booleans(),
    st.floats(0.98, 1.0204),
    st.floats(0.98, 1.0204),
)


class Read:
    """The strokes of a page: paths in the file's numbers and on the page in mm, with widths."""

    def __init__(self, path: Path) -> None:
        self.numbers: list[tuple[float, ...]] = []
        self.page_mm: list[Points] = []
        self.width_mm: list[float] = []
        self.clip_mm: tuple[float, ...] = ()
        with pikepdf.open(path) as pdf:
            self.height = float(pdf.pages[0].MediaBox[3])
            self._walk(pikepdf.parse_content_stream(pdf.pages[0]))

    def _walk(self, steps: list[pikepdf.ContentStreamInstruction]) -> None:  # noqa: C901 - one branch for each operator.
        matrix, stack = pikepdf.Matrix(), []
        width, path, rect, rounded = 0.0, [], (), False
        for step in steps:
            operator, numbers = str(step.operator), step.operands
            if operator == "q":
                stack.append(matrix)
            elif operator == "Q":
                matrix, rounded = stack.pop(), False
            elif operator == "cm":
                matrix = pikepdf.Matrix(*(float(value) for value in numbers)) @ matrix
            elif operator == "re":
                rect = tuple(float(value) for value in numbers)
            elif operator == "W":
                self.clip_mm = self._top_left(rect)
            elif operator == "J":
                rounded = int(numbers[0]) == 1
            elif operator == "w":
                width = float(numbers[0])
            elif operator in {"m", "c"} and rounded:
                path += [float(value) for value in numbers]
            elif operator == "S" and path:
                self._stroke(path, matrix, width)
                path = []

    def _top_left(self, rect: tuple[float, ...]) -> tuple[float, ...]:
        x, y, wide, high = rect
        return tuple(each * 25.4 / 72 for each in (x, self.height - y - high, wide, high))

    def _stroke(self, path: list[float], matrix: pikepdf.Matrix, width: float) -> None:
        points = np.asarray(path).reshape(-1, 2)
        a, b, c, d, e, f = matrix.shorthand
        x = a * points[:, 0] + c * points[:, 1] + e
        y = self.height - (b * points[:, 0] + d * points[:, 1] + f)
        self.numbers.append(tuple(path))
        self.page_mm.append(np.stack((x, y), axis=1) * 25.4 / 72)
        self.width_mm.append(width * abs(a * d - b * c) ** 0.5 * 25.4 / 72)


def sheet_of(spec: Spec, plan: Plan, piece: Piece, aids: Aids) -> Read:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "sheet.pdf"
        write_sheet(path, spec=spec, plan=plan, text=TEXT, printed=PrintedPiece(piece), aids=aids)
        return Read(path)


def placed(points: Points, piece: Piece) -> Points:
    """Where places of the picture lie on the page, by what the plan says of the piece."""
    whole, cut = piece.picture_rect_mm, piece.sheet_rect_mm
    x = (points[:, 0] - whole.left) / whole.width
    y = (points[:, 1] - whole.top) / whole.height
    if piece.turned_deg:
        return np.stack((cut.right - y * cut.width, cut.top + x * cut.height), axis=1)
    return np.stack((cut.left + x * cut.width, cut.top + y * cut.height), axis=1)


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(spec=specs, seed=st.integers(0, 999))
def test_strokes_lie_at_their_exact_place_on_every_sheet(spec: Spec, seed: int) -> None:
    plan = plan_sheets(spec, study())
    strokes = strokes_over(plan.picture.width_mm, plan.picture.height_mm, seed)
    lines = LineWork(strokes=strokes, line_mm=0.35)
    known = {}
    for stroke, (first, last) in enumerate(zip(strokes.first, strokes.first[1:], strict=False)):
        curves = strokes.curves_mm[first:last]
        points = np.vstack((curves[:1, 0], curves[:, 1:].reshape(-1, 2)))
        known[tuple(np.rint(points * 100).ravel().tolist())] = (points.astype(float), stroke)
    seen = set()
    for piece in plan.pieces:
        read = sheet_of(spec, plan, piece, Aids(lines=lines))
        cut = piece.sheet_rect_mm
        assert np.allclose(read.clip_mm, (cut.left, cut.top, cut.width, cut.height), atol=0.001)
        for numbers, page_mm, width_mm in zip(
            read.numbers, read.page_mm, read.width_mm, strict=True
        ):
            # The same whole numbers on every sheet.
            points, stroke = known[numbers]
            assert np.abs(page_mm - placed(points, piece)).max() < 0.01
            assert abs(width_mm - line_widths_mm(0.35)[strokes.weight[stroke]]) < 0.001
            seen.add(stroke)
        drawn = {known[numbers][1] for numbers in read.numbers}
        assert reaching(strokes, piece) <= drawn
    assert seen == set(range(len(strokes)))


def reaching(strokes: Strokes, piece: Piece) -> set[int]:
    """Strokes with a place inside a piece, by walking along them."""
    share = np.linspace(0, 1, 40)[:, None, None]
    a, b, c, d = (strokes.curves_mm[None, :, number].astype(float) for number in range(4))
    along = (1 - share) ** 3 * a + 3 * share * (1 - share) ** 2 * b
    along = along + 3 * share**2 * (1 - share) * c + share**3 * d
    whole = piece.picture_rect_mm
    inside = (along[..., 0] > whole.left) & (along[..., 0] < whole.right)
    inside &= (along[..., 1] > whole.top) & (along[..., 1] < whole.bottom)
    owner = np.repeat(np.arange(len(strokes)), np.diff(strokes.first))
    return set(owner[inside.any(axis=0)].tolist())
