"""Take a photo in: master, study and preview, and nothing else of what came with it.

The decoded photo is worked through in tiles, each turned, brought to sRGB and to grey,
encoded and reduced while it is in the processor's cache, on as many threads as there are.
"""

from __future__ import annotations

import hashlib
import zipfile
from concurrent.futures import Executor, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from PIL import Image

from worker.imaging.colour import Convert, converter, luminance
from worker.imaging.detail import FINEST_PX
from worker.imaging.master import (
    MasterFacts,
    Tile,
    add_member,
    small_name,
    tiles_over,
    write_facts,
)
from worker.imaging.opening import Limits, Opened, open_picture, read_within
from worker.imaging.spool import Chroma, Spool
from worker.imaging.study import save_study, study_of
from worker.layout.study import ReferenceStudy

#: High enough that printing and tone curves show nothing of it.
GREY_QUALITY, COLOUR_QUALITY, PREVIEW_QUALITY = 93, 90, 85
PREVIEW_PX = 1600
#: The small whole that the master keeps has at least this many pixels on its longer side:
#: enough for the map.
SMALL_PX = 1280

#: What undoes each EXIF orientation (EXIF 2.32, tag 274), and where a box of the upright
#: picture lies in the stored one: whether its axes are exchanged, then whether each runs
#: backwards in the stored picture.
_TURNS: dict[int, Image.Transpose] = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
_ON_SIDE = frozenset({5, 6, 7, 8})
_ACROSS_BACKWARDS = frozenset({2, 3, 7, 8})
_DOWN_BACKWARDS = frozenset({3, 4, 6, 7})


@dataclass(frozen=True, kw_only=True)
class TakenIn:
    """What is known of a reference; `sha256` is that of the bytes that were sent."""

    width_px: int
    height_px: int
    format: str
    sha256: str
    study: ReferenceStudy


@dataclass(frozen=True, kw_only=True)
class _Work:
    """What all tiles have in common.

    `small` and `small_grey` are the whole reference reduced by `shrink`, filled tile by tile.
    """

    opened: Opened
    convert: Convert
    spool: Spool
    small: Image.Image
    small_grey: Image.Image
    shrink: int
    chroma: Chroma

    @property
    def coloured(self) -> bool:
        return self.small.mode == "RGB"

    @property
    def kept_shrink(self) -> int:
        """The reduction of the small whole that the master keeps; 1 for none."""
        again = max(self.small.size) // 2 >= SMALL_PX
        return self.shrink * 2 if again else self.shrink


@dataclass(frozen=True)
class _EncodedTile:
    tile: Tile
    grey: bytes
    colour: bytes | None

    def digest(self) -> bytes:
        return hashlib.sha256(self.grey + (self.colour or b"")).digest()


def take_in(source: BinaryIO, folder: Path, limits: Limits, *, threads: int = 2) -> TakenIn:
    """Write `master.zip`, `study.npz` and `preview.jpg` into `folder`.

    Args:
        source: The bytes as they were sent; their name does not matter.
        folder: Exists, and is the caller's to remove if this fails.
        limits: What is accepted.
        threads: How many work at once.

    Raises:
        PhotoError: One of its kinds; the photo cannot be used.
    """
    data = read_within(source, limits)
    opened = open_picture(data, limits)
    width_px, height_px = opened.upright_size_px
    with Spool(folder) as spool, ThreadPoolExecutor(threads) as pool:
        work = _work(opened, spool)
        _write_master(folder / "master.zip", work, pool)
        preview = pool.submit(_write_preview, folder / "preview.jpg", work)
        study = study_of(work.small_grey, (width_px, height_px), work.shrink, pool)
        preview.result()
    save_study(study, folder / "study.npz")
    return TakenIn(
        width_px=width_px,
        height_px=height_px,
        format=opened.kind,
        sha256=hashlib.sha256(data).hexdigest(),
        study=study,
    )


