"""Textures drawn with NumPy from a seed: functions of a place in mm, about -1 to 1, mean near 0.

Each maker takes a seed and gives a function of two arrays, x and y in mm, which NumPy broadcasts
together: a row and a column are enough for a whole picture. Marks are 1 to 8 mm large: what fur,
cloth, stone and print look like on 60 x 40 cm.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Texture = Callable[[Floats, Floats], Floats]

#: Textures that are drawn on a square repeat it; its side in mm and in samples.
_TILE_MM, _TILE = 64.0, 512


def _tiled(values: Floats) -> Texture:
    """A square, repeated; between its samples linearly."""
    side = len(values)
    centred = values - values.mean()
    centred = (centred / max(np.abs(centred).max() * 0.7, 1e-9)).clip(-1, 1)

    def texture(x: Floats, y: Floats) -> Floats:
        u, v = x * (side / _TILE_MM) % side, y * (side / _TILE_MM) % side
        left, top = u.astype(int) % side, v.astype(int) % side
        right, low = (left + 1) % side, (top + 1) % side
        a, b = u % 1, v % 1
        upper = _at(centred, top, left) * (1 - a) + _at(centred, top, right) * a
        lower = _at(centred, low, left) * (1 - a) + _at(centred, low, right) * a
        return np.asarray(upper * (1 - b) + lower * b)

    return texture


def _at(values: Floats, rows: Ints, columns: Ints) -> Floats:
    """`values[rows, columns]`, which NumPy finds faster by row and column than by place."""
    if rows.shape[1:] == (1,) and columns.shape[:-1] == (1,):
        return values[rows[:, 0]].take(columns[0], axis=1)
    return np.asarray(values[rows, columns])


def _band(random: np.random.Generator, least_mm: float, most_mm: float) -> Callable[..., Floats]:
    """A filter that keeps waves of some lengths, on the square."""
    frequency = np.hypot(*np.meshgrid(*(2 * [np.fft.fftfreq(_TILE, _TILE_MM / _TILE)])))
    keep = (frequency > 1 / most_mm) & (frequency < 1 / least_mm)

    def kept(values: Floats | None = None) -> Floats:
        source = random.normal(size=(_TILE, _TILE)) if values is None else values
        found = np.fft.ifft2(np.fft.fft2(source) * keep).real
        return np.asarray(found / found.std())

    return kept


def spots(seed: int) -> Texture:
    """Spots and labyrinths as on hides (Turing, "The chemical basis of morphogenesis", 1952).

    A band of wavelengths grows and saturates, again and again.
    """
    random = np.random.default_rng(seed)
    wave = random.uniform(3.0, 7.0)
    kept = _band(random, 0.8 * wave, 1.25 * wave)
    values, bias = kept(), random.uniform(-0.6, 0.6)
    for _ in range(8):
        values = kept(np.tanh(2 * (values + bias)))
    return _tiled(np.tanh(4 * (values + bias)))


def _cells(seed: int, size_mm: float) -> Callable[[Floats, Floats], tuple[Floats, Floats, Floats]]:
    """Distance (in cells) to the nearest point of a jittered grid, to the next, and its shade.

    Worley, "A cellular texture basis function", SIGGRAPH 1996.
    """
    random = np.random.default_rng(seed)
    jitter, shade = random.uniform(0.1, 0.9, (64, 64, 2)), random.uniform(-1, 1, (64, 64))

    def found(x: Floats, y: Floats) -> tuple[Floats, Floats, Floats]:
        u, v = x / size_mm, y / size_mm
        column, row = np.floor(u).astype(int), np.floor(v).astype(int)
        shape = np.broadcast_shapes(u.shape, v.shape)
        first, second, which = np.full(shape, 9.0), np.full(shape, 9.0), np.zeros(shape)
        for down in (-1, 0, 1):
            for across in (-1, 0, 1):
                i, j = column + across, row + down
                point = jitter[j % 64, i % 64]
                far = np.hypot(i + point[..., 0] - u, j + point[..., 1] - v)
                nearer = far < first
                second = np.where(nearer, first, np.minimum(second, far))
                which = np.where(nearer, shade[j % 64, i % 64], which)
                first = np.where(nearer, far, first)
        return first, second, which

    return found


def stones(seed: int) -> Texture:
    """Rounded stones with dark joints."""
    found = _cells(seed, np.random.default_rng(seed).uniform(5.0, 9.0))

    def texture(x: Floats, y: Floats) -> Floats:
        first, second, shade = found(x, y)
        return np.asarray(1.6 * np.tanh(5 * (second - first)) - 1.1 + 0.3 * shade)

    return texture


def gravel(seed: int) -> Texture:
    """Grains, each of its own shade, lit from above."""
    found = _cells(seed, np.random.default_rng(seed).uniform(2.5, 4.5))

    def texture(x: Floats, y: Floats) -> Floats:
        first, _, shade = found(x, y)
        return np.asarray((0.9 * shade + 0.5 - 0.9 * first).clip(-1, 1))

    return texture


def crackle(seed: int) -> Texture:
    """Fine dark cracks of old glaze."""
    found = _cells(seed, np.random.default_rng(seed).uniform(6.0, 10.0))

    def texture(x: Floats, y: Floats) -> Floats:
        first, second, _ = found(x, y)
        return np.asarray(0.3 - 1.3 * np.exp(-(((second - first) / 0.06) ** 2)))

    return texture


def weave(seed: int) -> Texture:
    """Plain weave: threads over and under one another."""
    random = np.random.default_rng(seed)
    pitch, turn = random.uniform(2.0, 4.0), random.uniform(0, math.pi)

    def texture(x: Floats, y: Floats) -> Floats:
        u = (x * math.cos(turn) + y * math.sin(turn)) / pitch
        v = (y * math.cos(turn) - x * math.sin(turn)) / pitch
        over = (np.floor(u) + np.floor(v)) % 2 == 0
        across = np.where(over, u % 1, v % 1)
        along = np.where(over, v % 1, u % 1)
        return np.asarray(np.sin(math.pi * across) * (0.4 + np.sin(math.pi * along)) * 1.2 - 0.75)

    return texture


def rings(seed: int) -> Texture:
    """Rings of a trunk, cut across and bent."""
    random = np.random.default_rng(seed)
    x0, y0 = random.uniform(-150, 750), random.uniform(-150, 550)
    pitch, phase = random.uniform(3.0, 6.0), random.uniform(0, 6, 4)

    def texture(x: Floats, y: Floats) -> Floats:
        bend = 3 * np.sin(x / 17 + phase[0]) + 3 * np.sin(y / 23 + phase[1])
        far = np.hypot(x - x0, 1.4 * (y - y0)) + bend
        ring = (far / pitch + phase[2]) % 1
        return np.asarray(1.8 * ring**2 - 0.6 + 0.2 * np.sin(far / 0.7))

    return texture


def halftone(seed: int) -> Texture:
    """A printer's screen of round dots, larger where it is darker."""
    random = np.random.default_rng(seed)
    pitch, turn = random.uniform(2.2, 4.0), math.radians(random.choice([15, 45, 75]))
    phase = random.uniform(0, 6, 2)

    def texture(x: Floats, y: Floats) -> Floats:
        u = (x * math.cos(turn) + y * math.sin(turn)) / pitch
        v = (y * math.cos(turn) - x * math.sin(turn)) / pitch
        wave = np.cos(math.tau * u) + np.cos(math.tau * v)
        limit = 0.7 * np.sin(x / 40 + phase[0]) * np.sin(y / 40 + phase[1])
        return np.asarray(-np.tanh(3 * (wave - limit)) * 0.9)

    return texture


