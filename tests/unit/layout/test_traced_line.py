"""The line to trace in each style, and where eyes lie in the picture."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from tests.pictures.known_lines import HEIGHT_MM, WIDTH_MM, drawing, spoilt
from worker.layout.crop.crop import resolve_crop
from worker.layout.planning import plan_sheets
from worker.layout.traced_line import TracedLine, eyes_over, traced_line
from worker.reading.read import read_picture
from worker.reference.study_file import study_of
from worker.spec.reading import NOTHING_READ, Face, Reading
from worker.spec.spec import Area, Focus, Outline, Print, Spec, Support, Tone, Values
from worker.spec.study import (
    DetailLevel,
    PictureFrame,
    ReferenceStudy,
    detail_over,
    sample_over,
)

WHOLE = Area(left=0, top=0, width=1, height=1)
SUPPORT = Support(width_mm=600, height_mm=400)


def study(sure: int = 255, texture: float = 0.04, faces: tuple[Face, ...] = ()) -> ReferenceStudy:
    """One likely line down the middle, texture everywhere, light left and dark right of it."""
    columns = np.abs(np.arange(600) - 299.5)
    likely = np.tile(np.rint(np.clip((5 - columns) / 3, 0, 1) * 255).astype(np.uint8), (400, 1))
    nothing = np.zeros_like(likely)
    return ReferenceStudy(
        width_px=6000,
        height_px=4000,
        levels=(DetailLevel(density=np.full((250, 375), texture, np.float32), pixel_size_px=4.0),),
        thumb=np.tile(np.repeat(np.array([220, 40], np.uint8), 150), (200, 1)),
        reading=Reading(
            contour=likely,
            outer=likely,
            mark=nothing,
            shadow=nothing,
            sure=np.full_like(likely, sure),
            faces=faces,
        ),
    )


def unread(one: ReferenceStudy) -> ReferenceStudy:
    return replace(one, reading=NOTHING_READ)


def frame_of(spec: Spec, one: ReferenceStudy) -> PictureFrame:
    return PictureFrame(
        crop=resolve_crop(spec, one.width_px, one.height_px),
        rotate_deg=spec.rotate_deg,
        width_mm=spec.support.picture_width_mm,
        height_mm=spec.support.picture_height_mm,
        mirror=spec.print.mirror,
    )


def traced(tone: Tone, one: ReferenceStudy | None = None, support: Support = SUPPORT) -> TracedLine:
    one = one or study()
    spec = Spec(support=support, tone=tone)
    frame = frame_of(spec, one)
    return traced_line(spec, one, frame, detail_over(one, frame))


def drawn(detail: float) -> Tone:
    return Tone(style="outline", outline=Outline(detail=detail))


def test_contours_are_drawn_and_texture_only_when_asked_for() -> None:
    """The line is 400 mm long; texture is 0.04 px for each px², at 0.4 mm to the pixel."""
    everything = 0.04 / 0.4 * 600 * 400
    assert traced(drawn(0.5)).length.total_mm == pytest.approx(400, rel=0.08)
    assert traced(drawn(0.0)).length.total_mm == pytest.approx(400, rel=0.08)
    assert traced(drawn(1.0)).length.total_mm == pytest.approx(everything, rel=0.02)
    steps = [traced(drawn(detail)).length.total_mm for detail in (0.5, 0.6, 0.8, 1.0)]
    assert steps == sorted(set(steps))


@pytest.mark.parametrize("style", ["grey", "colour"])
def test_a_photo_is_traced_along_its_contours_and_a_little_of_its_texture(style: Any) -> None:
    by_eye = traced(Tone(style=style)).length.total_mm
    everything = traced(drawn(1.0)).length.total_mm
    assert traced(drawn(0.5)).length.total_mm < by_eye < 0.2 * everything


def test_the_line_lies_where_the_contour_is() -> None:
    line = traced(drawn(0.5)).length
    starts = np.array([0.0, 290.0, 310.0])
    ends = np.array([290.0, 310.0, 600.0])
    left, middle, right = line.in_columns(starts, ends, 0.0, 400.0)
    assert left == right == pytest.approx(0.0, abs=1e-6)
    assert middle == pytest.approx(400, rel=0.08)


def test_lines_that_lie_too_close_for_a_ridge_each_are_counted_all_the_same() -> None:
    """The detail map has ten edges along one ridge: five lines at the least."""
    one = study(texture=0.0)
    one.levels[0].density[:, 187] = 10 / 4
    found = traced(drawn(0.5), one).length.total_mm
    assert found == pytest.approx(5 * 400, rel=0.2)


def test_the_line_of_drawings_is_counted_truly() -> None:
    """Shapes and strokes of many contrasts, each stroke one line, as a photo of them is read."""
    known = drawing(5)
    grey = Image.fromarray(spoilt(known.grey, 4.0, 85))
    reading = read_picture(grey, (0, 0, grey.width, grey.height))
    with ThreadPoolExecutor(2) as threads:
        one = replace(study_of(grey, grey.size, 1, threads), reading=reading)
    support = Support(width_mm=WIDTH_MM, height_mm=HEIGHT_MM)
    # Places lie 0.1 mm apart.
    all_mm = len(known.lines) * 0.1
    for tone in (Tone(), drawn(0.5)):
        assert traced(tone, one, support).length.total_mm == pytest.approx(all_mm, rel=0.15)
    # Strokes are no outlines of forms, but most of the drawing is.
    assert 0.7 * all_mm < traced(drawn(0.0), one, support).length.total_mm < 0.95 * all_mm


def test_twice_the_size_is_twice_the_line() -> None:
    once, twice = (
        traced(drawn(0.5), support=Support(width_mm=side, height_mm=side * 2 / 3)).length.total_mm
        for side in (450, 900)
    )
    assert twice == pytest.approx(2 * once, rel=0.01)


@pytest.mark.parametrize("detail", [0.0, 0.5, 1.0])
def test_where_the_reading_is_unsure_the_detail_map_counts(detail: float) -> None:
    unsure = study(sure=0)
    unsure.reading.sure[:, :300] = 255
    line = traced(drawn(detail), unsure).length
    spec = Spec(support=SUPPORT)
    by_map = detail_over(unsure, frame_of(spec, unsure))
    right = (np.array([320.0]), np.array([600.0]), 0.0, 400.0)
    assert line.in_columns(*right) == pytest.approx(by_map.in_columns(*right), rel=0.01)


@pytest.mark.parametrize("style", ["grey", "colour", "outline", "mixed", "values"])
def test_without_a_reading_the_detail_map_is_all_there_is(style: Any) -> None:
    one = unread(study())
    spec = Spec(support=SUPPORT, tone=Tone(style=style))
    detail = detail_over(one, frame_of(spec, one))
    found = traced_line(spec, one, frame_of(spec, one), detail)
    assert found.length is detail
    assert (found.weighed.sums == detail.sums).all()
    assert found.told is (style in {"grey", "colour"})


def test_flat_tones_are_traced_along_their_borders() -> None:
    """Light and dark meet in one border of 400 mm, whatever the texture and however many tones."""
    for values in (Values(count=3, thresholds=(0.4, 0.6)), Values(count=5)):
        found = traced(Tone(style="values", values=values), study(texture=0.9))
        assert found.length.total_mm == pytest.approx(400, rel=0.08)


@pytest.mark.parametrize(
    ("tone", "told"),
    [
        (Tone(), True),
        (drawn(0.5), True),
        (Tone(style="mixed"), True),
        (Tone(style="values"), True),
        (Tone(style="outline", lighten=1), True),
        (Tone(lighten=1), False),
    ],
)
def test_line_under_tape_is_told_wherever_something_is_printed_to_trace(
    tone: Tone, *, told: bool
) -> None:
    plan = plan_sheets(Spec(support=SUPPORT, tone=tone), study())
    figures = [plan.seam_line_chosen_mm, plan.seam_line_even_mm]
    figures += [each.line_mm for each in (*plan.seams, *plan.tape_spots)]
    assert all((figure is not None) is told for figure in figures)


def face_with(*eyes: Area) -> Face:
    return Face(box=WHOLE, head=WHOLE, eyes=eyes)


@settings(deadline=None)
@given(
    x=st.floats(0.05, 0.8),
    y=st.floats(0.05, 0.8),
    turn=st.floats(-30, 30),
    mirror=st.booleans(),
    focus=st.tuples(st.floats(0, 1), st.floats(0, 1)),
    tall=st.booleans(),
)
def test_eyes_are_found_where_the_picture_shows_them(
    *, x: float, y: float, turn: float, mirror: bool, focus: tuple[float, float], tall: bool
) -> None:
    """Held against a map of the eye that is read over the picture as every map is."""
    eye = Area(left=x, top=y, width=0.12, height=0.1)
    one = study(faces=(face_with(eye),))
    spec = Spec(
        support=Support(width_mm=300, height_mm=420) if tall else SUPPORT,
        crop=Focus(x=focus[0], y=focus[1]),
        rotate_deg=turn,
        print=Print(mirror=mirror),
    )
    frame = frame_of(spec, one)
    there = np.zeros((400, 600), np.uint8)
    there[round(y * 400) : round((y + 0.1) * 400), round(x * 600) : round((x + 0.12) * 600)] = 255
    shape = (round(frame.height_mm), round(frame.width_mm))
    rows, columns = np.nonzero(sample_over(there, one, frame, shape) > 127)
    boxes = eyes_over(one, frame)
    if not rows.size:
        # The box around a turned eye has corners in which there is nothing of it.
        assert turn or all(min(box.width, box.height) < 4 for box in boxes)
        return
    (box,) = boxes
    seen = (columns.min(), rows.min(), columns.max() + 1, rows.max() + 1)
    # A pixel of the map is a millimetre and more; turned maps are read at their nearest pixel.
    assert box.left - 5 <= seen[0] < seen[2] <= box.right + 5
    assert box.top - 5 <= seen[1] < seen[3] <= box.bottom + 5
    inside = box.left > 0 and box.right < frame.width_mm
    # Where the picture cuts a turned eye, its corner may lie outside.
    if inside and box.top > 0 and box.bottom < frame.height_mm:
        assert (box.left, box.top, box.right, box.bottom) == pytest.approx(seen, abs=5)


def test_an_eye_is_fuller_of_line_than_anything_else() -> None:
    eye = Area(left=0.2, top=0.2, width=0.1, height=0.1)
    bare, seeing = traced(Tone()), traced(Tone(), study(faces=(face_with(eye),)))
    assert seeing.length.total_mm == bare.length.total_mm
    more = seeing.weighed.total_mm - bare.weighed.total_mm
    assert more == pytest.approx(5 * 60 * 40)
    assert math.isclose(seeing.eyes[0].left, 120)
