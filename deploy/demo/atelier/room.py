"""The quiet things: the wooden table top, the plastered wall, a card and a book."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from PIL import Image, ImageDraw, ImageFilter, ImageFont

from atelier.noise import clouds2, clouds3, noise2, noise3
from atelier.shapes import Body, Finish, Points, bound, box
from atelier.vectors import Floats, column, mix, rotation, smoothstep, unit

WALL_Z = -0.30
WALL_ALBEDO = (0.53, 0.50, 0.44)
TABLE_ALBEDO = (0.20, 0.118, 0.062)
_PLANK = 0.128

#: The card's half sizes in metres: width, height, thickness.
CARD = (0.054, 0.036, 0.0007)
#: The book's half sizes in metres.
BOOK = (0.075, 0.0135, 0.052)


def wall(points: Points) -> Finish:
    """Limewashed plaster: soft clouds of tone, faint trowel marks that raking light finds."""
    x, y = points.world[0], points.world[1]
    tone = 1 + 0.07 * clouds2(x * 4 + 40, y * 4, 3) + 0.025 * clouds2(x * 160, y * 160, 2)
    lift = 0.0004
    trowel = [clouds2((x + dx) * 55, (y + dy) * 70, 3) for dx, dy in ((0, 0), (lift, 0), (0, lift))]
    slope = np.stack([trowel[0] - trowel[1], trowel[0] - trowel[2], 0 * x]) * (0.0003 / lift)
    grain = clouds2(x * 300, y * 300, 2) * 0.006
    slope[0] += grain
    return Finish(
        albedo=column(WALL_ALBEDO) * tone,
        normal=unit(points.normal + slope * 0.7),
        mirror=0.0,
        roughness=1.0,
    )


def table(points: Points) -> Finish:
    """Planks of an old waxed table: rings cut flat, fibres, pores, a few dents."""
    x, z = points.world[0], points.world[2]
    row = np.floor((z + 0.047) / _PLANK)
    across = (z + 0.047) / _PLANK - row
    x = x + row * 3.71
    wander = clouds2(x * 3.2, z * 9 + row * 7, 3)
    heart = 0.35 + 0.5 * noise2(row * 5.3 + 0.5, row * 0 + 3.5)
    off = (across - heart) * 6.0 + wander * 1.5
    ring = np.sqrt(off * off + (1.1 + 0.55 * clouds2(x * 1.1, row * 3, 2) + x * 0.28) ** 2) * 6.5
    ring = ring + 0.5 * clouds2(x * 14, z * 110, 2)
    part = ring - np.floor(ring)
    late = smoothstep(0.30, 0.93, part) * smoothstep(1.0, 0.955, part)
    fibre = clouds2(x * 38, z * 1500, 2)
    fine = smoothstep(0.0016, 0.0004, points.footprint)
    tone = noise2(row * 3.1 + 0.3, row * 0 + 8.2)
    early = mix(column((0.285, 0.160, 0.078)), column((0.225, 0.120, 0.056)), tone)
    wood = mix(early, column((0.105, 0.054, 0.026)), 0.72 * late)
    wood = wood * (1 + 0.36 * fibre * (0.35 + 0.65 * fine))
    pore = smoothstep(0.73, 0.86, noise2(x * 120, z * 2300)) * smoothstep(0.75, 0.1, part)
    wood = wood * (1 - 0.5 * pore * fine)
    wear = clouds2(x * 6 + 20, z * 10, 3)
    wood = wood * (1 + 0.22 * wear)
    gap_at = np.minimum(across, 1 - across) * _PLANK
    gap = smoothstep(0.0014, 0.0006, gap_at + 0.0004 * clouds2(x * 40, row, 2))
    bevel = np.where(across < 0.5, -1.0, 1.0) * smoothstep(0.0034, 0.0010, gap_at) * 0.45
    slope = np.stack([0.004 * wear, 0 * x, bevel + 0.022 * fibre * fine + 0.012 * wear])
    return Finish(
        albedo=np.clip(wood * (1 - 0.9 * gap), 0.003, 0.9),
        normal=unit(points.normal + slope),
        mirror=np.asarray(0.030 * (1 - gap), dtype=np.float32),
        roughness=np.asarray(0.36 + 0.10 * late + 0.12 * np.clip(wear, 0, 1), dtype=np.float32),
        cavity=1 - 0.7 * gap,
    )


def lettering(height_px: int = 1008) -> Floats:
    """The card's face as printed, 0 (ink) to 1 (paper): invented words, rules and a leaf."""
    width_px = int(height_px * CARD[0] / CARD[1])
    face = Image.new("L", (width_px, height_px), 255)
    draw = ImageDraw.Draw(face)
    unit_px = height_px / 100

    def line(text: str, size: float, y: float) -> None:
        font = ImageFont.load_default(size * unit_px)
        draw.text((width_px / 2, y * unit_px), text, font=font, fill=20, anchor="mm")

    line("Still life,", 25, 27)
    line("Thursday", 25, 54)
    line("ten till noon  ·  north room", 7.6, 81)
    for y in (8, 92):
        draw.line((9 * unit_px, y * unit_px, width_px - 9 * unit_px, y * unit_px), 40, int(unit_px))
    draw.line(
        (width_px / 2 - 16 * unit_px, 71 * unit_px, width_px / 2 + 16 * unit_px, 71 * unit_px),
        40,
        int(0.8 * unit_px),
    )
    soft = face.filter(ImageFilter.GaussianBlur(unit_px * 0.12))
    return np.asarray(soft, dtype=np.float32) / 255


