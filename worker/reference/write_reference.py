"""Write a reference: its master, study and preview.

The picture is a source of parts: a photo that was just decoded, or a master that is squared up.
Parts are requested tile by tile; each is converted to grey, encoded and reduced while it is in
the processor's cache, on several threads.
"""

from __future__ import annotations

import hashlib
import zipfile
from concurrent.futures import Executor, ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Protocol

from PIL import Image

from worker.reading import read_picture
from worker.reference.colour.srgb import luminance
from worker.reference.detail_map import FINEST_PX
from worker.reference.edge_blur import Cells, resolved_px, steepest_cells
from worker.reference.jpeg_encoder import ChromaSampling, JpegEncoder
from worker.reference.master import (
    Box,
    MasterFacts,
    Tile,
    add_member,
    small_name,
    tiles_over,
    write_facts,
)
from worker.reference.reading_file import NAME as READING
from worker.reference.reading_file import reading_bytes
from worker.reference.study_file import save_study, study_of
from worker.spec.reading import Reading
from worker.spec.study import ReferenceStudy

#: High enough that printing and tone curves show nothing of it.
GREY_QUALITY, COLOUR_QUALITY, PREVIEW_QUALITY = 93, 90, 85
PREVIEW_PX = 1600
#: The small whole that the master keeps has at least this many pixels on its longer side:
#: enough for the map.
SMALL_PX = 1280


