"""Textures: inner marks that are no contours. Zero mean, unit deviation."""

from __future__ import annotations

import math

import torch
import torch.nn.functional as F  # noqa: N812 - the library's own short name.
from fields import Batch
from torch import Tensor

_LEAVES, _BLADES = 1400, 900


class Bank:
    """Textures of a square of `side_px`, `each` of each kind.

    Attributes:
        all: (textures, rows, columns): noise, hair, stripes, leaves, bricks or spots, grass,
            ripples, roof tiles.
        hair: Those that run one way, for fur and heads.
        leaves: Those of foliage and grass.
        built: Bricks, stones and spots.
        each: How many there are of each kind.
    """

    def __init__(self, each: int, side_px: int, device: str) -> None:
        b = Batch(each, side_px, device)
        noise = _noise(b, (0.6, 2.0), (1, 14), (0.004, 0.06))
        bend = _noise(b, (2.0, 2.0), (1, 1), (0.002, 0.002))
        hair = _bent(b, _noise(b, (0.4, 1.2), (6, 25), (0.02, 0.1)), bend)
        leaves, grass = _leaves(b), _grass(b)
        stripes = _stripes(b, bend, noise)
        built = _bricks_or_spots(b, noise)
        ripples = _bent(b, _stretched(_noise(b, (0.8, 1.6), (4, 12), (0.01, 0.06), turn=0.1)), bend)
        self.each = each
        self.hair = hair
        self.leaves = torch.cat([leaves, grass])
        self.built = built
        self.all = torch.cat(
            [noise, hair, stripes, leaves, built, grass, ripples, _tiles(b, noise)]
        )

    def picked(
        self, b: Batch, among: Tensor | None = None, zoom: tuple[float, float] = (0.35, 1.1)
    ) -> Tensor:
        """A texture for each scene, turned and zoomed; (scenes, rows, columns)."""
        among = self.all if among is None else among
        which = torch.randint(len(among), (b.scenes,), device=b.device)
        angle = b.uniform(0, 2 * math.pi).flatten()
        size = b.geometric(*zoom).flatten() * (b.side_px / among.shape[-1])
        at = [b.uniform(-0.3, 0.3).flatten() for _ in range(2)]
        rows = [
            torch.stack([torch.cos(angle) * size, -torch.sin(angle) * size, at[0]], -1),
            torch.stack([torch.sin(angle) * size, torch.cos(angle) * size, at[1]], -1),
        ]
        shape = (b.scenes, 1, b.side_px, b.side_px)
        places = F.affine_grid(torch.stack(rows, 1), list(shape), align_corners=False)
        drawn = F.grid_sample(
            among[which][:, None], places, padding_mode="reflection", align_corners=False
        )
        return drawn[:, 0]


def _normal(x: Tensor) -> Tensor:
    x = x - x.mean((-2, -1), keepdim=True)
    return x / (x.std((-2, -1), keepdim=True) + 1e-5)


def _noise(
    b: Batch,
    steep: tuple[float, float],
    long: tuple[float, float],
    low: tuple[float, float],
    turn: float = math.pi,
) -> Tensor:
    """Noise with a spectrum of some power, drawn out one way."""
    f = torch.fft.fftfreq(b.side_px, device=b.device)
    down, across = f.view(1, -1, 1), f.view(1, 1, -1)
    angle, stretch = b.uniform(0, turn), b.geometric(*long)
    u = across * torch.cos(angle) + down * torch.sin(angle)
    v = (-across * torch.sin(angle) + down * torch.cos(angle)) * stretch
    radius = torch.sqrt(u * u + v * v) + 1e-4
    power = radius ** -b.uniform(*steep) * (1 - torch.exp(-((radius / b.geometric(*low)) ** 2)))
    waves = torch.randn(b.scenes, b.side_px, b.side_px, 2, device=b.device)
    return _normal(torch.fft.ifft2(torch.view_as_complex(waves) * power).real)


