"""Make one pack from end to end, in one process: for the worker, and for the command alone.

What the tone style needs is found first. Pieces are then made on several threads, a few ahead
of the page that is written, and arrive in page order: all processors are used, and memory does
not grow with the number of sheets. The plan is the one that was stored when the pack was
requested; nothing is planned anew.
"""

from __future__ import annotations

import base64
import hashlib
import io
import json
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import asdict, dataclass, replace
from itertools import islice
from pathlib import Path
from typing import Any, Literal

from PIL import Image

from worker.errors import Cancelled, NotFound
from worker.make.blank import blank_labels
from worker.make.style import StyledPicture, apply_style
from worker.pages.map.page import MAP_LINES
from worker.pages.pack import PackText, PrintedPiece, write_map, write_pack, write_sheet
from worker.pages.stroke_file import NAME as STROKES
from worker.pages.stroke_file import write_strokes
from worker.pdf.raster import rasterise
from worker.picture.preview import reduced_preview
from worker.reference.jpeg_encoder import JpegEncoder
from worker.reference.master import Master
from worker.spec.plan import Plan
from worker.spec.spec import Spec
from worker.units import pixels

#: The longer side of the faint picture: 150 ppi on the map of an A4 pack.
FAINT_PX = 1200
#: JPEG quality of the picture that a screen shows.
SHOWN_QUALITY = 85
#: The same of the gridded reference, which is drawn from: some 200 ppi on A4.
SMALL_PX = 2000
MAP_PPI, SHEET_PPI = 110.0, 150.0
#: The map that a screen shows of one sheet, whose pack has none.
_MAP_ALONE = "map.pdf.part"
#: How many threads find what the style of a sheet alone asks for.
SHEET_THREADS = 2
#: Half the time of the default for an eighth more bytes.
PNG_LEVEL = 1
#: Pieces begun before they are written: a page is written in far less time than it is made,
#: and what waits is only its JPEG.
AHEAD = 6
#: What pieces in the making may take together, in bytes of pixels.
PIECES_BYTES = 90_000_000
#: Digits and letters without I, L, O and U, which are misread from paper (Crockford).
_LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
_BASE32 = "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567"

Step = Literal["reading", "sheets", "writing"]


@dataclass(frozen=True)
class Progress:
    """Pieces done of pieces to do, and what is being done."""

    done: int
    total: int
    step: Step


@dataclass(frozen=True)
class PackFiles:
    """What was made, and the number that stands on its sheets."""

    pack_pdf: Path
    map_png: Path
    picture_jpg: Path
    number: str


@dataclass(frozen=True, kw_only=True)
class _PackTask:
    """A pack that is being made, with the callbacks of its caller."""

    spec: Spec
    plan: Plan
    encoder: JpegEncoder
    progress: Callable[[Progress], None]
    cancelled: Callable[[], bool]

    def report(self, done: int, step: Step) -> None:
        if self.cancelled():
            raise Cancelled("The pack was cancelled while it was being made.")
        self.progress(Progress(done, len(self.plan.pieces), step))


def _ignore_progress(_: Progress) -> None:
    """The default where the caller wants no progress."""


def _never() -> bool:
    return False


def pack_number(master_digest: str, spec: Spec, title: str, recipient: str = "") -> str:
    """The number on each sheet, by which a lost one can be requested again.

    It depends on photo, title, the whole spec (also on fields that the style does not use) and
    the name that the sheets carry, so that a class of one photo has thirty numbers; and on
    nothing else.

    Returns:
        Eight letters and digits that are not misread, such as `7K3F-Q2ZD`.
    """
    named = [recipient] if recipient else []
    text = json.dumps([master_digest, _plain(asdict(spec)), title, *named], sort_keys=True)
    digest = hashlib.sha256(text.encode()).digest()
    letters = base64.b32encode(digest[:5]).decode().translate(str.maketrans(_BASE32, _LETTERS))
    return f"{letters[:4]}-{letters[4:]}"