class _Card:
    """Paper with lettering on its front."""

    def __init__(self) -> None:
        self._face = lettering()

    def __call__(self, points: Points) -> Finish:
        p = points.local
        rows, columns = self._face.shape
        i = np.clip((0.5 - p[1] / (2 * CARD[1])) * rows, 0, rows - 1).astype(np.intp)
        j = np.clip((p[0] / (2 * CARD[0]) + 0.5) * columns, 0, columns - 1).astype(np.intp)
        ink = (1 - self._face[i, j]) * (p[2] > 0)
        ink = ink * (0.86 + 0.14 * noise3(p * 2500))
        paper = column((0.74, 0.705, 0.615)) * (1 + 0.05 * clouds3(p * 60, 3))
        rim = np.minimum(CARD[0] - np.abs(p[0]), CARD[1] - np.abs(p[1]))
        paper = paper * (1 - 0.12 * smoothstep(0.003, 0, rim))
        tooth = np.stack([clouds3(p * 1300 + s, 1) for s in (0, 5, 9)]) * 0.05
        return Finish(
            albedo=np.clip(mix(paper, column((0.022, 0.02, 0.024)), ink), 0.01, 0.9),
            normal=unit(points.normal + tooth),
            mirror=0.02,
            roughness=0.8,
        )


def card(at: Sequence[float], turn_deg: float, lean_deg: float) -> Body:
    """The card, leaning back against something; `at` is the middle of its foot."""
    axes = rotation(turn_deg, -lean_deg)
    origin = column(at) + axes @ column((0, CARD[1], 0))
    return Body(
        name="card",
        distance=bound(box, CARD, 0.0005),
        surface=_Card(),
        axes=axes,
        origin=origin,
        centre=(0, 0, 0),
        reach=0.0655,
        mean_albedo=(0.68, 0.64, 0.56),
        trust=0.95,
    )


def _book_distance(p: Floats) -> Floats:
    """A closed book lying flat: two boards, a rounded spine on the left, a block of leaves."""
    w, h, d = BOOK
    board = np.stack([p[0], np.abs(p[1]) - (h - 0.0013), p[2]])
    boards = box(board, (w, 0.0013, d), 0.0009)
    block = box(p - column((-0.001, 0, 0)), (w - 0.004, h - 0.002, d - 0.0035), 0.0005)
    spine = box(p - column((0, 0, d - 0.001)), (w, h, 0.0022), 0.002)
    return np.asarray(np.minimum(np.minimum(boards, block), spine))


def _book_finish(points: Points) -> Finish:
    """Faded red buckram, leaves that show as fine lines, a gilt rule on the spine."""
    p = points.local
    w, h, d = BOOK
    cover = (np.abs(p[1]) > h - 0.0027) | (p[2] > d - 0.0036)
    thread = noise3(p * column((1500, 1500, 300))) + noise3(p * column((300, 1500, 1500))) - 1
    cloth = column((0.215, 0.052, 0.038)) * (1 + 0.30 * thread + 0.30 * clouds3(p * 45, 3))
    corner = np.minimum(w - np.abs(p[0]), h - np.abs(p[1]) + 0.001)
    rubbed = smoothstep(0.0022, 0.0004, corner + 0.0015 * noise3(p * 400)) * (p[2] > d - 0.005)
    cloth = mix(cloth, column((0.42, 0.25, 0.17)), 0.6 * rubbed)
    gilt = np.zeros_like(p[0])
    for place in (-0.058, -0.0555, 0.0555, 0.058):
        gilt += smoothstep(0.0006, 0.0003, np.abs(p[0] - place) - 0.0001)
    gilt = np.clip(gilt * (p[2] > d - 0.004) * (0.5 + 0.8 * noise3(p * 900)), 0, 1)
    cloth = mix(cloth, column((0.55, 0.38, 0.12)), gilt)
    leaf = noise3(p * column((40, 3600, 40))) - 0.5
    fade = np.clip(0.00022 / points.footprint, 0.25, 1)
    leaves = column((0.60, 0.53, 0.40)) * (1 + 0.7 * leaf * fade)
    albedo = np.where(cover, cloth, leaves)
    relief = np.stack([thread, clouds3(p * 300, 1), thread]) * 0.09 * cover
    return Finish(
        albedo=np.clip(albedo, 0.01, 0.9),
        normal=unit(points.normal + relief),
        mirror=0.03,
        roughness=0.55,
    )


def book(at: Sequence[float], turn_deg: float) -> Body:
    """The book, lying on the table, spine to the front; `at` is under its middle."""
    origin = column(at) + column((0, BOOK[1], 0))
    return Body(
        name="book",
        distance=_book_distance,
        surface=_book_finish,
        axes=rotation(turn_deg),
        origin=origin,
        centre=(0, 0, 0),
        reach=float(np.linalg.norm(BOOK)) + 0.003,
        mean_albedo=(0.22, 0.08, 0.06),
        trust=0.95,
    )
