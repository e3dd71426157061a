"""Where things are put, what is around them, and from where they are looked at."""

from __future__ import annotations

from collections.abc import Callable

import torch
from studio import Studio
from torch import Tensor

from solids import surfaces
from solids.slots import BACK, FLOOR, GROUND, WALL
from solids.solids import Place, Solids, flat
from solids.view import Camera, camera

#: So often things are seen from near, and up to so many times as large.
_CLOSE_UPS, _CLOSEST = 0.3, 2.6


def surroundings(s: Studio, o: Solids, *, floor: float | None, back: bool | None = None) -> None:
    """A floor, a wall, both, or neither: then what is on the canvas already is seen behind."""
    n = numbers(s)
    o.surfaces[GROUND], o.surfaces[WALL] = surfaces.bare(s), surfaces.bare(s)
    if floor is not None:
        o.around[:, FLOOR] = floor
    wall = bool(torch.rand(1) < (0.3 if floor is None else 0.6)) if back is None else back
    if wall:
        o.around[:, BACK] = n(-4.0, -1.6)


def looking(
    s: Studio,
    to: Place,
    pitch: tuple[float, float],
    away: tuple[float, float],
    yaw: float,
    large: tuple[float, float] = (0.25, 0.6),
) -> Camera:
    """A camera that looks at a place, more or less.

    Args:
        s: The studio.
        to: The place.
        pitch: From how far below or above, in radians.
        away: From how far off.
        yaw: From how far to either side of the front.
        large: How much of the picture's side a unit fills.
    """
    n = numbers(s)
    like = torch.zeros(s.b.scenes, device=s.b.device)
    place = torch.stack([like + flat(each) + n(-0.3, 0.3) for each in to], 1)
    # As from a hand: near with a wide lens, or from afar with a long one.
    far = n(*away)
    # At times so near that only a part of it fills the picture.
    nearer = torch.where(s.b.chance(_CLOSE_UPS).flatten() > 0, n(1.0, _CLOSEST), like + 1)
    length = (far * n(*large)).clamp(0.7, 4.0) * nearer
    return camera(place, n(-yaw, yaw), n(*pitch), far, length)


def numbers(s: Studio) -> Callable[[float, float], Tensor]:
    """What draws a number between two for each scene, (scenes)."""
    return lambda low, high: s.b.uniform(low, high).flatten()


def beside(at: Place, x: Tensor | float, y: Tensor | float, z: Tensor | float) -> Place:
    """A place so far from another."""
    return (at[0] + x, at[1] + y, at[2] + z)
