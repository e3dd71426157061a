"""The master: a reference upright, in sRGB and in grey, as JPEG tiles in an uncompressed ZIP.

Making a piece needs a small part of the photo, often much reduced. So only the tiles of that
part are decoded, at a half, a quarter or an eighth of their size where that is enough, on
several threads; memory does not grow with the photo. Grey is linear-light luminance, computed
once at intake.
"""

from __future__ import annotations

import json
import threading
import zipfile
from collections import OrderedDict
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from io import BytesIO
from pathlib import Path
from typing import Self

import numpy as np
from PIL import Image

from worker.reference.reading_file import NAME as READING
from worker.reference.reading_file import reading_from
from worker.spec.dark_lift import LIFT_PX, lift_map
from worker.spec.reading import Reading
from worker.spec.spec import ColourMode

VERSION = 1
#: Multiples of 16, so that chroma and all reductions of JPEG decoding fall on whole pixels.
TILE_WIDTH_PX, TILE_HEIGHT_PX = 1024, 512
#: Reductions that a JPEG decoder makes while it decodes (ITU-T T.81 blocks of 8).
SHRINKS = (8, 4, 2, 1)
#: Decoded tiles that are kept for the next piece.
CACHE_BYTES = 32_000_000

Box = tuple[int, int, int, int]


@dataclass(frozen=True, kw_only=True)
class MasterFacts:
    """What stands in `master.json`.

    Attributes:
        width_px, height_px: Size of the upright reference.
        coloured: Whether there are tiles in colour beside those in grey.
        digest: Tells the content of all tiles.
        small_shrink: How many reference pixels one of the small whole stands for, on each
            side; 1 where there is none.
    """

    width_px: int
    height_px: int
    coloured: bool
    digest: str
    small_shrink: int
    tile_px: tuple[int, int] = (TILE_WIDTH_PX, TILE_HEIGHT_PX)
    version: int = VERSION


@dataclass(frozen=True)
class Tile:
    """One tile: its column and row, and its pixels in the upright reference."""

    column: int
    row: int
    box_px: Box

    def name(self, colour_mode: ColourMode) -> str:
        """Its name in the file."""
        return f"{colour_mode}-{self.row:03d}-{self.column:03d}.jpg"


def small_name(colour_mode: ColourMode) -> str:
    """File name of the whole reference at a small size."""
    return f"{colour_mode}-small.jpg"


