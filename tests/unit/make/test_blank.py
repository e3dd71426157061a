"""Which pieces have nothing to trace, of lines and of tones that are known."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageDraw

from tests.unit.pages.conftest import plan_for
from worker.make.blank import blank_labels
from worker.make.style import StyledPicture
from worker.pdf.stroke_paths import LineWork
from worker.spec.plan import Plan, Rect
from worker.spec.spec import Seams, Spec, Support, Tone, ToneStyle
from worker.spec.strokes import Strokes

#: Six pieces, whose inner seams are at 200 and 400, and at 200 mm.
SPEC = Spec(support=Support(width_mm=600, height_mm=400), seams=Seams(placement="even"))


def curves(*points: Any) -> LineWork:
    return LineWork(
        strokes=Strokes(
            curves_mm=np.asarray(points, np.float32).reshape(-1, 4, 2),
            first=np.arange(len(points) + 1, dtype=np.int32),
            weight=np.ones(len(points), np.uint8),
            length_mm=np.full(len(points), 10, np.float32),
        ),
        line_mm=0.35,
    )


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_for(SPEC)


def styled(plan: Plan, style: ToneStyle, lines: LineWork | None = None) -> StyledPicture:
    spec = replace(SPEC, tone=Tone(style=style))
    master: Any = None
    return StyledPicture(master=master, spec=spec, plan=plan, lines=lines, posterised=None)


def labels_not_in(plan: Plan, *places: tuple[float, float]) -> set[str]:
    """The labels of pieces that have none of these places, in mm."""
    return {
        piece.label
        for piece in plan.pieces
        if not any(
            piece.picture_rect_mm.left < x < piece.picture_rect_mm.right
            and piece.picture_rect_mm.top < y < piece.picture_rect_mm.bottom
            for x, y in places
        )
    }


def test_pieces_without_a_line_are_blank(plan: Plan) -> None:
    # From the first piece to its right neighbour.
    line = curves([(50, 50), (150, 60), (250, 60), (350, 50)])
    blank = blank_labels(styled(plan, "outline", line), None, plan.pieces)
    assert blank == labels_not_in(plan, (50, 50), (350, 50))
    every = {piece.label for piece in plan.pieces}
    assert blank_labels(styled(plan, "outline", curves()), None, plan.pieces) == every


def test_a_curve_reaches_what_it_passes_and_not_what_its_box_covers() -> None:
    """Held against points that de Casteljau's construction gives, one by one."""
    random = np.random.default_rng(5)
    found = []
    for _ in range(60):
        points = random.uniform(0, 100, (4, 2)).round(2)
        left, top, width, height = random.uniform((0, 0, 10, 10), (90, 90, 50, 50))
        along = casteljau(points)
        reaches = curves(points).reaches(Rect(left, top, width, height))
        # Points are a quarter of a millimetre apart: what is passed by less is no line to trace.
        deep = Rect(left + 0.3, top + 0.3, width - 0.6, height - 0.6)
        assert reaches or not inside(deep, along)
        wide = Rect(left - 0.02, top - 0.02, width + 0.04, height + 0.04)
        assert inside(wide, along) or not reaches
        found.append(reaches)
    assert 10 < sum(found) < 50


def casteljau(points: np.ndarray) -> np.ndarray:
    """Points along a curve, (2000, 2)."""
    share = np.linspace(0, 1, 2000)[:, None, None]
    between = np.broadcast_to(points, (2000, 4, 2))
    while between.shape[1] > 1:
        between = between[:, :-1] * (1 - share) + between[:, 1:] * share
    return between[:, 0]


def inside(area: Rect, points: np.ndarray) -> bool:
    x, y = points.T
    across, down = (x > area.left) & (x < area.right), (y > area.top) & (y < area.bottom)
    return bool((across & down).any())


@pytest.mark.parametrize("style", ["grey", "colour", "values"])
def test_pieces_of_one_tone_are_blank(plan: Plan, style: ToneStyle) -> None:
    mode = "RGB" if style == "colour" else "L"
    reduced = Image.effect_noise((1200, 800), 2).point(lambda v: 200 + round((v - 128) / 4))
    pen = ImageDraw.Draw(reduced)
    # Half a millimetre is a pixel here; the seam beside it is no part of the next piece.
    pen.line([(100, 100), (180, 100)], fill=120, width=1)
    pen.rectangle((700, 500, 760, 560), fill=40)
    blank = blank_labels(styled(plan, style), reduced.convert(mode), plan.pieces)
    assert blank == labels_not_in(plan, (70, 50), (365, 265))


def test_a_gradient_is_not_one_tone(plan: Plan) -> None:
    ramp = Image.fromarray(np.tile(np.linspace(80, 200, 1200).astype(np.uint8), (800, 1)))
    assert blank_labels(styled(plan, "grey"), ramp, plan.pieces) == frozenset()


def test_lines_over_one_tone_are_traced(plan: Plan) -> None:
    flat = Image.new("L", (1200, 800), 230)
    line = curves([(50, 50), (60, 50), (70, 50), (80, 50)])
    blank = blank_labels(styled(plan, "mixed", line), flat, plan.pieces)
    assert blank == labels_not_in(plan, (60, 50))


def test_what_lies_beyond_a_seam_is_of_the_next_piece(plan: Plan) -> None:
    """A pixel that a seam crosses tells of both its sides, so it tells of neither."""
    reduced = Image.new("L", (1000, 667), 255)
    first = plan.pieces[0].picture_rect_mm
    column = int(first.right / 600 * 1000)
    reduced.paste(0, (column, 0, 1000, 667))
    assert plan.pieces[0].label in blank_labels(styled(plan, "grey"), reduced, plan.pieces)
