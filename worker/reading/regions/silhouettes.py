"""Silhouettes: borders of regions that differ as wholes, of what is in focus before what is behind.

A draughtsman closes the outer contour of what he draws (common practice), also where fur, blur or
dark make it weak. There a network that looks near sees little; seen as a whole, the tail is of one
colour and texture, and the leaves behind it are of another.

A border counts the more the longer regions withstand merging; as far as one of them is in focus;
and as far as one of them is behind: such regions have much of the picture's edge for their size
(Zhu and others 2014, "Saliency optimization from robust background detection"). Where no contour
is seen, as in a sky that pales or in blocks of compression, there is none.
"""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw

from worker.reading.planes import Floats, between_pixels
from worker.reading.regions.merging import Doubles, Ints, Regions
from worker.reading.regions.placing import PlacedLines, placed
from worker.reading.regions.tracing import Border, borders_of
from worker.spec.reading import Bytes

#: Regions are grown on a grid of so many squares along the longer side, up to one scale after the
#: other, so that what is alike merges first; what withstands each of the last raises log odds by so
#: much.
_LONGER, _SCALES, _RAISES = 192, (2e3, 1e4, 2.5e4, 6e4, 1.5e5), (0.0, 2.0, 3.0)
#: Levels of colour count so much beside those of grey; and a doubling of what is finer than
#: squares so many levels, over some squares.
_COLOUR, _FINE, _FINE_ROUNDS = 1.5, 12.0, 8
#: A border bounds what the picture is of from such a step in how likely that is on, and wholly with
#: so much more.
_STEPS, _WHOLLY_STEPS = 0.25, 0.3
#: All values together spread over so many levels, or they are stretched; but what spreads over
#: fewer than the second is not stretched more.
_SPREAD, _LEAST_SPREAD = 60.0, 15.0
#: A region is in focus from this share of what is finer there than in the sharpest parts on, and
#: wholly so from a little more on; the sharpest parts are above this quantile, and above so much,
#: as they are in any photograph: blocks of compression have a fifth of it.
_IN_FOCUS, _WHOLLY, _SHARPEST, _LEAST_SHARP = 0.5, 0.25, 0.9, 25.0
#: A border is seen from this likelihood on, and wholly with so much more, over so many places.
_SEEN, _WHOLLY_SEEN, _SEEN_OVER = 0.12, 0.2, 11
#: Slopes are parts of this quantile of them, or of so many levels per pixel.
_STEEP, _LEAST_STEEP = 0.98, 2.0
#: Means over neighbours, of variance 1/2 each, that slopes and lines are smoothed by; and what
#: then makes a line as high as it was.
_ROUNDS, _AS_HIGH = 3, 3.0
#: Smaller pictures have no regions.
_LEAST_PX = 64


def silhouettes(picture: Image.Image, contour: Floats, subject: Bytes) -> Floats:
    """By how much the log odds of contours are raised, (rows, columns).

    Args:
        picture: Mode RGB.
        contour: How likely a contour passes in each of its pixels, 0 to 1.
        subject: How likely a place is of what it is of, 0 to 255, on a grid of any size.
    """
    if min(picture.size) < _LEAST_PX:
        return np.zeros_like(contour)
    parts = picture.convert("YCbCr")
    fine, main, labels = _regions(parts, contour, subject)
    borders = borders_of(labels[0])
    if not borders:
        return np.zeros_like(contour)
    weight = _weights(borders, labels, fine, main)
    rows, columns = labels[0].shape
    squares = np.array(picture.size) / (columns, rows)
    slope = _slopes(parts)
    lines = placed([each.corners * squares - 0.5 for each in borders], contour, slope)
    seen = np.clip(
        (_along(between_pixels(contour, *lines.places.T), lines) - _SEEN) / _WHOLLY_SEEN, 0, 1
    )
    return _painted(lines, weight[lines.owner] * seen, picture.size)


def _regions(
    parts: Image.Image, contour: Floats, subject: Bytes
) -> tuple[Floats, Floats, list[Ints]]:
    """How much of each square is finer, how far it is the subject's, its region at each scale."""
    share = _LONGER / max(parts.size)
    columns, rows = (max(round(side * share), 2) for side in parts.size)
    values, fine = _values(parts, (columns, rows))
    smooth = Image.fromarray(subject).resize((columns, rows), Image.Resampling.BILINEAR)
    main = np.asarray(smooth, np.float32) / np.float32(255)
    down, across = (
        np.arange(many) * side // many
        for many, side in zip((rows, columns), contour.shape, strict=True)
    )
    most = np.maximum.reduceat(np.maximum.reduceat(contour, down, axis=0), across, axis=1)
    regions, label, labels = Regions.squares(values, most), np.arange(rows * columns), []
    for scale in _SCALES:
        regions, number = regions.merged(scale)
        label = number[label]
        labels.append(label.reshape(rows, columns))
    return fine, main, labels[-len(_RAISES) :]