def _plain(value: Any) -> Any:
    """As JSON, with 600 and 600.0 the same."""
    if isinstance(value, dict):
        return {key: _plain(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    return float(value) if isinstance(value, int) and not isinstance(value, bool) else value


def make_pack(  # noqa: PLR0913 - what is made, where, and two ways to talk with who waits.
    master_path: Path,
    spec: Spec,
    plan: Plan,
    *,
    title: str,
    folder: Path,
    recipient: str = "",
    progress: Callable[[Progress], None] = _ignore_progress,
    cancelled: Callable[[], bool] = _never,
    threads: int = 2,
) -> PackFiles:
    """Write a pack's files into `folder`.

    They are `pack.pdf`, `map.png`, `picture.jpg` (the whole picture, reduced, from which a
    screen shows every sheet) and, where lines are drawn, `strokes.npz`.

    Args:
        master_path: The reference's master.
        spec: The spec.
        plan: Its plan.
        title: The pack's title, in any script.
        folder: Exists; each file appears in it complete or not at all.
        recipient: The student whose name the sheets carry; empty: none.
        progress: Called in this thread, after each piece.
        cancelled: Called in this thread, between pieces; true to stop.
        threads: How many pieces are made at once.

    Raises:
        Cancelled: `cancelled` turned true.
    """
    part, map_pdf = folder / "pack.pdf.part", folder / _MAP_ALONE
    with Master.open(master_path) as master, JpegEncoder(folder) as encoder:
        task = _PackTask(
            spec=spec, plan=plan, encoder=encoder, progress=progress, cancelled=cancelled
        )
        task.report(0, "reading")
        picture = apply_style(master, spec, plan, threads)
        number = pack_number(master.digest, spec, title, recipient)
        files = PackFiles(folder / "pack.pdf", folder / "map.png", folder / "picture.jpg", number)
        text = PackText(title=title, number=number, recipient=recipient)
        try:
            shown = _write(part, task, picture, text, threads)
            task.report(len(plan.pieces), "writing")
            part.replace(files.pack_pdf)
            shows_map = files.pack_pdf if plan.map_pages else map_pdf
            rasterise(shows_map, 1, MAP_PPI).save(files.map_png, compress_level=PNG_LEVEL)
        finally:
            part.unlink(missing_ok=True)
            map_pdf.unlink(missing_ok=True)
    files.picture_jpg.write_bytes(shown)
    if picture.lines is not None:
        write_strokes(folder / STROKES, picture.lines, MAP_LINES.most)
    return files


def make_sheet(  # noqa: PLR0913 - what is made, and where.
    master_path: Path,
    spec: Spec,
    plan: Plan,
    label: str,
    *,
    title: str,
    path_pdf: Path,
    path_png: Path | None = None,
    number: str | None = None,
    recipient: str = "",
) -> None:
    """Write one sheet alone, for a reprint, as PDF and if asked as PNG.

    `number` and `recipient` are those that stand on the pack's other sheets: a version that knows
    more of the spec counts another number. None counts it.

    Raises:
        NotFound: The plan has no sheet of this label.
    """
    piece = plan.piece(label)
    if piece is None:
        raise NotFound(f"This pack has no sheet {label}.", field="label")
    with Master.open(master_path) as master, JpegEncoder(path_pdf.parent) as encoder:
        number = number or pack_number(master.digest, spec, title, recipient)
        text = PackText(title=title, number=number, recipient=recipient)
        picture = apply_style(master, spec, plan, SHEET_THREADS)
        printed = picture.piece(piece, encoder)
        blank = blank_labels(picture, picture.reduced(FAINT_PX), [piece])
    aids = replace(picture.aids, blank=blank)
    write_sheet(path_pdf, spec=spec, plan=plan, text=text, printed=printed, aids=aids)
    if path_png is not None:
        rasterise(path_pdf, 1, SHEET_PPI).save(path_png, compress_level=PNG_LEVEL)


def _write(
    path: Path, task: _PackTask, picture: StyledPicture, text: PackText, threads: int
) -> bytes:
    """Write the PDF; returns the reduced picture as JPEG, made at the same time."""
    spec, plan = task.spec, task.plan
    with ThreadPoolExecutor(_workers(plan, spec, threads)) as pool:
        faint = pool.submit(picture.reduced, FAINT_PX)
        small = pool.submit(picture.reduced, SMALL_PX) if spec.grid else None
        pieces = _Pieces(task, picture, pool)
        shown = pool.submit(_shown, picture, faint)
        try:
            blank = blank_labels(picture, faint.result(), plan.pieces)
            aids = replace(picture.aids, blank=blank)
            write_pack(
                path,
                spec=spec,
                plan=plan,
                text=text,
                faint=faint.result(),
                small=small.result() if small else None,
                printed=pieces,
                aids=aids,
            )
            if not plan.map_pages:
                alone = path.with_name(_MAP_ALONE)
                write_map(alone, spec=spec, plan=plan, text=text, faint=faint.result(), aids=aids)
        finally:
            pieces.give_up()
        return shown.result()


def _shown(picture: StyledPicture, faint: Future[Image.Image | None]) -> bytes:
    """The whole picture for a screen; `faint` was begun before, so waiting for it ends."""
    lines = picture.lines
    strokes = lines.of_longest(MAP_LINES.most) if lines is not None else None
    data = io.BytesIO()
    small = reduced_preview(faint.result(), strokes, picture.spec, picture.plan, FAINT_PX)
    small.save(data, "JPEG", quality=SHOWN_QUALITY)
    return data.getvalue()


def _workers(plan: Plan, spec: Spec, threads: int) -> int:
    """As many threads as memory allows; large pieces in colour are made one at a time."""
    printed_ppi = plan.resolution.printed_ppi
    largest = max(
        pixels(piece.picture_rect_mm.width, printed_ppi)
        * pixels(piece.picture_rect_mm.height, printed_ppi)
        for piece in plan.pieces
    )
    bytes_each = largest * (1 if spec.tone.colour_mode == "grey" else 4)
    return max(1, min(threads, int(PIECES_BYTES / max(bytes_each, 1.0))))


class _Pieces:
    """Pieces in page order, each made while those before it are written.

    The first ones are begun at once, while map and guide are still being drawn.
    """

    def __init__(self, task: _PackTask, picture: StyledPicture, pool: ThreadPoolExecutor) -> None:
        self._task = task
        self._picture = picture
        self._pool = pool
        self._left = iter(sorted(task.plan.pieces, key=lambda piece: piece.page))
        self._begun = deque(self._begin(AHEAD))

    def __iter__(self) -> Iterator[PrintedPiece]:
        done = 0
        while self._begun:
            yield self._begun.popleft().result()
            done += 1
            self._task.report(done, "sheets")
            self._begun.extend(self._begin(1))

    def give_up(self) -> None:
        """Begin no more."""
        for future in self._begun:
            future.cancel()

    def _begin(self, count: int) -> list[Future[PrintedPiece]]:
        make, encoder = self._picture.piece, self._task.encoder
        return [self._pool.submit(make, piece, encoder) for piece in islice(self._left, count)]
