"""Features of faces as a draughtsman draws them: eyes, brows, mouths and noses, each line once.

Where both edges of a brow, a lip or a nostril are nearer than two pencil lines, one is drawn.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.contour_lines import APART_MM
from worker.picture.outline.contours.features.bands import Doubles
from worker.picture.outline.contours.features.eyes.brows import Brow
from worker.picture.outline.contours.features.eyes.eyes import Eye
from worker.picture.outline.contours.features.face_features import FaceFeatures
from worker.picture.outline.contours.features.face_part import FacePart
from worker.picture.outline.contours.features.found_face import FoundFace
from worker.picture.outline.contours.features.landmarks import WINGS
from worker.picture.outline.contours.features.mouths import LEAST_DRAWN, Mouth
from worker.picture.outline.points.sampled_picture import PixelGrid
from worker.picture.outline.polylines import Polylines
from worker.spec.strokes import FORM, INNER, PLAIN

#: In a face of so many mm and more the upper lid, which has the lashes, weighs most of all lines.
_LARGE_MM = 100.0

#: In a small face a closed mouth's lower edge is drawn where it is so far from where lips part, in
#: the most that it is.
_MIDDLE = 0.5

#: What nostrils leave of a nose's line is drawn if it is so long, in sides.
_PIECE = 0.02

_Drawn = list[tuple[Doubles, int]]


@dataclass(frozen=True, kw_only=True)
class FeatureLines:
    """Lines of features.

    Attributes:
        lines: In mm of the picture.
        weight: (lines,) of each; upper lids, irises, brows and the line between lips weigh more
            than the rest.
    """

    lines: Polylines
    weight: npt.NDArray[np.uint8]


def face_lines(features: FaceFeatures, grid: PixelGrid) -> FeatureLines:
    """All lines of features.

    Args:
        features: Those that were found.
        grid: The picture's.
    """
    drawn = [
        (face.part.on_grid(part), weight)
        for face in features.faces
        for line, weight in _drawn(face, grid.pitch_mm * face.part.coarser)
        for part in _in_picture(line, face.part)
    ]
    return as_lines(drawn, grid)


def as_lines(drawn: list[tuple[Doubles, int]], grid: PixelGrid) -> FeatureLines:
    """Lines of places of a grid with their weights, in mm."""
    lines = Polylines.of([(line + 0.5) * (grid.across_mm, grid.down_mm) for line, _ in drawn])
    return FeatureLines(lines=lines, weight=np.array([kind for _, kind in drawn], np.uint8))


def _in_picture(line: Doubles, part: FacePart) -> list[Doubles]:
    """What of a line is in the picture, beyond which the part of a face does not go."""
    # A pixel reaches half its size to either side of its middle.
    ends = line + 0.5
    inside = np.asarray(((ends > 0) & (ends < part.grey.shape[::-1])).all(axis=1))
    return [line[first:last] for first, last in _runs(inside) if last - first > 1]


def _runs(inside: npt.NDArray[np.bool_]) -> list[tuple[int, int]]:
    """The first of each run and where it ends."""
    change = np.flatnonzero(np.diff(inside.astype(np.int8), prepend=0, append=0)).tolist()
    return list(zip(change[::2], change[1::2], strict=True))


def _drawn(face: FoundFace, pixel_mm: float) -> _Drawn:
    """Lines of one face, in whose part a pixel is so large; of those too near to tell one."""
    apart = APART_MM / pixel_mm
    lashes = FORM if face.part.side * pixel_mm >= _LARGE_MM else PLAIN
    found = [line for eye in face.eyes for line in _eye(eye, apart, lashes)]
    found += [(_brow(brow, apart), PLAIN) for brow in face.brows]
    if face.mouth is not None:
        found += _mouth(face.mouth, apart, small=lashes == PLAIN)
    return [*found, *_nose(face, apart, small=lashes == PLAIN)]


def _nose(face: FoundFace, apart: float, *, small: bool) -> _Drawn:
    """Its nostrils, and its line beside them.

    In a small face the line is light, and of wings there is what is below their widest place.
    """
    if face.nose is None:
        return []
    line = face.nose
    if small:
        first, last = (int(np.hypot(*(line - mark).T).argmin()) for mark in face.part.along(WINGS))
        line = line[first : last + 1] if last > first else line
    outside = np.ones(len(line), np.bool_)
    for one in face.nostrils:
        outside &= ~one.has(line)
    parts = [line[first:last] for first, last in _runs(outside)]
    shortest, weight = _PIECE * face.part.side, INNER if small else PLAIN
    found = [
        (part, weight) for part in parts if np.hypot(*np.diff(part, axis=0).T).sum() > shortest
    ]
    for one in face.nostrils:
        wide = 2 * float(np.hypot(*one.axes[1])) >= apart
        found.append((one.outline, PLAIN) if wide else (one.along, weight))
    return found


def _eye(eye: Eye, apart: float, lashes: int) -> _Drawn:
    found = [(eye.upper, lashes), (eye.lower, INNER)]
    found += [(arc, PLAIN) for arc in eye.iris.arcs(eye)]
    if eye.fold is not None and _apart(eye.fold, eye.upper) >= apart:
        found.append((eye.fold, INNER))
    return found


def _brow(brow: Brow, apart: float) -> Doubles:
    """Its outline, or its middle line where it is thin, or its upper edge over the lid's."""
    if brow.overhanging:
        return brow.upper
    return brow.outline if _apart(brow.upper, brow.lower) >= apart else brow.middle


def _mouth(mouth: Mouth, apart: float, *, small: bool) -> _Drawn:
    """The line between lips, and their edges where these are apart from it.

    Edges that run into the corners make a grin of a closed mouth. In a small face, such a one has
    its lower edge in the middle alone (common practice).
    """
    # The parting line is darker than the lips' edges.
    found = [(line, PLAIN) for line in mouth.inner]
    inner, closed = np.concatenate(mouth.inner), len(mouth.inner) == 1
    middle = (0.0, _MIDDLE if small and closed else 0.0)
    for edge, seen, share in zip(mouth.outer, mouth.seen, middle, strict=True):
        off = _off(edge, inner)
        if seen <= LEAST_DRAWN or _in_middle(off) < apart:
            continue
        far = off >= max(apart, share * float(off.max()))
        first, last = max(_runs(far), key=lambda run: run[1] - run[0])
        found.append((edge[first:last], INNER))
    return found


def _apart(one: Doubles, two: Doubles) -> float:
    """How far one line is from another, but near its ends, in the mean."""
    return _in_middle(_off(one, two))


def _off(one: Doubles, two: Doubles) -> Doubles:
    """How far each place of a line is from another one."""
    off = one[:, None] - two
    return np.asarray(np.hypot(off[..., 0], off[..., 1]).min(axis=1))


def _in_middle(off: Doubles) -> float:
    ends = len(off) // 4
    return float(off[ends : len(off) - ends].mean())
