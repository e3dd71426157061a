"""Seeded noise: everything irregular in the picture comes from these few tables.

Value noise on a periodic lattice with smooth interpolation; the tables come from a fixed
seed, so that the same formulas give the same photograph again.
"""

from __future__ import annotations

import numpy as np

from atelier.vectors import Floats, Ints

SEED = 20
_SIDE_2D = 512
_SIDE_3D = 32
_RANDOM = np.random.default_rng(SEED)
_PLANE = _RANDOM.random((_SIDE_2D * _SIDE_2D,), dtype=np.float32)
_SPACE = _RANDOM.random((_SIDE_3D**3,), dtype=np.float32)
_DOTS = _RANDOM.random((4, _SIDE_3D**3), dtype=np.float32)


def _cell(x: Floats, side: int) -> tuple[Ints, Floats]:
    """Lattice cell, wrapped, and the smoothed place within it."""
    low = np.floor(x)
    f = x - low
    index = low.astype(np.intp) & (side - 1)
    return index, np.asarray(f * f * (3 - 2 * f))


def noise2(u: Floats, v: Floats) -> Floats:
    """Value noise in the plane, 0 to 1, with features about one unit wide."""
    i, fu = _cell(u, _SIDE_2D)
    j, fv = _cell(v, _SIDE_2D)
    i, i1 = i * _SIDE_2D, ((i + 1) & (_SIDE_2D - 1)) * _SIDE_2D
    j1 = (j + 1) & (_SIDE_2D - 1)
    near = _PLANE[i + j] + (_PLANE[i1 + j] - _PLANE[i + j]) * fu
    far = _PLANE[i + j1] + (_PLANE[i1 + j1] - _PLANE[i + j1]) * fu
    return np.asarray(near + (far - near) * fv)


def noise3(p: Floats) -> Floats:
    """Value noise in space, 0 to 1, with features about one unit wide."""
    side = _SIDE_3D
    i, fx = _cell(p[0], side)
    j, fy = _cell(p[1], side)
    k, fz = _cell(p[2], side)
    i, i1 = i * side * side, ((i + 1) & (side - 1)) * side * side
    j, j1 = j * side, ((j + 1) & (side - 1)) * side
    k1 = (k + 1) & (side - 1)

    def edge(row: Ints, deep: Ints) -> Floats:
        a = _SPACE[i + row + deep]
        return np.asarray(a + (_SPACE[i1 + row + deep] - a) * fx)

    front = edge(j, k)
    front += (edge(j1, k) - front) * fy
    back = edge(j, k1)
    back += (edge(j1, k1) - back) * fy
    return np.asarray(front + (back - front) * fz)


def clouds2(u: Floats, v: Floats, octaves: int) -> Floats:
    """Several octaves of plane noise, -1 to 1 at the most, each half as strong."""
    total, weight = np.zeros_like(u), 1.0
    for octave in range(octaves):
        scale = 2.0**octave
        total += (2 * noise2(u * scale + 17.3 * octave, v * scale + 9.1 * octave) - 1) * weight
        weight *= 0.5
    return np.asarray(total * 0.5)


def clouds3(p: Floats, octaves: int) -> Floats:
    """Several octaves of space noise, -1 to 1 at the most."""
    total, weight = np.zeros_like(p[0]), 1.0
    for octave in range(octaves):
        total += (2 * noise3(p * 2.0**octave + 7.7 * octave) - 1) * weight
        weight *= 0.5
    return np.asarray(total * 0.5)


def dots3(p: Floats, share: float, softness: float) -> Floats:
    """Round specks in space, 0 to 1: at most one per unit cell, in `share` of the cells.

    Each speck stays within its cell, so that only one cell is looked up per point.
    """
    side = _SIDE_3D
    low = np.floor(p)
    f = p - low
    i, j, k = (low[axis].astype(np.intp) & (side - 1) for axis in range(3))
    cell = (i * side + j) * side + k
    away = [f[axis] - (0.32 + 0.36 * _DOTS[axis, cell]) for axis in range(3)]
    chance = _DOTS[3, cell]
    radius = 0.10 + 0.20 * np.clip(chance / share, 0, 1) ** 2
    reach = np.sqrt(away[0] ** 2 + away[1] ** 2 + away[2] ** 2)
    speck = np.clip((radius - reach) / softness + 0.5, 0, 1)
    return np.asarray(np.where(chance < share, speck, 0), dtype=np.float32)