def herringbone(seed: int) -> Texture:
    """Bricks two to one, laid at right angles to one another, each of its own shade."""
    random = np.random.default_rng(seed)
    size, turn = random.uniform(4.0, 7.0), random.uniform(0, math.pi)
    shade = random.uniform(-0.45, 0.45, (64, 64))

    def texture(x: Floats, y: Floats) -> Floats:
        u = (x * math.cos(turn) + y * math.sin(turn)) / size
        v = (y * math.cos(turn) - x * math.sin(turn)) / size
        i, j = np.floor(u).astype(int), np.floor(v).astype(int)
        kind = (i - j) % 4
        # Of four cells along a row two are one lying brick, and two are of standing ones.
        left, top = i - (kind == 1), j - (kind == 2)
        lying = kind < 2
        across, down = u - left, v - top
        wide, high = np.where(lying, 2, 1), np.where(lying, 1, 2)
        joint = np.minimum.reduce([across, wide - across, down, high - down])
        return np.asarray(shade[top % 64, left % 64] + 1.2 * np.tanh(9 * joint) - 1.0)

    return texture


def tartan(seed: int) -> Texture:
    """Crossing stripes of several widths."""
    random = np.random.default_rng(seed)
    turn, edges = random.uniform(0, math.pi), np.sort(random.uniform(0, 30, 7))
    tones = random.uniform(-0.5, 0.5, 8)

    def texture(x: Floats, y: Floats) -> Floats:
        u = (x * math.cos(turn) + y * math.sin(turn)) % 30
        v = (y * math.cos(turn) - x * math.sin(turn)) % 30
        twill = 0.15 * np.sin(math.tau * (u + v))
        return np.asarray(
            tones[np.searchsorted(edges, u)] + tones[np.searchsorted(edges, v)] + twill
        )

    return texture


