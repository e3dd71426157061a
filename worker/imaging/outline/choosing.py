"""Which lines are drawn, and how heavily."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.imaging.outline.bridging import bridged
from worker.imaging.outline.canvas import Canvas
from worker.imaging.outline.chains import Chains, chains_of
from worker.imaging.outline.linking import Ids
from worker.imaging.outline.points import EDGE, SLOPE_OF_STEP, Points, slopes_of
from worker.imaging.outline.smoothing import REACH_PX, Floats, box_mean
from worker.layout.spec import Outline
from worker.layout.strokes import FORM, INNER, PLAIN

COARSER = 4
_MOST_TEXTURE = 1.0
_TENTH_OF_SLOPES = 0.459
_MOST_NOISE = 16.0


@dataclass(frozen=True, kw_only=True)
class Measured:
    strength: Floats
    form: Floats


def noise_of(canvas: Canvas) -> float:
    """Standard deviation of contrast where there is nothing but noise, in levels."""
    rows, columns = canvas.grey.shape
    side = 75
    tops = np.unique(np.linspace(0, max(rows - side, 0), 7).astype(int))
    lefts = np.unique(np.linspace(0, max(columns - side, 0), 7).astype(int))
    lost = 2 * REACH_PX + 2
    if min(rows, columns) <= lost:
        return 0.0
    parts = [
        slopes_of(canvas.grey[t : t + side, l : l + side], l, t, canvas.grey.shape).steep.ravel()
        for t in tops
        for l in lefts
    ]
    steep = np.concatenate(parts)
    steep = steep[steep > 0.02]
    if not len(steep):
        return 0.0
    noise = float(np.quantile(steep, 0.1)) / _TENTH_OF_SLOPES / SLOPE_OF_STEP
    return min(noise, _MOST_NOISE)


def needed(detail: float) -> float:
    """Strength that a line of a centimetre needs to be drawn."""
    return 60.0 * (4.0 / 60.0) ** detail


def faintest(detail: float, noise: float) -> float:
    """Contrast of the faintest point that can be part of a line."""
    return max(2.4 * noise, 0.35 * needed(detail), 2.0)


def measure(canvas: Canvas, points: Points, busy: Floats) -> Measured:
    """What points are part of: their strength in their surroundings, and in large."""
    rows, columns = canvas.grey.shape
    pad = ((0, -rows % COARSER), (0, -columns % COARSER))
    grey = np.pad(canvas.grey, pad, mode="edge")
    high, wide = grey.shape[0] // COARSER, grey.shape[1] // COARSER
    small = grey.reshape(high, COARSER, wide, COARSER).mean(axis=(1, 3), dtype=np.float32)
    lost = REACH_PX + 1
    slopes = slopes_of(np.pad(small, lost, mode="edge"), 0, 0, small.shape)
    texture = box_mean(busy, max(round(4.0 / (COARSER * canvas.pitch_mm)), 1))
    row, column = np.divmod(points.key, columns)
    at = row // COARSER * wide + column // COARSER
    form = np.abs(
        slopes.gx.ravel()[at] * points.across_x + slopes.gy.ravel()[at] * points.across_y
    ) / np.float32(SLOPE_OF_STEP)
    around = texture.ravel()[at] / np.float32(SLOPE_OF_STEP)
    clear = points.contrast - np.maximum(around - 0.16 * points.contrast, 0) * np.float32(
        _MOST_TEXTURE
    )
    clear = np.maximum(clear, 0)
    edge = points.kind == EDGE
    strength = np.where(
        edge, 0.6 * clear + 0.4 * np.minimum(form, 1.5 * points.contrast), 0.8 * clear
    )
    return Measured(strength=strength.astype(np.float32), form=form)


def lengths_mm(chains: Chains, points: Points, pitch_mm: float) -> Floats:
    x, y = points.x[chains.order], points.y[chains.order]
    step = np.hypot(np.diff(x, prepend=x[:1]), np.diff(y, prepend=y[:1]))
    step[chains.first[:-1]] = 0
    return np.asarray(
        np.add.reduceat(step, chains.first[:-1]) * pitch_mm if len(chains) else step, np.float32
    )


def chosen(
    canvas, points: Points, link: Ids, measured: Measured, outline: Outline, noise: float
) -> tuple[Chains, npt.NDArray[np.uint8]]:
    pitch = canvas.pitch_mm
    need = needed(outline.detail)
    chains = chains_of(link)
    length = lengths_mm(chains, points, pitch)
    score = _score(chains, measured, length)
    sure = _significance(chains, points, length, noise)
    chains = chains.taken((score > 0.5 * need) & (sure > 4.0))
    link = bridged(points, chains, link, reach_px=1.5 / pitch)
    chains = chains_of(link)
    length = lengths_mm(chains, points, pitch)
    score = _score(chains, measured, length)
    sure = _significance(chains, points, length, noise)
    keep = (score > need) & (sure > 7.0) & (length >= outline.shortest_mm)
    chains = chains.taken(keep)
    form = chains.means(measured.form)
    score, length = score[keep], length[keep]
    weight = np.full(len(chains), PLAIN, np.uint8)
    weight[(score < 1.8 * need) | (length < 8.0)] = INNER
    weight[(form > max(1.5 * need, 24.0)) & (length > 25.0) & (score > 2.5 * need)] = FORM
    return chains, weight


def _score(chains: Chains, measured: Measured, length: Floats) -> Floats:
    return chains.means(measured.strength) * np.clip(length / 10.0, 0.05, 10.0) ** np.float32(0.35)


def _significance(chains: Chains, points: Points, length: Floats, noise: float) -> Floats:
    return chains.means(points.contrast) / max(noise, 0.1) * np.sqrt(length / 1.5)
