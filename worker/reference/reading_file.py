"""The reading of a reference as bytes, which lie in its master."""

from __future__ import annotations

import io
import zipfile

import numpy as np

from worker.arrays import arrays_in
from worker.spec.reading import MAPS, Face, Maps, Reading
from worker.spec.spec import Area

#: Its name in the master.
NAME = "reading.npz"
#: Of zlib. Maps of two photographs came out as large as with 6, its usual one, within 0.1 %, in
#: half of the time.
_LEVEL = 3


def reading_bytes(reading: Reading) -> bytes:
    """A NumPy archive without pickles; the same reading gives the same bytes."""
    parts = (reading, *reading.insets)
    arrays = {
        "faces": _rows(reading.faces),
        "areas": np.array([_sides(part.area) for part in parts]),
        "subject": reading.subject,
    }
    for at, part in enumerate(parts):
        arrays |= {f"{name}_{at}": getattr(part, name) for name in MAPS}
    with io.BytesIO() as file:
        # What numpy.savez_compressed writes, which knows one level of compression only.
        with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=_LEVEL) as archive:
            for name, values in arrays.items():
                with archive.open(f"{name}.npy", "w") as member:
                    np.lib.format.write_array(member, values, allow_pickle=False)
        return file.getvalue()


def reading_from(data: bytes) -> Reading:
    """Read what `reading_bytes` wrote."""
    arrays = arrays_in(io.BytesIO(data))
    faces = tuple(_face(row) for row in arrays["faces"].tolist())
    parts = [
        (_area(sides), {name: arrays[f"{name}_{at}"] for name in MAPS})
        for at, sides in enumerate(arrays["areas"].tolist())
    ]
    # Those of before know no subject.
    known = {name: arrays[name] for name in ("subject",) if name in arrays}
    (area, maps), *others = parts
    insets = tuple(Maps(area=each, **those) for each, those in others)
    return Reading(area=area, **maps, **known, faces=faces, insets=insets)


def _rows(faces: tuple[Face, ...]) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """A row for each face: its areas one after another, of two eyes."""
    rows = [
        [value for area in (face.box, face.head, *face.eyes) for value in _sides(area)]
        for face in faces
    ]
    return np.array(rows, np.float64).reshape(len(faces), -1 if faces else 0)


def _sides(area: Area) -> tuple[float, ...]:
    return area.left, area.top, area.width, area.height


def _area(sides: list[float]) -> Area:
    left, top, width, height = sides
    return Area(left=left, top=top, width=width, height=height)


def _face(row: list[float]) -> Face:
    box, head, *eyes = (_area(list(sides)) for sides in zip(*[iter(row)] * 4, strict=True))
    return Face(box=box, head=head, eyes=tuple(eyes))
