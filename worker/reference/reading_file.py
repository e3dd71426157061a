"""The reading of a reference as bytes, which lie in its master."""

from __future__ import annotations

import io

import numpy as np

from worker.spec.reading import Face, Reading
from worker.spec.spec import Area

#: Its name in the master.
NAME = "reading.npz"
_MAPS = ("contour", "outer", "mark", "shadow", "sure")


def reading_bytes(reading: Reading) -> bytes:
    """A NumPy archive without pickles; the same reading gives the same bytes."""
    with io.BytesIO() as file:
        maps = {name: getattr(reading, name) for name in _MAPS}
        np.savez_compressed(file, allow_pickle=False, faces=_rows(reading.faces), **maps)
        return file.getvalue()


def reading_from(data: bytes) -> Reading:
    """Read what `reading_bytes` wrote."""
    with np.load(io.BytesIO(data), allow_pickle=False) as archive:
        maps = {name: archive[name] for name in _MAPS}
        faces = tuple(_face(row) for row in archive["faces"].tolist())
    return Reading(**maps, faces=faces)


def _rows(faces: tuple[Face, ...]) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """A row for each face: its areas one after another, of two eyes."""
    rows = [
        [value for area in (face.box, face.head, *face.eyes) for value in _sides(area)]
        for face in faces
    ]
    return np.array(rows, np.float64).reshape(len(faces), -1 if faces else 0)


def _sides(area: Area) -> tuple[float, ...]:
    return area.left, area.top, area.width, area.height


def _face(row: list[float]) -> Face:
    box, head, *eyes = (
        Area(left=left, top=top, width=width, height=height)
        for left, top, width, height in zip(*[iter(row)] * 4, strict=True)
    )
    return Face(box=box, head=head, eyes=tuple(eyes))
