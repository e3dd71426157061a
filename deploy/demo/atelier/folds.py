"""How the linen folds and how its threads run, each worked out for one place at a time.

Kept apart from the cloth as a whole: here is only the shape of one fold, the thread that a
fold takes up, and the plain weave.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from atelier.noise import noise2
from atelier.vectors import Floats, smoothstep


@dataclass(frozen=True)
class Fold:
    """A ridge along a bent line from `a` past `b` to `c`; height and half width in metres."""

    a: tuple[float, float]
    b: tuple[float, float]
    c: tuple[float, float]
    height: float
    width: float
    skew: float = 0.0


def slack(slope: Floats, cell_m: float) -> Floats:
    """How much longer the cloth is than its shadow, summed along the first axis.

    The sum forgets within 4 cm, so that what happens in one fold does not drag the threads
    of the next; it runs both ways, so that threads stay in place at the middle of a fold.
    """
    longer = (np.sqrt(1 + slope * slope) - 1) * cell_m
    keep = np.float32(1 - cell_m / 0.04)
    ahead, back = np.zeros_like(longer), np.zeros_like(longer)
    for i in range(1, len(longer)):
        ahead[i] = ahead[i - 1] * keep + longer[i - 1]
        back[-1 - i] = back[-i] * keep - longer[-i]
    return np.asarray((ahead + back) / 2)


def ridge(fold: Fold, x: Floats, z: Floats, stray: Floats) -> Floats:
    """Height that one fold adds at each place."""
    a, b, c = (np.array(end, dtype=np.float32) for end in (fold.a, fold.b, fold.c))
    reach = 4.5 * fold.width
    low, high = np.minimum(np.minimum(a, b), c) - reach, np.maximum(np.maximum(a, b), c) + reach
    rows = slice(*np.searchsorted(x[:, 0], (low[0], high[0])))
    columns = slice(*np.searchsorted(z[0], (low[1], high[1])))
    near, share, side = _beside(
        a, b, c, (x[rows, columns] - stray[rows, columns], z[rows, columns] + stray[rows, columns])
    )
    width = fold.width * (0.75 + 0.5 * share) * (1 + fold.skew * side)
    rise = np.maximum(np.sin(np.pi * share), 0) ** 0.8
    total = np.zeros_like(x)
    total[rows, columns] = fold.height * rise * np.exp(-0.5 * (near / width) ** 2)
    return total


def _beside(
    a: Floats, b: Floats, c: Floats, at: tuple[Floats, Floats]
) -> tuple[Floats, Floats, Floats]:
    """Distance to a bent line, how far along it, and on which side (-1 to 1, smoothly)."""
    t = np.linspace(0, 1, 21, dtype=np.float32)[:, None]
    line = (1 - t) ** 2 * a + 2 * t * (1 - t) * b + t * t * c
    near = np.full_like(at[0], np.inf)
    share, side = np.zeros_like(near), np.zeros_like(near)
    for i in range(20):
        way = line[i + 1] - line[i]
        dx, dz = at[0] - line[i, 0], at[1] - line[i, 1]
        part = np.clip((dx * way[0] + dz * way[1]) / (way @ way), 0, 1)
        away = np.hypot(dx - part * way[0], dz - part * way[1])
        closer = away < near
        near = np.where(closer, away, near)
        share = np.where(closer, (i + part) / 20, share)
        across = (dx * way[1] - dz * way[0]) / np.sqrt(way @ way)
        side = np.where(closer, np.clip(across / 0.004, -1, 1), side)
    return near, share, side


def weave(a: Floats, b: Floats, footprint: Floats) -> tuple[tuple[Floats, Floats], Floats]:
    """Slopes and tone of a plain weave, faded where a pixel covers more than a thread."""
    fade = smoothstep(0.85, 0.30, footprint)
    slub = noise2(a * 0.9, b * 0.045) + noise2(a * 0.05, b * 0.9 + 90) - 1
    coarse = smoothstep(3.5, 1.2, footprint)
    a, b = a + 0.25 * noise2(a * 0.1, b * 0.4), b + 0.25 * noise2(a * 0.4 + 50, b * 0.1)
    low_a, low_b = np.floor(a), np.floor(b)
    over = (low_a + low_b).astype(np.int32) & 1
    ua, ub = np.pi * (a - low_a), np.pi * (b - low_b)
    across = np.where(over, np.cos(ua), 0.35 * np.cos(ua)) * np.float32(0.55)
    along = np.where(over, 0.35 * np.cos(ub), np.cos(ub)) * np.float32(0.55)
    bulge = np.where(over, np.sin(ua), np.sin(ub)) * (0.65 + 0.35 * np.sin(ua) * np.sin(ub))
    tone = 1 + fade * (0.75 * bulge - 0.45) * 0.62 + 0.24 * slub * coarse
    return (-across * fade * 0.55, -along * fade * 0.55), np.asarray(tone)