def _drawn_marks(random: np.random.Generator, count: int, mark: Callable[..., None]) -> Floats:
    """Marks on the square, later ones above earlier ones."""
    values = np.zeros((_TILE, _TILE))
    for _ in range(count):
        mark(values, *random.uniform(0, _TILE, 2))
    return values


def fur(seed: int) -> Texture:
    """Tapering hairs that lie about one way, which changes slowly."""
    random = np.random.default_rng(seed)
    lie, bend = random.uniform(0, math.tau), random.uniform(0, math.tau)

    def hair(values: Floats, x: float, y: float) -> None:
        turn = lie + 0.5 * math.sin(math.tau * x / _TILE + bend) + random.normal(0, 0.15)
        t = np.linspace(0, 1, 70)
        curl = random.normal(0, 6) * t**2
        across = x + 60 * t * math.cos(turn) - curl * math.sin(turn)
        down = y + 60 * t * math.sin(turn) + curl * math.cos(turn)
        shade = random.normal() * (1 - t) ** 0.5
        for aside in (0, 1):
            values[(down + aside).astype(int) % _TILE, across.astype(int) % _TILE] = shade

    return _tiled(_drawn_marks(random, 5000, hair))


def foliage(seed: int) -> Texture:
    """Pointed leaves with a middle rib, one above another."""
    random = np.random.default_rng(seed)
    y, x = np.mgrid[-24:25, -24:25].astype(float)

    def leaf(values: Floats, x0: float, y0: float) -> None:
        turn, long = random.uniform(0, math.tau), random.uniform(12, 23)
        u = (x * math.cos(turn) + y * math.sin(turn)) / long
        v = (y * math.cos(turn) - x * math.sin(turn)) / long
        inside = (np.abs(u) < 1) & (np.abs(v) < 0.38 * (1 - u**2))
        rib = 0.5 * (np.abs(v) < 0.03)
        rows, columns = np.nonzero(inside)
        shade = random.normal() + rib + 0.5 * np.sign(v)
        values[(rows + int(y0)) % _TILE, (columns + int(x0)) % _TILE] = shade[inside]

    return _tiled(_drawn_marks(random, 2500, leaf))


TEXTURES: dict[str, Callable[[int], Texture]] = {
    "spots": spots,
    "stones": stones,
    "gravel": gravel,
    "crackle": crackle,
    "weave": weave,
    "rings": rings,
    "halftone": halftone,
    "herringbone": herringbone,
    "tartan": tartan,
    "fur": fur,
    "foliage": foliage,
}
