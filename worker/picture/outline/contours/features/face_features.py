"""All that is sought in faces, each as what it is: eyes, brows, noses, mouths and jaws.

Landmarks of a face say where, the picture says where exactly. Nothing of either is stored.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from worker.picture.outline.contours.features.bands import Doubles
from worker.picture.outline.contours.features.bounds.crowns import crown
from worker.picture.outline.contours.features.bounds.hairlines import hairline
from worker.picture.outline.contours.features.bounds.jaws import jaw
from worker.picture.outline.contours.features.eyes.brows import brows
from worker.picture.outline.contours.features.eyes.eyes import eyes
from worker.picture.outline.contours.features.face_part import face_part
from worker.picture.outline.contours.features.found_face import Flags, FoundFace, Mask
from worker.picture.outline.contours.features.landmarks import LEFT, RIGHT, TIP
from worker.picture.outline.contours.features.mouths import mouth
from worker.picture.outline.contours.features.noses.noses import nose
from worker.picture.outline.contours.features.noses.nostrils import nostrils
from worker.picture.outline.contours.features.seen_landmarks import seen_landmarks
from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.points.gaussian import Floats
from worker.picture.outline.points.sampled_picture import SampledPicture

#: A line in a socket that runs up and down more than this cosine bounds its shade.
_STEEP = 0.6
#: But a line that is as likely to bound the face does.
_BOUNDS = 0.25
#: A face that is printed smaller is left to its edges. Its side is that of its box to a fifth, so
#: that in a much smaller box nothing is looked for.
_LEAST_MM, _LEAST_BOX = 42.0, 0.75
#: So many faces go through the network together: it has some megabytes of numbers for each.
_TOGETHER = 4


@dataclass(frozen=True, kw_only=True)
class FaceFeatures:
    """Those that are seen clearly in a picture; kept nowhere."""

    faces: tuple[FoundFace, ...] = ()

    def cover(self, x: Floats, y: Floats) -> Flags:
        """Which places of the grid are theirs: no other line is drawn there."""
        return self._any(x, y, [one.own for one in self.faces])

    def near(self, x: Floats, y: Floats) -> Flags:
        """Which places of the grid are in one of the faces or close to it."""
        return self._any(x, y, [np.ones_like(one.own) for one in self.faces])

    def beside(self, x: Floats, y: Floats) -> Flags:
        """Which places of the grid are in a face whose brows and mouth are drawn as they are."""
        return self._any(x, y, [one.inside for one in self.faces])

    def shade(self, placed: PlacedReading, x: Floats, y: Floats, nx: Floats, ny: Floats) -> Flags:
        """Which places of lines are but shade in the socket between a brow and lids.

        Args:
            placed: The reading, which knows what bounds a face.
            x: Places across, in pixels of the grid.
            y: The same down.
            nx: The way across the line there.
            ny: The same down.
        """
        found = np.zeros(len(x), np.bool_)
        for face in self.faces:
            if not face.eyes:
                continue
            way = face.eyes[1].iris.middle - face.eyes[0].iris.middle
            way = way / np.hypot(*way)
            at = np.flatnonzero(face.has(face.sockets, x, y))
            at = at[np.abs(nx[at] * way[0] + ny[at] * way[1]) > _STEEP]
            there = placed.at(x[at], y[at])
            found[at] |= there("contour") * there("outer") < np.float32(_BOUNDS)
        return found

    def _any(self, x: Floats, y: Floats, masks: list[Mask]) -> Flags:
        found = np.zeros(len(x), np.bool_)
        for one, mask in zip(self.faces, masks, strict=True):
            found |= one.has(mask, x, y)
        return found


def seek_landmarks(placed: PlacedReading, sampled: SampledPicture) -> list[Doubles]:
    """Landmarks of faces that are large enough for features, (478, 2) in pixels of the grid each.

    Args:
        placed: The reading, which knows where faces are.
        sampled: The picture.
    """
    share_px = float(np.hypot(*placed.to_share[0, :2]))
    least_px = _LEAST_BOX * _LEAST_MM / sampled.pitch_mm
    faces = [face for face in placed.reading.faces if face.box.width / share_px >= least_px]
    some = [faces[first : first + _TOGETHER] for first in range(0, len(faces), _TOGETHER)]
    return [marks for each in some for marks in seen_landmarks(placed, sampled, each)]


def seek_features(
    landmarks: Sequence[Doubles], placed: PlacedReading, sampled: SampledPicture
) -> FaceFeatures:
    """Features beside landmarks.

    Args:
        landmarks: Of each face.
        placed: The reading.
        sampled: The picture.
    """
    found = [features_of(marks, placed, sampled) for marks in landmarks]
    return FaceFeatures(faces=tuple(one for one in found if one is not None))


def features_of(marks: Doubles, placed: PlacedReading, sampled: SampledPicture) -> FoundFace | None:
    """What is seen of a face that is large enough, with its nose there and between its ears.

    Args:
        marks: Its landmarks, (478, 2) in pixels of the grid.
        placed: The reading.
        sampled: The picture.
    """
    left, right, tip = marks[[LEFT, RIGHT, TIP]]
    across = float((tip - left) @ (right - left)) / float((right - left) @ (right - left))
    inside = (tip > 0).all() and (tip < sampled.shape[::-1]).all()
    if not inside or not 0 < across < 1:
        return None
    part = face_part(marks, sampled)
    if part.side_on_grid * sampled.pitch_mm < _LEAST_MM:
        return None
    both, line = eyes(part), nose(part)
    found = FoundFace(
        part=part,
        eyes=both,
        brows=brows(part, eyes=bool(both)),
        mouth=mouth(part),
        nose=line,
        nostrils=() if line is None else nostrils(part, line),
        jaw=jaw(part, placed),
        hairline=hairline(part, placed),
        crown=crown(part, placed),
    )
    # No bound is beyond the picture, nor within features, as in a face that is turned.
    for one in (found.jaw, found.hairline, found.crown):
        x, y = one.line.T.astype(np.float32)
        beyond = (x < 0) | (y < 0) | (x >= sampled.shape[1]) | (y >= sampled.shape[0])
        one.seen[beyond | found.has(found.own, x, y)] = 0
    return found
