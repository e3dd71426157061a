"""The whole photograph, its two passes shared among a few processes."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor

import numpy as np
import numpy.typing as npt

from atelier.camera import Camera
from atelier.develop import APRON, develop
from atelier.render import Coarse, Painter, smooth
from atelier.scene import Hits, still_life
from atelier.vectors import Floats

#: What the demo is rendered at: 4608 × 3072 are 14 megapixels.
WIDTH_PX = 4608
Box = tuple[int, int, int, int]
_TILE = 224
_ROWS = 8
_FINE_WIDTH = 2000
_painter: list[Painter] = []


def _prepare(width: int, height: int) -> None:
    """Build scene and grid once in each process."""
    _painter[:] = [Painter(still_life(), Camera(width, height))]


def _gather(task: tuple[int, int, int]) -> tuple[Hits, Floats]:
    """Light of some coarse rows."""
    start, stop, stride = task
    return _painter[0].gather(slice(start, stop), stride)


def _paint(task: tuple[Box, Coarse]) -> tuple[Box, npt.NDArray[np.uint8]]:
    """One developed tile."""
    box, coarse = task
    camera = _painter[0].camera
    left, top, right, bottom = box
    wide = (left - APRON, top - APRON, right + APRON, bottom + APRON)
    linear = _painter[0].tile(wide, coarse)
    return box, develop(linear, box, camera.width, camera.height)


def _join(parts: list[tuple[Hits, Floats]], columns: int, stride: int) -> Coarse:
    """The coarse raster from its rows."""

    def raster(pieces: list[Floats]) -> Floats:
        whole = np.concatenate(pieces, axis=-1)
        return np.asarray(whole.reshape(*whole.shape[:-1], -1, columns))

    return smooth(
        Coarse(
            stride=stride,
            identity=np.concatenate([hits.identity for hits, _ in parts]).reshape(-1, columns),
            world=raster([hits.world for hits, _ in parts]),
            normal=raster([hits.normal for hits, _ in parts]),
            values=raster([values for _, values in parts]),
        )
    )


def _tiles(width: int, height: int, coarse: Coarse) -> list[tuple[Box, Coarse]]:
    """All tiles with the part of the coarse raster that each needs."""
    tasks = []
    reach = _TILE // coarse.stride + 6
    for top in range(0, height, _TILE):
        for left in range(0, width, _TILE):
            box = (left, top, min(left + _TILE, width), min(top + _TILE, height))
            part = coarse.part(top // coarse.stride - 3, left // coarse.stride - 3, reach, reach)
            tasks.append((box, part))
    return tasks


def photograph(
    width: int, *, processes: int = 2, say: Callable[[str], None] = lambda _: None
) -> npt.NDArray[np.uint8]:
    """The still life as 8-bit sRGB pixels, 3:2, `width` pixels wide."""
    height = round(width * 2 / 3)
    stride = 4 if width >= _FINE_WIDTH else 3
    rows, columns = -(-height // stride), -(-width // stride)
    picture = np.empty((height, width, 3), dtype=np.uint8)
    with ProcessPoolExecutor(processes, initializer=_prepare, initargs=(width, height)) as pool:
        strips = [(i, min(i + _ROWS, rows), stride) for i in range(0, rows, _ROWS)]
        coarse = _join(list(pool.map(_gather, strips)), columns, stride)
        say("light gathered")
        painted = pool.map(_paint, _tiles(width, height, coarse))
        for (left, top, right, bottom), pixels in painted:
            picture[top:bottom, left:right] = pixels
    say("surfaces painted")
    return picture
