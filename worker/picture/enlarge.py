"""Resample pieces of the enlargement, which is never in memory as a whole.

Each pixel is computed in the coordinates of the whole picture, from all master pixels that its
kernel covers, also those beyond the piece's edge. So pieces continue each other across seams,
whichever strips, threads or processes they are made in.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from PIL import Image

from worker.reference.master import Box, Master
from worker.reference.resample_window import RIM_PX, Point, Window, rimmed, window_over
from worker.spec.dark_lift import lift_curve
from worker.spec.plan import Piece, Plan, Rect, Size
from worker.spec.spec import ColourMode, Spec
from worker.spec.tone_curve import tone_curve
from worker.units import pixels

#: Pixels of a piece that are made at once, so that little but the piece itself is held,
#: however large it is.
_STRIP_PIXELS = 1 << 20
#: A length may come out a hair longer than it is; that must not cost another pixel.
_HAIR_PX = 1e-6
#: Above this reduction a turned picture is sampled twice as fine and averaged.
_FINE_ENOUGH = 1.25


@dataclass(frozen=True)
class _Cut:
    """A rectangle of the picture as a grid of pixels in the master.

    The centre of pixel (i, j) is at `origin + (i + 0.5) * across + (j + 0.5) * down`, in
    master pixels.
    """

    colour_mode: ColourMode
    size: tuple[int, int]
    origin: Point
    across: Point
    down: Point

    @property
    def pitch_px(self) -> float:
        """Distance of two neighbouring pixels of the grid, in master pixels."""
        return max(math.hypot(*self.across), math.hypot(*self.down))

    @property
    def turned(self) -> bool:
        return self.across[1] != 0.0

    def at(self, column: float, row: float) -> Point:
        """A place of the grid in master pixels."""
        return (
            self.origin[0] + column * self.across[0] + row * self.down[0],
            self.origin[1] + column * self.across[1] + row * self.down[1],
        )

    def strips(self) -> Iterator[tuple[int, _Cut]]:
        """The cut in strips of few rows, each with its first row."""
        width, height = self.size
        most = max(_STRIP_PIXELS // width, 1)
        for top in range(0, height, most):
            rows = min(most, height - top)
            yield (
                top,
                _Cut(self.colour_mode, (width, rows), self.at(0, top), self.across, self.down),
            )


def enlarge_piece(  # noqa: PLR0913 - what of which picture, and how fine.
    master: Master,
    spec: Spec,
    plan: Plan,
    piece: Piece,
    *,
    ppi: float | None = None,
    box: Box | None = None,
) -> Image.Image:
    """One piece, upright as in the picture, mirrored if asked, with its printed tones.

    Args:
        master: The reference.
        spec: The spec.
        plan: Its plan.
        piece: One of the plan's.
        ppi: Pixels per inch; the plan's by default.
        box: Of the piece's pixels only these.

    Returns:
        Mode L for grey, RGB for colour; each side is rounded up to whole pixels, which
        together cover exactly the piece's millimetres.
    """
    rect_mm, resolution = piece.picture_rect_mm, ppi or plan.resolution.printed_ppi
    part_mm, size = boxed(rect_mm, piece_size(rect_mm, resolution), box)
    return picture_part(master, spec, plan, part_mm, size)


def boxed(rect_mm: Rect, size: tuple[int, int], box: Box | None) -> tuple[Rect, tuple[int, int]]:
    """A box of the pixels that are laid over a rectangle: where it is, in mm, and its size.

    Args:
        rect_mm: The rectangle.
        size: Columns and rows that cover it.
        box: Left, top, right and bottom in pixels; None for all.
    """
    if box is None:
        return rect_mm, size
    across, down = rect_mm.width / size[0], rect_mm.height / size[1]
    wide, high = box[2] - box[0], box[3] - box[1]
    left, top = rect_mm.left + box[0] * across, rect_mm.top + box[1] * down
    return Rect(left, top, wide * across, high * down), (wide, high)


def piece_size(rect_mm: Rect, resolution_ppi: float) -> tuple[int, int]:
    """Columns and rows of a piece: each side rounded up to whole pixels."""
    return (_sides_px(rect_mm.width, resolution_ppi), _sides_px(rect_mm.height, resolution_ppi))


def faint_picture(master: Master, spec: Spec, plan: Plan, max_px: int) -> Image.Image:
    """The whole picture, reduced, with its printed tones, for the map to draw over.

    Args:
        master: The reference.
        spec: The spec.
        plan: Its plan.
        max_px: The longer side of what is given back.
    """
    return whole_picture(master, spec, plan, reduced_size(plan.picture, max_px, max_px))


def whole_picture(master: Master, spec: Spec, plan: Plan, size: tuple[int, int]) -> Image.Image:
    """The whole picture on a grid of `size` pixels, with its printed tones."""
    whole = Rect(0.0, 0.0, plan.picture.width_mm, plan.picture.height_mm)
    return picture_part(master, spec, plan, whole, size)


def reduced_size(picture: Size, width_px: float, height_px: float) -> tuple[int, int]:
    """Columns and rows of the whole picture, as large as fits into these limits."""
    share = min(width_px / picture.width_mm, height_px / picture.height_mm)
    return max(round(picture.width_mm * share), 1), max(round(picture.height_mm * share), 1)


def _sides_px(length_mm: float, resolution_ppi: float) -> int:
    return max(math.ceil(pixels(length_mm, resolution_ppi) - _HAIR_PX), 1)


def _curved(picture: Image.Image, curve: npt.NDArray[np.uint8]) -> Image.Image:
    if np.array_equal(curve, np.arange(256)):
        return picture
    return picture.point(curve.tolist() * len(picture.getbands()))


def picture_part(  # noqa: PLR0913 - what of which picture, on which grid, read how.
    master: Master,
    spec: Spec,
    plan: Plan,
    rect_mm: Rect,
    size: tuple[int, int],
    *,
    colour_mode: ColourMode | None = None,
    toned: bool = True,
) -> Image.Image:
    """A rectangle of the picture as printed.

    Tones and mirroring are applied strip by strip: a large piece is never held twice.

    Args:
        master: The reference.
        spec: The spec.
        plan: Its plan.
        rect_mm: Inside the picture.
        size: Columns and rows of the grid that is laid over the rectangle.
        colour_mode: Grey or colour; the spec's own by default.
        toned: With the printed tones, or as the reference has them.
    """
    colour_mode = colour_mode or spec.tone.colour_mode
    mirror = spec.print.mirror
    if mirror:
        left_mm = plan.picture.width_mm - rect_mm.right
        rect_mm = Rect(left_mm, rect_mm.top, rect_mm.width, rect_mm.height)
    part = Image.new("L" if colour_mode == "grey" else "RGB", size)
    for top, strip in _placed(master, colour_mode, plan, rect_mm, size).strips():
        cut = _turned(master, strip) if strip.turned else _upright(master, strip)
        if toned:
            cut = _toned(cut, master, spec, strip)
        if mirror:
            cut = cut.transpose(Image.Transpose.FLIP_LEFT_RIGHT)
        part.paste(cut, (0, top))
    return part


def _toned(picture: Image.Image, master: Master, spec: Spec, cut: _Cut) -> Image.Image:
    """The picture of a cut in its printed tones, darks lifted where the spec asks for it."""
    curve = tone_curve(spec.tone)
    toned = _curved(picture, curve)
    box = _lifted_box(master, cut) if spec.tone.lifted else None
    if box is None:
        return toned
    size = (box[2] - box[0], box[3] - box[1])
    part = _Cut(cut.colour_mode, size, cut.at(box[0], box[1]), cut.across, cut.down)
    amounts = [round(value * spec.tone.lifted) for value in range(256)]
    share = _map_strip(master.lift_map, master, part).point(amounts)
    lifted = curve[lift_curve()].tolist() * len(picture.getbands())
    whole = toned.copy() if toned is picture else toned
    whole.paste(picture.crop(box).point(lifted), box[:2], share)
    return whole


def _lifted_box(master: Master, cut: _Cut) -> Box | None:
    """The pixels of a cut that may be lifted; None where none is.

    Most of a picture is not, and looking at the small map is quicker than enlarging it.
    """
    wide, high = master.lift_map.width / master.width_px, master.lift_map.height / master.height_px
    (columns, rows) = cut.size
    corners = [cut.at(x, y) for x in (0, columns) for y in (0, rows)]
    left, top = (max(math.floor(min(ends)) - 1, 0) for ends in _ends(corners, wide, high))
    right, bottom = (math.ceil(max(ends)) + 1 for ends in _ends(corners, wide, high))
    found = master.lift_map.crop((left, top, right, bottom)).getbbox()
    if found is None or cut.turned:
        return found and (0, 0, columns, rows)
    # A pixel of the map reaches to the middles of those beside it.
    x = [(left + found[0] - 1) / wide, (left + found[2] + 1) / wide]
    y = [(top + found[1] - 1) / high, (top + found[3] + 1) / high]
    box = (
        max(math.floor((x[0] - cut.origin[0]) / cut.across[0]), 0),
        max(math.floor((y[0] - cut.origin[1]) / cut.down[1]), 0),
        min(math.ceil((x[1] - cut.origin[0]) / cut.across[0]), columns),
        min(math.ceil((y[1] - cut.origin[1]) / cut.down[1]), rows),
    )
    return box if box[0] < box[2] and box[1] < box[3] else None


def _ends(corners: list[Point], wide: float, high: float) -> tuple[list[float], list[float]]:
    """Corners in master pixels as columns and as rows of a map."""
    return [x * wide for x, _ in corners], [y * high for _, y in corners]


def map_part(  # noqa: PLR0913, PLR0917 - which map, of which picture, on which grid.
    values: Image.Image,
    master: Master,
    spec: Spec,
    plan: Plan,
    rect_mm: Rect,
    size: tuple[int, int],
) -> Image.Image:
    """A rectangle of the picture from a map over the whole upright reference.

    Args:
        values: Mode L, as wide and high as one likes.
        master: The reference.
        spec: The spec.
        plan: Its plan.
        rect_mm: Inside the picture.
        size: Columns and rows of the grid that is laid over the rectangle.
    """
    if spec.print.mirror:
        left_mm = plan.picture.width_mm - rect_mm.right
        rect_mm = Rect(left_mm, rect_mm.top, rect_mm.width, rect_mm.height)
    part = _map_strip(values, master, _placed(master, "grey", plan, rect_mm, size))
    return part.transpose(Image.Transpose.FLIP_LEFT_RIGHT) if spec.print.mirror else part


def _map_strip(values: Image.Image, master: Master, cut: _Cut) -> Image.Image:
    """A map at the pixels of a cut."""
    wide, high = values.width / master.width_px, values.height / master.height_px
    x, y = cut.at(0, 0)
    if not cut.turned:
        right, bottom = cut.at(*cut.size)
        # Rounding may put an edge a hair outside of the reference.
        box = (
            max(x * wide, 0.0),
            max(y * high, 0.0),
            min(right * wide, float(values.width)),
            min(bottom * high, float(values.height)),
        )
        return values.resize(cut.size, Image.Resampling.BILINEAR, box=box)
    return rimmed(values).transform(
        cut.size,
        Image.Transform.AFFINE,
        (
            cut.across[0] * wide,
            cut.down[0] * wide,
            x * wide + RIM_PX,
            cut.across[1] * high,
            cut.down[1] * high,
            y * high + RIM_PX,
        ),
        Image.Resampling.BILINEAR,
    )


def _placed(
    master: Master, colour_mode: ColourMode, plan: Plan, rect_mm: Rect, size: tuple[int, int]
) -> _Cut:
    """The grid of a rectangle of the unmirrored picture, in the master.

    The crop is turned about its own centre, against the way its content is to turn.
    """
    crop_px = (plan.crop.width * master.width_px, plan.crop.height * master.height_px)
    centre = (
        plan.crop.left * master.width_px + crop_px[0] / 2,
        plan.crop.top * master.height_px + crop_px[1] / 2,
    )
    scale = (crop_px[0] / plan.picture.width_mm, crop_px[1] / plan.picture.height_mm)
    turn = math.radians(plan.rotate_deg)
    cosine, sine = math.cos(turn), math.sin(turn)
    x, y = rect_mm.left * scale[0] - crop_px[0] / 2, rect_mm.top * scale[1] - crop_px[1] / 2
    step = (rect_mm.width * scale[0] / size[0], rect_mm.height * scale[1] / size[1])
    return _Cut(
        colour_mode,
        size,
        origin=(centre[0] + x * cosine + y * sine, centre[1] - x * sine + y * cosine),
        across=(step[0] * cosine, -step[0] * sine),
        down=(step[1] * sine, step[1] * cosine),
    )


def _upright(master: Master, cut: _Cut) -> Image.Image:
    window = _window(master, cut)
    left, top = window.inside(cut.at(0, 0))
    right, bottom = window.inside(cut.at(*cut.size))
    limit = window.image.size
    # Rounding may put an edge a hair outside of the reference.
    box = (max(left, 0.0), max(top, 0.0), min(right, limit[0]), min(bottom, limit[1]))
    return window.image.resize(cut.size, Image.Resampling.BICUBIC, box=box)


def _turned(master: Master, cut: _Cut) -> Image.Image:
    window = _window(master, cut)
    finer = 2 if cut.pitch_px / window.shrink > _FINE_ENOUGH else 1
    image, rim = rimmed(window.image), RIM_PX
    x, y = window.inside(cut.at(0, 0))
    unit = window.shrink * finer
    (ax, ay), (dx, dy) = cut.across, cut.down
    sampled = image.transform(
        (cut.size[0] * finer, cut.size[1] * finer),
        Image.Transform.AFFINE,
        (ax / unit, dx / unit, x + rim, ay / unit, dy / unit, y + rim),
        Image.Resampling.BICUBIC,
        fillcolor="white",
    )
    return sampled.reduce(finer) if finer > 1 else sampled


def _window(master: Master, cut: _Cut) -> Window:
    """The master pixels that a cut needs, no finer than it needs them."""
    shrink = master.shrink_for(cut.pitch_px)
    width, height = cut.size
    corners = [cut.at(0, 0), cut.at(width, 0), cut.at(0, height), cut.at(width, height)]
    return window_over(master, cut.colour_mode, corners, shrink, max(cut.pitch_px, shrink))
