"""All that is sought in faces, each as what it is: irises, lids, brows, noses and mouths."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.features.brows import Brow, brows
from worker.picture.outline.contours.features.face_frames import FaceFrame, face_frames
from worker.picture.outline.contours.features.irises import Iris, inside, irises, turned
from worker.picture.outline.contours.features.lid_shapes import Lids, around
from worker.picture.outline.contours.features.lids import lids
from worker.picture.outline.contours.features.mouths import Mouth, mouths
from worker.picture.outline.contours.features.noses import Nose, noses
from worker.picture.outline.contours.features.soft_eyes import soft_eyes
from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.points.gaussian import Floats
from worker.picture.outline.points.sampled_picture import SampledPicture

#: A line in a socket that runs up and down more than this cosine bounds its shade.
_STEEP = 0.6
#: But a line that is as likely to bound the face does.
_BOUNDS = 0.25


@dataclass(frozen=True, kw_only=True)
class FaceFeatures:
    """Those that are seen clearly in a picture; kept nowhere.

    Attributes:
        frames: Of faces that are seen from the front, or nearly.
        irises: Two of a face.
        lids: Those around some of them.
        brows: One for each eye at the most.
        mouths: One of a face.
        noses: One of a face.
    """

    frames: tuple[FaceFrame, ...] = ()
    irises: tuple[Iris, ...] = ()
    lids: tuple[Lids, ...] = ()
    brows: tuple[Brow, ...] = ()
    mouths: tuple[Mouth, ...] = ()
    noses: tuple[Nose, ...] = ()

    def cover(self, x: Floats, y: Floats) -> npt.NDArray[np.bool_]:
        """Which places of the grid are theirs: no other line is drawn there."""
        within = inside(self.irises, x, y) | around(self.lids, x, y)
        features: tuple[Brow | Mouth, ...] = (*self.brows, *self.mouths)
        for one in features:
            at = one.frame.near(x, y)
            within[at] |= one.covers(*one.frame.seen_from(x[at], y[at]).T)
        return within

    def shade(
        self, placed: PlacedReading, x: Floats, y: Floats, nx: Floats, ny: Floats
    ) -> npt.NDArray[np.bool_]:
        """Which places of lines are but shade in the socket between a brow and lids.

        Args:
            placed: The reading, which knows what bounds a face.
            x: Places across, in pixels of the grid.
            y: The same down.
            nx: The way across the line there.
            ny: The same down.
        """
        found = np.zeros(len(x), np.bool_)
        for brow in self.brows:
            if not any(brow.frame.has(one.iris.x, one.iris.y) for one in self.lids):
                continue
            at = brow.frame.near(x, y)
            ways = turned(nx[at].astype(float), ny[at].astype(float), -brow.frame.level)
            steep = np.abs(ways[:, 0]) > _STEEP
            at = at[steep & brow.in_socket(*brow.frame.seen_from(x[at], y[at]).T)]
            there = placed.at(x[at], y[at])
            found[at] |= there("contour") * there("outer") < np.float32(_BOUNDS)
        return found

    def near(self, x: Floats, y: Floats) -> npt.NDArray[np.bool_]:
        """Which places of the grid are in one of the faces or close to it."""
        found = np.zeros(len(x), np.bool_)
        for frame in self.frames:
            found[frame.near(x, y)] = True
        return found

    def beside(self, x: Floats, y: Floats) -> npt.NDArray[np.bool_]:
        """Which places of the grid are in a face whose brows and mouth are drawn as they are."""
        found = np.zeros(len(x), np.bool_)
        for mouth in self.mouths:
            if any(brow.frame is mouth.frame for brow in self.brows):
                found |= mouth.frame.within(x, y)
        return found


def face_features(placed: PlacedReading, sampled: SampledPicture) -> FaceFeatures:
    """Look for them where faces are.

    Args:
        placed: The reading, which knows where eyes are.
        sampled: The picture.
    """
    if not placed.reading.faces:
        return FaceFeatures()
    clear = irises(placed, sampled.grey, sampled.grid)
    soft = soft_eyes(placed, face_frames(placed, clear), clear, sampled.grey, sampled.grid)
    circles = clear + tuple(one.iris for one in soft)
    frames = face_frames(placed, circles)
    return FaceFeatures(
        frames=frames,
        irises=circles,
        lids=lids(placed, sampled.grey, clear) + soft,
        brows=brows(placed, frames, sampled),
        mouths=mouths(frames, sampled),
        noses=noses(frames, sampled.grey),
    )