def tiles_over(box_px: Box, size_px: tuple[int, int]) -> Iterator[Tile]:
    """The tiles that meet a box, row by row."""
    left, top, right, bottom = box_px
    for row in range(top // TILE_HEIGHT_PX, -(-bottom // TILE_HEIGHT_PX)):
        for column in range(left // TILE_WIDTH_PX, -(-right // TILE_WIDTH_PX)):
            x, y = column * TILE_WIDTH_PX, row * TILE_HEIGHT_PX
            edge = (min(x + TILE_WIDTH_PX, size_px[0]), min(y + TILE_HEIGHT_PX, size_px[1]))
            yield Tile(column, row, (x, y, *edge))


def write_facts(file: zipfile.ZipFile, facts: MasterFacts) -> None:
    """End a master with what it holds."""
    text = json.dumps({**facts.__dict__}, sort_keys=True)
    add_member(file, "master.json", text.encode())


def add_member(file: zipfile.ZipFile, name: str, data: bytes) -> None:
    """Store `data` without a date, so that the same photo gives the same bytes."""
    file.writestr(zipfile.ZipInfo(name), data)


@dataclass
class _Slot:
    """A place for one decoded tile; whoever comes first decodes it, the others wait."""

    lock: threading.Lock = field(default_factory=threading.Lock)
    image: Image.Image | None = None
    kept_bytes: int = 0


_Key = tuple[str, int]


class Master:
    """A master opened for reading, from any number of threads at once."""

    def __init__(self, file: zipfile.ZipFile) -> None:
        self._file = file
        facts = json.loads(file.read("master.json"))
        self.width_px = int(facts["width_px"])
        self.height_px = int(facts["height_px"])
        self.digest = str(facts["digest"])
        self.coloured = bool(facts["coloured"])
        self._small_shrink = int(facts["small_shrink"])
        self._lock = threading.Lock()
        self._slots: OrderedDict[_Key, _Slot] = OrderedDict()
        self._kept_bytes = 0

    @classmethod
    def open(cls, path: Path) -> Master:
        """Open the file that `take_in` wrote."""
        return cls(zipfile.ZipFile(path))

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._slots.clear()
        self._file.close()

    @cached_property
    def reading(self) -> Reading:
        """What was read in it at intake."""
        return reading_from(self._file.read(READING))

    @cached_property
    def lift_map(self) -> Image.Image:
        """How far darks are lifted for the contours in them, over the whole reference; mode L."""
        shrink = self.shrink_for(max(self.width_px, self.height_px) / LIFT_PX)
        grey = self.window("grey", (0, 0, self.width_px, self.height_px), shrink=shrink)
        grey = grey.reduce(max(max(grey.size) // (2 * LIFT_PX), 1))
        return Image.fromarray(lift_map(self.reading.contour, np.asarray(grey)))

    def shrink_for(self, pitch_px: float) -> int:
        """The strongest reduction that still has a pixel at least every `pitch_px`."""
        if 1 < self._small_shrink <= pitch_px:
            return self._small_shrink
        return next((shrink for shrink in SHRINKS if shrink <= pitch_px), 1)

    def window(self, colour_mode: ColourMode, box_px: Box, *, shrink: int = 1) -> Image.Image:
        """A part of the reference.

        Args:
            colour_mode: `grey` gives mode L, `colour` mode RGB.
            box_px: Left, top, right, bottom in whole pixels of the reference.
            shrink: Give every so many pixels, on each side, as one; as `shrink_for` says.
                Left and top must be multiples of it.

        Returns:
            A picture of the box's size divided by `shrink`, rounded up.
        """
        stored: ColourMode = colour_mode if self.coloured else "grey"
        left, top, right, bottom = box_px
        reduced = (left // shrink, top // shrink, -(-right // shrink), -(-bottom // shrink))
        if 1 < shrink == self._small_shrink:
            window = self._decoded(small_name(stored), 1).crop(reduced)
        else:
            window = self._joined(stored, box_px, reduced, shrink)
        return window if stored == colour_mode else window.convert("RGB")

    def _joined(
        self, colour_mode: ColourMode, box_px: Box, reduced: Box, shrink: int
    ) -> Image.Image:
        """A window put together from tiles; `reduced` is the box divided by `shrink`."""
        size = (reduced[2] - reduced[0], reduced[3] - reduced[1])
        window = Image.new("L" if colour_mode == "grey" else "RGB", size)
        for tile in tiles_over(box_px, (self.width_px, self.height_px)):
            at = (tile.box_px[0] // shrink - reduced[0], tile.box_px[1] // shrink - reduced[1])
            window.paste(self._decoded(tile.name(colour_mode), shrink), at)
        return window

    def _decoded(self, name: str, shrink: int) -> Image.Image:
        key = (name, shrink)
        with self._lock:
            slot = self._slots.setdefault(key, _Slot())
            self._slots.move_to_end(key)
        with slot.lock:
            if slot.image is None:
                slot.image = _decode(self._file.read(name), shrink)
                self._keep(key, slot)
            return slot.image

    def _keep(self, key: _Key, slot: _Slot) -> None:
        """Count a new tile in, and let go of those that were not asked for longest."""
        with self._lock:
            # The place may have been given up while its tile was being decoded.
            if self._slots.get(key) is slot:
                slot.kept_bytes = _bytes_of(slot.image)
                self._kept_bytes += slot.kept_bytes
            while self._kept_bytes > CACHE_BYTES and len(self._slots) > 1:
                self._kept_bytes -= self._slots.popitem(last=False)[1].kept_bytes


def _bytes_of(image: Image.Image | None) -> int:
    if image is None:
        return 0
    # Colour pixels take four bytes in memory.
    return image.width * image.height * (1 if image.mode == "L" else 4)


def _decode(data: bytes, shrink: int) -> Image.Image:
    image = Image.open(BytesIO(data), formats=["JPEG"])
    size = (-(-image.width // shrink), -(-image.height // shrink))
    # The decoder takes the strongest reduction that gives no less than is asked for, so what
    # is asked for must be rounded down.
    image.draft(image.mode, (max(image.width // shrink, 1), max(image.height // shrink, 1)))
    image.load()
    # Only tiles narrower than a reduced block come out larger than they should.
    return image if image.size == size else image.resize(size, Image.Resampling.BOX)
