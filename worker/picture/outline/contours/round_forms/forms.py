"""Round forms of a picture, and what of all other lines they replace."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.round_forms.inner_rings import Inner
from worker.picture.outline.contours.round_forms.rings import Ring
from worker.picture.outline.points.gaussian import Floats

#: What runs along a ring within so many mm is its other edge; how parallel it runs.
_ALONG_MM, _ALONG = 2.0, 0.7
#: Forms in it that are smaller are not drawn: a light that is as large makes an eye.
LEAST_MM = 2.0

Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True, eq=False)
class RoundForm:
    """One of them.

    Attributes:
        outer: Its edge, in pixels of the grid.
        inner: What is in it.
        rim: The outer edge of a light ring around it, or none.
    """

    outer: Ring
    inner: Inner
    rim: Ring | None = None

    @property
    def outermost(self) -> Ring:
        """The rim, or else its edge."""
        return self.rim or self.outer


@dataclass(frozen=True, kw_only=True)
class RoundForms:
    """Those of a picture."""

    forms: tuple[RoundForm, ...] = ()
    pitch_mm: float = 1.0

    def cover(self, x: Floats, y: Floats, across_x: Floats, across_y: Floats) -> Flags:
        """Which places of lines they replace: what is in them, and what runs along them.

        Args:
            x: Places across, in pixels of the grid.
            y: The same down.
            across_x: The way across the line there.
            across_y: The same down.
        """
        found = np.zeros(len(x), np.bool_)
        for form in self.forms:
            ring, near = form.outermost, _ALONG_MM / self.pitch_mm
            reach = float(ring.radii.max()) + near
            off_x, off_y = x - np.float32(ring.middle[0]), y - np.float32(ring.middle[1])
            at = np.flatnonzero((np.abs(off_x) < reach) & (np.abs(off_y) < reach))
            off = np.stack((off_x[at], off_y[at]), axis=1).astype(np.float64)
            far, length = ring.far(ring.middle + off), np.maximum(np.hypot(*off.T), 1.0)
            outwards = np.abs(off[:, 0] * across_x[at] + off[:, 1] * across_y[at]) / length
            # From the middle the edge is as far as this place, divided by how far that is in radii.
            beside = np.abs(far - 1) * length < near * far
            found[at] |= (far < 1) | (beside & (outwards > _ALONG))
        return found
