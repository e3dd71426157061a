"""Looks at solids: what is seen where, which way it faces, and what light comes to it."""

from __future__ import annotations

from dataclasses import dataclass

import torch
import torch.nn.functional as F  # noqa: N812 - the library's own short name.
from torch import Tensor

from solids.rays import look
from solids.solids import Number, Place, Solids, flat

#: Pixels are drawn so much finer, then averaged.
FINER = 2


@dataclass(frozen=True)
class Camera:
    """Where it stands, and its axes: right, up, ahead.

    Attributes:
        at: (scenes, 3).
        axes: (scenes, 3, 3), a row each.
        length: Its focal length in shares of the picture's side, (scenes).
    """

    at: Tensor
    axes: Tensor
    length: Tensor

    def rays(self, side_px: int) -> Tensor:
        """Ways through the middles of pixels, row by row; (scenes, 3, pixels)."""
        middle = (torch.arange(side_px, device=self.at.device) + 0.5) / side_px - 0.5
        across = middle.view(1, -1).expand(side_px, side_px).reshape(1, -1)
        up = -middle.view(-1, 1).expand(side_px, side_px).reshape(1, -1)
        right, above, ahead = (axis[:, :, None] for axis in self.axes.unbind(1))
        way = across[:, None] * right + up[:, None] * above + self.length.view(-1, 1, 1) * ahead
        return way / way.norm(dim=1, keepdim=True)

    def seen_at(self, place: Place, side_px: int) -> tuple[Tensor, Tensor]:
        """Column and row of a place; (scenes) each."""
        like = torch.zeros_like(self.length)
        to = torch.stack([like + flat(each) for each in place], 1) - self.at
        right, up, ahead = ((axis * to).sum(1) for axis in self.axes.unbind(1))
        unit_px = self.length * side_px / ahead.clamp(min=0.1)
        return side_px / 2 + right * unit_px, side_px / 2 - up * unit_px


def camera(to: Tensor, yaw: Number, pitch: Number, away: Number, length: Number) -> Camera:
    """One that looks at a place from a direction; angles in radians, 0 from the front.

    Args:
        to: (scenes, 3).
        yaw: To which side it stands.
        pitch: How far above.
        away: How far off.
        length: Focal length in shares of the picture's side.
    """
    like = torch.zeros_like(to[:, 0])
    yaw, pitch, away = (like + flat(each) for each in (yaw, pitch, away))
    back = torch.stack(
        [torch.sin(yaw) * torch.cos(pitch), torch.sin(pitch), torch.cos(yaw) * torch.cos(pitch)], 1
    )
    up = torch.tensor([0.0, 1.0, 0.0], device=to.device).expand_as(back)
    right = torch.linalg.cross(up, back)
    right = right / right.norm(dim=1, keepdim=True)
    above = torch.linalg.cross(back, right)
    axes = torch.stack([right, above, -back], 1)
    return Camera(to + back * away[:, None], axes, like + flat(length))


@dataclass(frozen=True)
class Seen:
    """What is seen; planes (scenes, …, pixels).

    Attributes:
        way: Of the rays.
        far: How far off it is.
        place: Where.
        which: Slot of the solid.
        hit: Whether there is anything.
        open, sky: How much is seen of the light and of the sky from there, 0 to 1.
        facing: Unit vectors away from the surface.
    """

    way: Tensor
    far: Tensor
    place: Tensor
    which: Tensor
    hit: Tensor
    open: Tensor
    sky: Tensor
    facing: Tensor


def seen(eye: Camera, solids: Solids, light: tuple[Tensor, Tensor], side_px: int) -> Seen:
    """Follow a ray through each pixel.

    Args:
        eye: Where it is looked from.
        solids: At what.
        light: Towards it (scenes, 3), and the tangent of its half angle (scenes).
        side_px: Pixels of a side.
    """
    way = eye.rays(side_px)
    found = look(solids.slots, solids.around, solids.object_of, eye.at, way, light)
    far, which, open_, sky = found[:, :4].unbind(1)
    place = eye.at[:, :, None] + way * far[:, None]
    return Seen(way, far, place, which, which >= 0, open_, sky, found[:, 4:])


class Small:
    """From fine pixels to those of the canvas."""

    def __init__(self, scenes: int, fine_px: int) -> None:
        self.shape = (scenes, -1, fine_px, fine_px)

    def mean(self, planes: Tensor) -> Tensor:
        """Averages; (scenes, planes, rows, columns)."""
        return F.avg_pool2d(planes.reshape(self.shape), FINER)

    def first(self, plane: Tensor) -> Tensor:
        """One of each; (scenes, rows, columns)."""
        return plane.reshape(self.shape)[:, 0, ::FINER, ::FINER]
