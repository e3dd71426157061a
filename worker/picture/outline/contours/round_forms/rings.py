"""Closed courses around middles, in strips from inside to outside.

A form's edge is where it is lighter on one side than on the other, all round; of all closed lines
that bend slowly the one that is seen best is found exactly (dynamic programming), as lines of
faces are.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from worker.picture.outline.contours.features.bands import Doubles, closed_path, fair_ring
from worker.picture.outline.contours.features.courses import closed_course
from worker.picture.outline.contours.round_forms.seen_picture import SeenPicture, ways
from worker.picture.outline.points.gaussian import Floats, box_mean

#: Columns of a strip, and its rows in parts of the radius.
_COLUMNS, _ROWS = 48, np.linspace(0.4, 1.6, 25)
#: It steps between so many rows on either side of a row, and twice as many; by lids it is near.
_BESIDE, _BESIDE_LID = 2, 1
#: A step counts in these levels, up to so many; what a bend costs.
_STEP_LEVELS, _MOST_STEP, _BENDS = 20.0, 3.0, 0.3
#: It is seen from so many levels on, and from this part of what is usual along it.
_SEEN_LEVELS, _SEEN_SHARE = 10.0, 0.35
#: Deviations are no smaller than so many levels; and a normal one has so many from the first
#: quartile to the third.
_LEAST_DEVIATION, _QUARTILES = 3.0, 1.349
#: An exact course is sought so far to both sides of a coarse one, in radii, in so many rows, and in
#: so many columns for each; what a bend costs. Waves of so many columns are smoothed on the way,
#: and at last.
_REACH, _FINE_ROWS, _FINER, _FINE_BENDS = 0.2, 21, 2, 0.15
_FINE_FAIR, _FAIR = 4.0, 10.0
#: Well inside and outside, in its radii.
_WELL = (0.6, 1.4)
#: From here on in a form, in its radii, its edge cuts what is in it.
_CUT = 0.9
#: Places of a ring that is drawn, for each column.
_DRAWN = 4
#: Its first waves, of which an ellipse near the middle has no more.
_ROUND_WAVES = 3


@dataclass(frozen=True, kw_only=True, eq=False)
class Ring:
    """A closed course around a middle, in pixels of the grid.

    Attributes:
        middle: Across and down.
        radii: (columns,) from there, beginning at the top.
        step: How many levels it steps there, (any,).
        inside, outside: Levels on either side.
        width: Of its edge, in pixels, where it is known exactly.
    """

    middle: Doubles
    radii: Doubles
    step: Floats
    inside: Floats
    outside: Floats
    width: float = 0.0

    @property
    def radius(self) -> float:
        """The mean one."""
        return float(self.radii.mean())

    @cached_property
    def contrast(self) -> float:
        """The usual step."""
        return float(np.median(self.step))

    @property
    def seen(self) -> float:
        """How much of it is seen: 0 to 1."""
        return float((self.step > max(_SEEN_LEVELS, _SEEN_SHARE * self.contrast)).mean())

    @property
    def clear(self) -> float:
        """Contrast in deviations of what is along either side."""
        low, high = np.percentile((self.inside, self.outside), (25, 75), axis=1)
        deviation = float(np.sqrt(np.mean((high - low) ** 2))) / _QUARTILES
        return self.contrast / max(deviation, _LEAST_DEVIATION)

    @cached_property
    def outline(self) -> Doubles:
        """(columns, 2): its places."""
        return np.asarray(self.middle + self.radii[:, None] * ways(len(self.radii)))

    @property
    def centre(self) -> Doubles:
        """The centroid of what it encloses, sector by sector."""
        if not self.radii.any():
            return self.middle
        moments = self.radii[:, None] ** 3 * ways(len(self.radii))
        return np.asarray(self.middle + 2 / 3 * moments.sum(axis=0) / (self.radii**2).sum())

    @property
    def rough(self) -> float:
        """How far it is from an ellipse or so, in its radii."""
        waves = np.fft.rfft(self.radii)
        waves[:_ROUND_WAVES] = 0
        return float(np.fft.irfft(waves, len(self.radii)).std() / self.radius)

    def cut_by(self, outer: Ring) -> Ring:
        """The same ring, judged only where another one does not cut it."""
        free = outer.far(self.outline) < _CUT
        return replace(
            self, step=self.step[free], inside=self.inside[free], outside=self.outside[free]
        )

    def drawn(self) -> Doubles:
        """(places, 2): its outline with more places, the first one again at the end."""
        count = len(self.radii) * _DRAWN
        places = self.middle + _between(self.radii, _DRAWN)[:, None] * ways(count)
        return np.concatenate((places, places[:1]))

    def far(self, places: Doubles) -> Doubles:
        """How far places of the grid, (..., 2), are from its middle, in its radii there."""
        across, down = np.moveaxis(places - self.middle, -1, 0)
        turn = (np.arctan2(down, across) / (2 * np.pi) + 0.25) % 1 * len(self.radii)
        radii = np.interp(turn, np.arange(len(self.radii)), self.radii, period=len(self.radii))
        return np.asarray(np.hypot(across, down) / radii)


def rings(
    seen: SeenPicture, discs: Doubles, *, light: bool = False, within: Ring | None = None
) -> list[Ring]:
    """The best course around each of some discs.

    Args:
        seen: The picture.
        discs: (discs, 3): across, down and radius; courses have 0.4 to 1.6 of it.
        light: Whether it is lighter inside, not darker.
        within: Of the form that it is in, and may be cut by.
    """
    if not len(discs):
        return []
    middles, radii = discs[:, None, None, :2], discs[:, 2, None, None, None]
    places = middles + radii * _ROWS[:, None, None] * ways(_COLUMNS)
    inside, outside = _sides(seen.at(places), _BESIDE if within is None else _BESIDE_LID)
    step = inside - outside if light else outside - inside
    worth = np.clip(step / np.float32(_STEP_LEVELS), -1, np.float32(_MOST_STEP))
    if within is not None:
        far = within.far(places)
        worth = np.where(far > _CUT, np.where(far > 1, np.float32(-1), np.float32(0)), worth)
    path = closed_path(worth, _BENDS)
    step, inside, outside = (
        np.take_along_axis(one, path[:, None], axis=1)[:, 0] for one in (step, inside, outside)
    )
    return [
        Ring(
            middle=disc[:2],
            radii=disc[2] * _ROWS[path[at]],
            step=step[at],
            inside=inside[at],
            outside=outside[at],
        )
        for at, disc in enumerate(discs)
    ]


def exact(seen: SeenPicture, ring: Ring, *, light: bool = False, length: float = _FAIR) -> Ring:
    """A ring where its edge is, to a fraction of a pixel.

    Args:
        seen: The picture around it.
        ring: About where it is.
        light: Whether it is lighter inside.
        length: Waves of so many of its new columns are smoothed.
    """
    off = np.linspace(-_REACH, _REACH, _FINE_ROWS) * ring.radius
    usual = _between(ring.radii, _FINER)
    radii = usual + off[:, None]
    levels = seen.at(ring.middle + radii[..., None] * ways(len(usual)))
    slope = np.gradient(box_mean(levels, 1), axis=0) * (-1 if light else 1)
    steep = max(float(np.median(slope.max(axis=0))), float(np.finfo(np.float32).tiny))
    worth = np.asarray(np.clip(slope / steep, -1, 2), np.float32)
    rows = closed_course(worth, of_row=_FINE_BENDS, length=_FINE_FAIR)
    radii = usual + np.interp(rows, np.arange(len(off)), off)
    # From well inside to well outside it steps by so much, at the steepest within such a width.
    inside, outside = (seen.at(ring.middle + far * (ring.outline - ring.middle)) for far in _WELL)
    whole = max(abs(float(np.median(outside) - np.median(inside))), ring.contrast)
    width = whole / steep * float(off[1] - off[0])
    return replace(ring, radii=fair_ring(radii, length), width=width)


def _sides(levels: Floats, beside: int) -> tuple[Floats, Floats]:
    """Levels inside and outside of each row, on the mean of two."""
    rows, far = levels.shape[-2], 2 * beside
    padded = np.pad(levels, ((0, 0), (far, far), (0, 0)), mode="edge")
    one, two, three, four = (
        padded[:, far + off : far + off + rows] for off in (-far, -beside, beside, far)
    )
    half = np.float32(0.5)
    return (one + two) * half, (three + four) * half


def _between(radii: Doubles, finer: int) -> Doubles:
    """Radii of so many times as many columns, which waves tell (Shannon 1949)."""
    return np.asarray(np.fft.irfft(np.fft.rfft(radii), len(radii) * finer) * finer)