def _work(opened: Opened, spool: Spool) -> _Work:
    width_px, height_px = opened.upright_size_px
    shrink = 1
    while max(width_px, height_px) > FINEST_PX * shrink:
        shrink *= 2
    convert = converter(opened.image)
    mode = convert(opened.image.crop((0, 0, 1, 1))).mode
    size = (-(-width_px // shrink), -(-height_px // shrink))
    return _Work(
        opened=opened,
        convert=convert,
        spool=spool,
        small=Image.new(mode, size),
        small_grey=Image.new("L", size),
        shrink=shrink,
        # A photo whose colours come halved loses nothing by it; drawings and scans would.
        chroma="4:4:4" if opened.kind in {"png", "tiff"} else "4:2:0",
    )


def _write_master(path: Path, work: _Work, threads: Executor) -> None:
    width_px, height_px = work.opened.upright_size_px
    tiles = tiles_over((0, 0, width_px, height_px), (width_px, height_px))
    digest = hashlib.sha256()
    with zipfile.ZipFile(path, "w", zipfile.ZIP_STORED) as file:
        for tile, grey, colour in threads.map(lambda tile: _encoded(tile, work), tiles):
            add_member(file, tile.name("grey"), grey)
            digest.update(hashlib.sha256(grey).digest())
            if work.coloured:
                add_member(file, tile.name("colour"), colour)
                digest.update(hashlib.sha256(colour).digest())
        _write_small(file, work)
        facts = MasterFacts(
            width_px=width_px,
            height_px=height_px,
            coloured=work.coloured,
            digest=digest.hexdigest(),
            small_shrink=work.kept_shrink,
        )
        write_facts(file, facts)


def _encoded(tile: Tile, work: _Work) -> tuple[Tile, bytes, bytes]:
    """One tile from the decoded photo to JPEG in grey and colour, and into the small whole."""
    upright = work.convert(upright_part(work.opened, tile.box_px))
    grey = luminance(upright) if work.coloured else upright
    at = (tile.box_px[0] // work.shrink, tile.box_px[1] // work.shrink)
    work.small_grey.paste(_reduced(grey, work.shrink), at)
    if not work.coloured:
        work.small.paste(_reduced(grey, work.shrink), at)
        return tile, work.spool.jpeg(grey, GREY_QUALITY), b""
    work.small.paste(_reduced(upright, work.shrink), at)
    colour = work.spool.jpeg(upright, COLOUR_QUALITY, work.chroma)
    return tile, work.spool.jpeg(grey, GREY_QUALITY), colour


def _write_small(file: zipfile.ZipFile, work: _Work) -> None:
    """The whole in small, so that a map need not decode every tile."""
    if work.kept_shrink == 1:
        return
    again = work.kept_shrink // work.shrink
    add_member(
        file,
        small_name("grey"),
        work.spool.jpeg(_reduced(work.small_grey, again), GREY_QUALITY),
    )
    if work.coloured:
        small = work.spool.jpeg(_reduced(work.small, again), COLOUR_QUALITY, work.chroma)
        add_member(file, small_name("colour"), small)


def _reduced(picture: Image.Image, shrink: int) -> Image.Image:
    return picture.reduce(shrink) if shrink > 1 else picture


def upright_part(opened: Opened, box_px: tuple[int, int, int, int]) -> Image.Image:
    """A part of the photo turned upright; only that part is turned."""
    turn = _TURNS.get(opened.orientation)
    if turn is None:
        return opened.image.crop(box_px)
    spans = [(box_px[0], box_px[2]), (box_px[1], box_px[3])]
    if opened.orientation in _ON_SIDE:
        spans.reverse()
    width_px, height_px = opened.image.size
    (left, right), (top, bottom) = spans
    if opened.orientation in _ACROSS_BACKWARDS:
        left, right = width_px - right, width_px - left
    if opened.orientation in _DOWN_BACKWARDS:
        top, bottom = height_px - bottom, height_px - top
    return opened.image.crop((left, top, right, bottom)).transpose(turn)


def _write_preview(path: Path, work: _Work) -> None:
    share = min(PREVIEW_PX / max(work.opened.upright_size_px), 1.0)
    width_px, height_px = (max(round(side * share), 1) for side in work.opened.upright_size_px)
    preview = work.small.resize((width_px, height_px), Image.Resampling.HAMMING)
    path.write_bytes(work.spool.jpeg(preview, PREVIEW_QUALITY, "4:2:0"))
