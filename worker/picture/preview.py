"""The picture as it will be printed, reduced, for a screen: tones, lines, or both.

Tones and lines come from the same functions as for print, so that the screen shows what the
printer prints; only the drawing differs. Grid, seams and marks are not included: the client
has the plan and draws them over the picture. A preview shows a person's photo, so nothing
stores it.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageChops, ImageDraw

from worker.picture.enlarge import reduced_size, whole_picture
from worker.picture.found_style import StyleFinder, find_style
from worker.picture.tones import Posterised, reduced_values
from worker.reference.master import Master
from worker.spec.plan import Plan
from worker.spec.spec import Spec
from worker.spec.strokes import DASH_GAP_MM, DASH_MM, DASHED, Strokes, line_widths_mm

#: A picture that is tall and narrow is shown narrower, rather than higher than this.
MAX_HEIGHT_PX = 2400
#: Lines and borders are drawn so many times larger, and then reduced.
_FINER = 3
#: A curve is drawn as straight parts of about this length, in pixels.
_PART_PX = 3.0
_MOST_PARTS = 16
#: A plain line is shown at least so wide: thinner ones fade.
_LEAST_PX = 1.0
#: Most of what zlib can save on lines and tones, in a third of the time of its best.
_PNG_LEVEL = 4

Size = tuple[int, int]


@dataclass(frozen=True, kw_only=True)
class Preview:
    """What is shown.

    Attributes:
        png: The file.
        thresholds: Where the tones of a picture in values part, in shares of the printed
            grey; None for other styles.
        tones: The greys, 0 to 255, that they are printed in, dark to light; None likewise.
    """

    png: bytes
    thresholds: tuple[float, ...] | None = None
    tones: tuple[int, ...] | None = None


def preview(  # noqa: PLR0913 - what is shown, how large, and how it is found.
    master_path: Path,
    spec: Spec,
    plan: Plan,
    width_px: int,
    *,
    threads: int = 2,
    find: StyleFinder = find_style,
) -> Preview:
    """Show the picture.

    Args:
        master_path: What intake wrote.
        spec: The spec.
        plan: Its plan.
        width_px: Of what is shown; less for pictures that would become too high.
        threads: How many strips or tiles are worked on at once; it changes nothing of the
            result.
        find: Finds lines or flat tones, or has them already.
    """
    size = reduced_size(plan.picture, width_px, MAX_HEIGHT_PX)
    with Master.open(master_path) as master:
        found = find(master, spec, plan, threads)
        if found.posterised is not None:
            shown = reduced_values(found.posterised, plan, size, finer=_FINER)
            return as_preview(shown, found.posterised)
        shown = _background(master, spec, plan, size)
        if found.strokes is not None:
            line_mm, width_mm = spec.tone.outline.line_mm, plan.picture.width_mm
            shown = ImageChops.darker(shown, draw_lines(found.strokes, line_mm, width_mm, size))
    return as_preview(shown)


def as_preview(shown: Image.Image, posterised: Posterised | None = None) -> Preview:
    """A picture as a file, with the tones that it is printed in."""
    file = io.BytesIO()
    shown.save(file, "PNG", compress_level=_PNG_LEVEL)
    if posterised is None:
        return Preview(png=file.getvalue())
    thresholds, tones = posterised.thresholds, posterised.tones
    return Preview(png=file.getvalue(), thresholds=thresholds, tones=tones)


def reduced_preview(
    background: Image.Image | None, strokes: Strokes | None, spec: Spec, plan: Plan, longer_px: int
) -> Image.Image:
    """The picture as it is printed, from what its making has found already.

    Args:
        background: Its printed tones, no larger than `longer_px`; None where there is only paper.
        strokes: Lines to trace, where there are any.
        spec: The spec.
        plan: Its plan.
        longer_px: The longer side of what is given back.
    """
    size = reduced_size(plan.picture, longer_px, longer_px)
    shown = Image.new("L", size, 255) if background is None else background
    if strokes is None:
        return shown
    lines = draw_lines(strokes, spec.tone.outline.line_mm, plan.picture.width_mm, shown.size)
    return ImageChops.darker(shown, lines)


def draw_lines(strokes: Strokes, line_mm: float, width_mm: float, size: Size) -> Image.Image:
    """Strokes in black on white, in true proportion, but never thinner than can be seen.

    Args:
        strokes: As they were found.
        line_mm: Weight of a plain line.
        width_mm: Of the picture.
        size: Width and height in pixels.
    """
    large = Image.new("L", (size[0] * _FINER, size[1] * _FINER), 255)
    pen = ImageDraw.Draw(large)
    scale = large.width / width_mm
    wider = max(1.0, _LEAST_PX * _FINER / (line_mm * scale))
    widths = [max(round(width * wider * scale), 1) for width in line_widths_mm(line_mm)]
    points, first = flattened(strokes, scale)
    for weight, start, end in zip(strokes.weight, first[:-1], first[1:], strict=True):
        dashed = _dashes(points[start:end], scale) if weight == DASHED else [points[start:end]]
        for part in dashed:
            _draw(pen, part, widths[weight])
    return large.reduce(_FINER)


def flattened(
    strokes: Strokes, scale: float
) -> tuple[npt.NDArray[np.float32], npt.NDArray[np.intp]]:
    """Points along all curves at once, as many on each as its length asks for.

    Args:
        strokes: In mm of the picture.
        scale: Pixels for a millimetre.

    Returns:
        (points, 2), and where those of each stroke begin, with an end.
    """
    curves = strokes.curves_mm * np.float32(scale)
    reach = np.linalg.norm(np.diff(curves, axis=1), axis=2).sum(axis=1)
    parts = np.clip(np.ceil(reach / _PART_PX), 1, _MOST_PARTS).astype(np.intp)
    # A stroke's first curve has its start besides: the others begin where one ended.
    counts = parts.copy()
    starts = strokes.first[:-1]
    counts[starts] += 1
    ends = np.cumsum(counts)
    curve = np.repeat(np.arange(len(counts)), counts)
    step = np.arange(len(curve)) - np.repeat(ends - counts, counts) + 1
    step[np.isin(curve, starts)] -= 1
    t = (step / parts[curve]).astype(np.float32)[:, np.newaxis]
    a, b, c, d = (curves[curve, corner] for corner in range(4))
    # The Bernstein polynomials of degree three.
    u = 1 - t
    points = u * u * u * a + 3 * u * u * t * b + 3 * u * t * t * c + t * t * t * d
    before = np.concatenate([[0], ends])
    return points, before[strokes.first]


def _dashes(points: npt.NDArray[np.float32], scale: float) -> list[npt.NDArray[np.float32]]:
    """The dashes of one stroke, from its start, as sheets have them."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    dashes = []
    for start in np.arange(0.0, along[-1], (DASH_MM + DASH_GAP_MM) * scale):
        end = min(start + DASH_MM * scale, along[-1])
        at = np.concatenate([[start], along[(along > start) & (along < end)], [end]])
        dashes.append(np.stack([np.interp(at, along, axis) for axis in points.T], axis=1))
    return dashes


def _draw(pen: ImageDraw.ImageDraw, points: npt.NDArray[np.float32], width: int) -> None:
    """One stroke; its ends are round, and so are its corners where it is wide."""
    pen.line(points.ravel().tolist(), fill=0, width=width)
    if width > 2:  # noqa: PLR2004 - below three fine pixels nobody sees an end.
        half = (width - 1) / 2
        for x, y in points[[0, -1]].tolist() if width <= _FINER * 2 else points.tolist():
            pen.ellipse((x - half, y - half, x + half, y + half), fill=0)


def _background(master: Master, spec: Spec, plan: Plan, size: Size) -> Image.Image:
    """The picture below the lines: blank paper, or the printed grey or colours."""
    if spec.tone.style == "outline":
        return Image.new("L", size, 255)
    return whole_picture(master, spec, plan, size)