class PictureSource(Protocol):
    """A picture that returns its parts, upright and in sRGB; safe in threads."""

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height."""

    @property
    def chroma_sampling(self) -> ChromaSampling:
        """How its colours may be stored without loss that shows."""

    def part(self, box_px: Box) -> Image.Image:
        """A part of it: always mode RGB, or, if it has no colour, always mode L."""


def chroma_sampling_of(format_: str) -> ChromaSampling:
    """How colours of a photo that came as `format_` are stored.

    A photo whose colours come halved loses nothing by it; drawings and scans would.
    """
    return "4:4:4" if format_ in {"png", "tiff"} else "4:2:0"


@dataclass(frozen=True, kw_only=True)
class WrittenReference:
    """A written reference: its study, and a digest of the content of all its tiles."""

    study: ReferenceStudy
    digest: str


@dataclass(frozen=True, kw_only=True)
class _Work:
    """What all tiles have in common.

    `small` and `small_grey` are the whole reference reduced by `shrink`, filled tile by tile;
    `cells` are the steepest squares of each tile.
    """

    source: PictureSource
    encoder: JpegEncoder
    small: Image.Image
    small_grey: Image.Image
    shrink: int
    cells: list[Cells] = field(default_factory=list)

    @property
    def coloured(self) -> bool:
        return self.small.mode == "RGB"

    @property
    def kept_shrink(self) -> int:
        """The reduction of the small whole that the master keeps; 1 for none."""
        again = max(self.small.size) // 2 >= SMALL_PX
        return self.shrink * 2 if again else self.shrink


def write_reference(source: PictureSource, folder: Path, *, threads: int = 2) -> WrittenReference:
    """Write `master.zip`, `study.npz` and `preview.jpg` into `folder`.

    Args:
        source: The picture.
        folder: Exists, and is the caller's to remove if this fails.
        threads: How many work at once.
    """
    with (
        JpegEncoder(folder) as encoder,
        ThreadPoolExecutor(threads) as pool,
        zipfile.ZipFile(folder / "master.zip", "w", zipfile.ZIP_STORED) as master,
    ):
        work = _work(source, encoder)
        digest = _write_tiles(master, work, pool)
        # The reading has threads of its own: where those wait for each other, the rest goes on.
        reading = pool.submit(_read, work, threads)
        resolved = pool.submit(resolved_px, work.cells, work.small_grey, work.shrink)
        preview = pool.submit(_write_preview, folder / "preview.jpg", work)
        study = study_of(work.small_grey, source.size_px, work.shrink, pool)
        packed = reading_bytes(reading.result())
        add_member(master, READING, packed)
        _write_facts(master, work, digest)
        preview.result()
        study = replace(study, reading=reading.result(), resolved_px=resolved.result())
    save_study(study, packed, folder / "study.npz")
    return WrittenReference(study=study, digest=digest)


def _work(source: PictureSource, encoder: JpegEncoder) -> _Work:
    width_px, height_px = source.size_px
    shrink = 1
    while max(width_px, height_px) > FINEST_PX * shrink:
        shrink *= 2
    mode = source.part((0, 0, 1, 1)).mode
    size = (-(-width_px // shrink), -(-height_px // shrink))
    return _Work(
        source=source,
        encoder=encoder,
        small=Image.new(mode, size),
        small_grey=Image.new("L", size),
        shrink=shrink,
    )


def _write_tiles(file: zipfile.ZipFile, work: _Work, threads: Executor) -> str:
    """Write all tiles, and the small whole that comes about with them; returns their digest."""
    width_px, height_px = work.source.size_px
    tiles = tiles_over((0, 0, width_px, height_px), (width_px, height_px))
    digest = hashlib.sha256()
    for tile, cells, grey, colour in threads.map(lambda tile: _encoded(tile, work), tiles):
        work.cells.append(cells)
        add_member(file, tile.name("grey"), grey)
        digest.update(hashlib.sha256(grey).digest())
        if work.coloured:
            add_member(file, tile.name("colour"), colour)
            digest.update(hashlib.sha256(colour).digest())
    _write_small(file, work)
    return digest.hexdigest()


def _write_facts(file: zipfile.ZipFile, work: _Work, digest: str) -> None:
    width_px, height_px = work.source.size_px
    facts = MasterFacts(
        width_px=width_px,
        height_px=height_px,
        coloured=work.coloured,
        digest=digest,
        small_shrink=work.kept_shrink,
    )
    write_facts(file, facts)


def _read(work: _Work, threads: int) -> Reading:
    """Read the whole; beyond its last pixels the small whole has nothing to be read."""
    width_px, height_px = work.source.size_px
    whole = (0, 0, width_px / work.shrink, height_px / work.shrink)
    return read_picture(work.small, whole, threads=threads)


def _encoded(tile: Tile, work: _Work) -> tuple[Tile, Cells, bytes, bytes]:
    """A tile's steepest squares and its JPEG in grey and colour; it goes into the small whole."""
    upright = work.source.part(tile.box_px)
    grey = luminance(upright) if work.coloured else upright
    cells = steepest_cells(grey)
    at = (tile.box_px[0] // work.shrink, tile.box_px[1] // work.shrink)
    work.small_grey.paste(_reduced(grey, work.shrink), at)
    if not work.coloured:
        work.small.paste(_reduced(grey, work.shrink), at)
        return tile, cells, work.encoder.jpeg(grey, GREY_QUALITY), b""
    work.small.paste(_reduced(upright, work.shrink), at)
    colour = work.encoder.jpeg(upright, COLOUR_QUALITY, work.source.chroma_sampling)
    return tile, cells, work.encoder.jpeg(grey, GREY_QUALITY), colour


def _write_small(file: zipfile.ZipFile, work: _Work) -> None:
    """The whole reference at a small size, so that a map need not decode every tile."""
    if work.kept_shrink == 1:
        return
    again = work.kept_shrink // work.shrink
    add_member(
        file,
        small_name("grey"),
        work.encoder.jpeg(_reduced(work.small_grey, again), GREY_QUALITY),
    )
    if work.coloured:
        small = work.encoder.jpeg(
            _reduced(work.small, again), COLOUR_QUALITY, work.source.chroma_sampling
        )
        add_member(file, small_name("colour"), small)


def _reduced(picture: Image.Image, shrink: int) -> Image.Image:
    return picture.reduce(shrink) if shrink > 1 else picture


def _write_preview(path: Path, work: _Work) -> None:
    share = min(PREVIEW_PX / max(work.source.size_px), 1.0)
    width_px, height_px = (max(round(side * share), 1) for side in work.source.size_px)
    preview = work.small.resize((width_px, height_px), Image.Resampling.HAMMING)
    path.write_bytes(work.encoder.jpeg(preview, PREVIEW_QUALITY, "4:2:0"))
