"""Fields over a batch of scenes: random numbers, frames, signed distances.

Everything is a tensor (scenes, rows, columns) or broadcasts to it. Distances are negative inside.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

import torch
import torch.nn.functional as F  # noqa: N812 - the library's own short name.
from torch import Tensor

Points = tuple[tuple[Tensor | float, Tensor | float], ...]
Run = TypeVar("Run", bound=Callable[..., object])
#: Added to a distance, in pixels or in a thing's own sizes: so far away is out of every scene.
AWAY = 100.0
#: Parts that a curve is drawn as.
_PARTS = 10


@dataclass(frozen=True)
class Batch:
    """How many scenes are painted at once, how large, and where."""

    scenes: int
    side_px: int
    device: str

    def uniform(self, low: float, high: float, planes: int = 1) -> Tensor:
        """A number for each scene; (scenes, 1, 1), or (scenes, planes, 1, 1)."""
        shape = (self.scenes, 1, 1) if planes == 1 else (self.scenes, planes, 1, 1)
        return torch.rand(*shape, device=self.device) * (high - low) + low

    def geometric(self, low: float, high: float) -> Tensor:
        """The same, evenly over magnitudes."""
        return torch.exp(self.uniform(math.log(low), math.log(high)))

    def normal(self, planes: int = 1) -> Tensor:
        """A standard normal number for each scene."""
        shape = (self.scenes, 1, 1) if planes == 1 else (self.scenes, planes, 1, 1)
        return torch.randn(*shape, device=self.device)

    def chance(self, share: float) -> Tensor:
        """1 for some scenes, else 0."""
        return (self.uniform(0, 1) < share).float()

    def sign(self) -> Tensor:
        """1 or -1 for each scene."""
        return self.chance(0.5) * 2 - 1

    def pixels(self) -> tuple[Tensor, Tensor]:
        """Middles of pixels: x (1, 1, columns) and y (1, rows, 1)."""
        at = torch.arange(self.side_px, device=self.device) + 0.5
        return at.view(1, 1, -1), at.view(1, -1, 1)


@dataclass(frozen=True)
class Frame:
    """Coordinates of one thing: `u` to its right, `v` downwards, in its own size `unit_px`."""

    u: Tensor
    v: Tensor
    unit_px: Tensor

    def moved(self, u: Tensor | float, v: Tensor | float, size: Tensor | float = 1.0) -> Frame:
        """The frame of a part at a place of this one."""
        return Frame((self.u - u) / size, (self.v - v) / size, self.unit_px * size)

    def px(self, distance: Tensor) -> Tensor:
        """A distance in pixels."""
        return distance * self.unit_px


def placed(
    batch: Batch,
    unit_px: Tensor,
    *,
    turn: float = math.pi,
    lean: float = 0.0,
    about: tuple[float, float] = (-0.1, 1.1),
) -> Frame:
    """A frame somewhere in the scene, turned by up to `turn` and sheared by up to `lean`.

    Args:
        batch: Of scenes.
        unit_px: Its size.
        turn: In radians, either way.
        lean: Across for each down.
        about: From where to where its middle lies, in shares of the scene's sides.
    """
    x, y = batch.pixels()
    left, top = (batch.uniform(*about) * batch.side_px for _ in range(2))
    angle = batch.uniform(-turn, turn)
    across, down = (x - left) / unit_px, (y - top) / unit_px
    u = across * torch.cos(angle) + down * torch.sin(angle)
    v = -across * torch.sin(angle) + down * torch.cos(angle)
    return Frame(u * batch.sign() + batch.uniform(-lean, lean) * v, v, unit_px)


def ellipse(
    f: Frame, u: Tensor | float, v: Tensor | float, wide: Tensor | float, high: Tensor | float
) -> Tensor:
    """Distance to an ellipse, true at its edge."""
    across, down = (f.u - u) / wide, (f.v - v) / high
    radius = torch.sqrt(across * across + down * down + 1e-6)
    slope = torch.sqrt((across / wide) ** 2 + (down / high) ** 2 + 1e-6)
    return (radius - 1) * radius / slope


def box(
    f: Frame, u: Tensor | float, v: Tensor | float, wide: Tensor | float, high: Tensor | float
) -> Tensor:
    """Distance to a box."""
    return torch.maximum((f.u - u).abs() - wide, (f.v - v).abs() - high)


def capsule(
    f: Frame, ends: tuple[Tensor | float, ...], radii: tuple[Tensor | float, Tensor | float]
) -> Tensor:
    """Distance to a limb from (u, v) to (u, v) that grows from one radius to the other."""
    u0, v0, u1, v1 = ends
    du, dv = u1 - u0, v1 - v0
    along = (((f.u - u0) * du + (f.v - v0) * dv) / (du * du + dv * dv + 1e-6)).clamp(0, 1)
    off = torch.sqrt((f.u - u0 - along * du) ** 2 + (f.v - v0 - along * dv) ** 2 + 1e-8)
    return off - (radii[0] + along * (radii[1] - radii[0]))


def curve(f: Frame, points: Points) -> tuple[Tensor, Tensor, Tensor]:
    """Distance to a quadratic Bézier curve, where along it (0 to 1), and on which side (±1)."""
    like = f.unit_px
    places = [torch.zeros_like(like) + each for point in points for each in point]
    return _along_curve(f.u, f.v, torch.cat([place.view(-1, 1) for place in places], 1))


def fused(function: Run) -> Run:
    """The same as one program for the GPU, where there is one: these are thousands of steps."""
    return torch.compile(function, dynamic=False) if torch.cuda.is_available() else function


@fused
def _along_curve(u: Tensor, v: Tensor, places: Tensor) -> tuple[Tensor, Tensor, Tensor]:
    u0, v0, u1, v1, u2, v2 = (place.view(-1, 1, 1) for place in places.unbind(1))
    near = torch.full_like(u + v, 1e9)
    along, side = torch.zeros_like(near), torch.ones_like(near)
    for part in range(_PARTS):
        a, b = part / _PARTS, (part + 1) / _PARTS
        au, av = _on(u0, u1, u2, a), _on(v0, v1, v2, a)
        du, dv = _on(u0, u1, u2, b) - au, _on(v0, v1, v2, b) - av
        t = (((u - au) * du + (v - av) * dv) / (du * du + dv * dv + 1e-9)).clamp(0, 1)
        off = (u - au - t * du) ** 2 + (v - av - t * dv) ** 2
        closer = off < near
        near = torch.where(closer, off, near)
        along = torch.where(closer, a + t / _PARTS, along)
        side = torch.where(closer, torch.sign((u - au) * dv - (v - av) * du), side)
    return torch.sqrt(near + 1e-9), along, side


def _on(a: Tensor, b: Tensor, c: Tensor, t: float) -> Tensor:
    return (1 - t) ** 2 * a + 2 * t * (1 - t) * b + t * t * c


def blob(batch: Batch, f: Frame, rough: float = 0.5) -> Tensor:
    """Distance to a round shape with bays and capes, of about radius 1."""
    radius, angle = torch.sqrt(f.u * f.u + f.v * f.v + 1e-4), torch.atan2(f.v, f.u)
    edge = torch.ones_like(radius)
    for waves in range(2, 8):
        high = batch.uniform(-1, 1) * rough / waves**1.1 * batch.uniform(0, 1) ** 2
        edge = edge + high * torch.cos(waves * angle + batch.uniform(0, 2 * math.pi))
    return radius - edge


def polygon(batch: Batch, f: Frame) -> Tensor:
    """Distance to a convex polygon of three to six sides."""
    sides = torch.randint(3, 7, (batch.scenes, 1, 1), device=batch.device)
    distance = torch.full_like(f.u + f.v, -1e3)
    for side in range(6):
        angle = 2 * math.pi * side / sides + batch.uniform(-0.35, 0.35)
        reach = f.u * torch.cos(angle) + f.v * torch.sin(angle) - batch.uniform(0.4, 1.0)
        distance = torch.where(side < sides, torch.maximum(distance, reach), distance)
    return distance


def blurred(x: Tensor, sigma_px: float) -> Tensor:
    """A Gaussian blur of (scenes, planes, rows, columns)."""
    if sigma_px < 0.3:
        return x
    reach = int(3 * sigma_px + 0.5)
    at = torch.arange(-reach, reach + 1, device=x.device)
    kernel = torch.exp(-0.5 * (at / sigma_px) ** 2)
    kernel = (kernel / kernel.sum()).to(x.dtype)
    scenes, planes, rows, columns = x.shape
    x = x.reshape(scenes * planes, 1, rows, columns)
    x = F.conv2d(F.pad(x, (reach, reach, 0, 0), mode="replicate"), kernel.view(1, 1, 1, -1))
    x = F.conv2d(F.pad(x, (0, 0, reach, reach), mode="replicate"), kernel.view(1, 1, -1, 1))
    return x.reshape(scenes, planes, rows, columns)