def _values(parts: Image.Image, size: tuple[int, int]) -> tuple[Floats, Floats]:
    """What regions are told by, (rows, columns, values); and how much there is of what is finer."""
    small = parts.resize(size, Image.Resampling.BOX)
    grey = parts.getchannel(0)
    coarse = small.getchannel(0).resize(grey.size, Image.Resampling.BILINEAR)
    off = np.abs(np.asarray(grey, np.float32) - np.asarray(coarse, np.float32))
    finer = Image.fromarray(off).resize(size, Image.Resampling.BOX)
    fine = _FINE * np.log2(1 + _smoothed(np.asarray(finer, np.float32), _FINE_ROUNDS))
    colour = np.array((1, _COLOUR, _COLOUR), np.float32)
    values = np.dstack((np.asarray(small, np.float32) * colour, fine))
    spread = float(np.sqrt(values.var(axis=(0, 1)).sum()))
    values *= _SPREAD / max(spread, _LEAST_SPREAD)
    return values.astype(np.float32), fine.astype(np.float32)


def _weights(borders: list[Border], labels: list[Ints], fine: Floats, main: Floats) -> Doubles:
    """How much each border counts."""
    one = np.array([border.one for border in borders])
    two = np.array([border.two for border in borders])
    sharpest = max(float(np.quantile(fine, _SHARPEST)), _LEAST_SHARP)
    weight, figure, apart = np.zeros(len(borders)), np.zeros(len(borders)), np.ones(len(borders))
    for label, raises in zip(labels, _RAISES, strict=True):
        here, there = label.ravel()[one], label.ravel()[two]
        count = np.bincount(label.ravel())
        focus = np.bincount(label.ravel(), fine.ravel()) / count / sharpest
        focus = np.clip((focus - _IN_FOCUS) / _WHOLLY, 0, 1)
        behind = _behind(label)
        # Gloss may merge with what is behind at last, and bounds nothing.
        apart = np.minimum(apart, np.maximum(behind[here], behind[there]))
        # What withstands merging longer is weighed by the larger regions.
        larger = raises * np.maximum(focus[here], focus[there]) * apart
        weight = np.where(here != there, larger, weight)
        of_main = np.bincount(label.ravel(), main.ravel()) / count
        step = np.clip((np.abs(of_main[here] - of_main[there]) - _STEPS) / _WHOLLY_STEPS, 0, 1)
        figure = np.maximum(figure, step)
    return np.maximum(weight, _RAISES[-1] * figure)


def _behind(label: Ints) -> Doubles:
    """How far each region is behind, by what it has of the picture's edge; 0 to 1."""
    count = np.bincount(label.ravel())
    edge = np.concatenate((label[0], label[-1], label[1:-1, 0], label[1:-1, -1]))
    at_edge = np.bincount(edge, minlength=len(count)) / np.sqrt(count)
    return np.asarray(1 - np.exp(-(at_edge**4) / 2))


def _slopes(parts: Image.Image) -> Floats:
    """How steep the picture is, in grey and colour; 1 where it is steepest."""
    squared = np.zeros(parts.size[::-1], np.float32)
    for part, counts in zip(parts.split(), (1, _COLOUR, _COLOUR), strict=True):
        down, across = np.gradient(_smoothed(np.asarray(part, np.float32), _ROUNDS))
        squared += np.float32(counts**2) * (down * down + across * across)
    steep = np.sqrt(squared)
    return np.asarray(steep / max(float(np.quantile(steep, _STEEP)), _LEAST_STEEP), np.float32)


def _along(values: Floats, lines: PlacedLines) -> Floats:
    """Means of values over places along lines."""
    total = np.concatenate(([0.0], np.cumsum(values)))
    at, owner, reach = np.arange(len(values)), lines.owner, _SEEN_OVER // 2
    low = np.maximum(at - reach, lines.first[owner])
    high = np.minimum(at + reach + 1, lines.first[owner + 1])
    return np.asarray((total[high] - total[low]) / (high - low), np.float32)


def _painted(lines: PlacedLines, weight: Doubles, size: tuple[int, int]) -> Floats:
    """Lines as bands a few pixels wide."""
    paper = Image.new("F", size, 0)
    pen = ImageDraw.Draw(paper)
    places = [*map(tuple, lines.places.tolist())]
    inner = np.ones(len(places), bool)
    inner[lines.first[1:] - 1] = False
    parts = np.flatnonzero(inner & (weight > 0))
    # Heavier ones last, which stay where lines cross.
    for part in parts[np.argsort(weight[parts], kind="stable")].tolist():
        pen.line([places[part], places[part + 1]], float(weight[part]))
    bands = _AS_HIGH * _smoothed(np.asarray(paper, np.float32), _ROUNDS)
    return np.asarray(np.minimum(bands, np.float32(_RAISES[-1])), np.float32)


def _smoothed(values: Floats, rounds: int) -> Floats:
    """Means of a place and its neighbours in both directions, so often; edges go on."""
    for _ in range(rounds):
        for axis in (0, 1):
            wide = np.pad(values, [(1, 1) if each == axis else (0, 0) for each in (0, 1)], "edge")
            before, after = (wide[:-2], wide[2:]) if axis == 0 else (wide[:, :-2], wide[:, 2:])
            values = (before + 2 * values + after) / np.float32(4)
    return np.asarray(values, np.float32)