def _bent(b: Batch, texture: Tensor, bend: Tensor) -> Tensor:
    """A texture whose direction wanders."""
    x, y = b.pixels()
    across = (x / b.side_px * 2 - 1) + 0.06 * bend
    down = (y / b.side_px * 2 - 1) + 0.06 * bend.flip(0)
    places = torch.stack([across.expand_as(bend), down.expand_as(bend)], -1)
    drawn = F.grid_sample(texture[:, None], places, padding_mode="reflection", align_corners=False)
    return _normal(drawn[:, 0])


def _stretched(texture: Tensor) -> Tensor:
    """With light crests, as on water."""
    return _normal(torch.exp(0.8 * texture))


def _stripes(b: Batch, bend: Tensor, noise: Tensor) -> Tensor:
    x, y = b.pixels()
    angle, pitch = b.uniform(0, math.pi), b.geometric(4, 40)
    phase = 2 * math.pi * (x * torch.cos(angle) + y * torch.sin(angle)) / pitch
    waves = torch.sin(phase + b.uniform(0, 3) * bend) * b.geometric(0.7, 6)
    return _normal(torch.tanh(waves) + 0.3 * noise)


def _leaves(b: Batch) -> Tensor:
    """Small ellipses upon one another, each lit a little differently."""
    x, y = b.pixels()
    drawn = torch.zeros(b.scenes, b.side_px, b.side_px, device=b.device)
    largest = b.geometric(4, 16)
    for _ in range(_LEAVES):
        across, down = x - b.uniform(0, b.side_px), y - b.uniform(0, b.side_px)
        radius, angle, flat = largest * b.uniform(0.3, 1), b.uniform(0, math.pi), b.uniform(0.25, 1)
        u = across * torch.cos(angle) + down * torch.sin(angle)
        v = (-across * torch.sin(angle) + down * torch.cos(angle)) / flat
        shade = b.normal() + 0.6 * v / radius
        drawn = torch.where(u * u + v * v < radius * radius, shade, drawn)
    return _normal(drawn)


def _grass(b: Batch) -> Tensor:
    """Thin blades that lean about one way."""
    x, y = b.pixels()
    drawn = torch.zeros(b.scenes, b.side_px, b.side_px, device=b.device)
    way, spread, long = b.uniform(0, math.pi), b.uniform(0.1, 0.8), b.geometric(12, 60)
    for _ in range(_BLADES):
        across, down = x - b.uniform(0, b.side_px), y - b.uniform(0, b.side_px)
        angle = way + spread * b.normal()
        u = across * torch.cos(angle) + down * torch.sin(angle)
        v = -across * torch.sin(angle) + down * torch.cos(angle) + 0.004 * u * u * b.normal()
        inside = (v.abs() < b.uniform(0.5, 2.2)) & (u.abs() < long * b.uniform(0.3, 1))
        drawn = torch.where(inside, b.normal().expand_as(drawn), drawn)
    return _normal(drawn)


def _bricks_or_spots(b: Batch, noise: Tensor) -> Tensor:
    x, y = b.pixels()
    wide, high = b.geometric(8, 50), b.geometric(6, 30)
    row = torch.floor(y / high)
    joint = (((x + (row % 2) * wide / 2) % wide) < 1.5) | ((y % high) < 1.5)
    bricks = joint.float() * 2.5 + 0.4 * noise
    spots = (noise.roll(1, 0) > b.uniform(0.5, 1.6)).float()
    return _normal(torch.where(b.uniform(0, 1) < 0.5, bricks, spots))


def _tiles(b: Batch, noise: Tensor) -> Tensor:
    """Roof tiles, scales, shingles: rows of arcs, each lit from above."""
    x, y = b.pixels()
    wide, high = b.geometric(6, 30), b.geometric(5, 24)
    row = torch.floor(y / high)
    u = ((x + (row % 2) * wide / 2) % wide) / wide * 2 - 1
    v = (y % high) / high
    lit = v - b.uniform(0, 0.6) * u * u
    return _normal(lit + 0.3 * noise + 0.5 * torch.sin(row * 12.9898) * torch.sin(x / wide))
