"""Apply a tone style: find what it needs once for the whole picture, then make pieces with it.

A photograph in grey or colour needs nothing beforehand. Lines to trace and flat tones are found
for the whole picture and not for each sheet; otherwise they would not meet across seams.
"""

from __future__ import annotations

from dataclasses import dataclass

from PIL import Image

from worker.pages.pack_content import Aids, Tones
from worker.pages.sheet.page import PrintedPiece
from worker.pdf.indexed_image import index_image
from worker.pdf.stroke_paths import LineWork
from worker.picture.enlarge import enlarge_piece, faint_picture, piece_size, reduced_size
from worker.picture.found_style import StyleFinder, find_style
from worker.picture.tones import Posterised, reduced_values, values_piece
from worker.reference.jpeg_encoder import JpegEncoder
from worker.reference.master import Box, Master
from worker.spec.plan import Piece, Plan
from worker.spec.spec import Spec

#: JPEG quality of what is printed: its losses are below what paper shows.
PRINT_QUALITY = 90


@dataclass(frozen=True, kw_only=True)
class StyledPicture:
    """A reference with a spec's tone style applied.

    Attributes:
        master, spec, plan: What is printed, and how.
        lines: Lines to trace, if the style has any.
        posterised: The picture in flat tones, if the style has any.
    """

    master: Master
    spec: Spec
    plan: Plan
    lines: LineWork | None
    posterised: Posterised | None

    @property
    def aids(self) -> Aids:
        """What pages draw beside or instead of a photograph."""
        if self.posterised is None:
            return Aids(lines=self.lines)
        return Aids(tones=Tones(greys=self.posterised.tones, shares=self.posterised.shares))

    def reduced(self, longer_px: int) -> Image.Image | None:
        """The whole picture, reduced, with its printed tones; None where only lines are drawn."""
        if self.spec.tone.style == "outline":
            return None
        if self.posterised is None:
            return faint_picture(self.master, self.spec, self.plan, longer_px)
        size = reduced_size(self.plan.picture, longer_px, longer_px)
        return reduced_values(self.posterised, self.plan, size)

    def piece(self, piece: Piece, encoder: JpegEncoder) -> PrintedPiece:
        """One piece, ready to be drawn on its page; may be called from several threads."""
        picture = self.pixels(piece)
        if picture is None:
            return PrintedPiece(piece)
        if self.posterised is not None:
            return PrintedPiece(piece, indexed=index_image(picture))
        return PrintedPiece(
            piece=piece,
            jpeg=encoder.jpeg(picture, PRINT_QUALITY),
            width_px=picture.width,
            height_px=picture.height,
            grey=picture.mode == "L",
        )

    def pixels(self, piece: Piece, box: Box | None = None) -> Image.Image | None:
        """The printed pixels of a piece, or a box of them; None where only lines are drawn."""
        if self.spec.tone.style == "outline":
            return None
        if self.posterised is not None:
            return values_piece(self.posterised, self.spec, self.plan, piece, box=box)
        return enlarge_piece(self.master, self.spec, self.plan, piece, box=box)

    def size_px(self, piece: Piece) -> tuple[int, int]:
        """Columns and rows of a piece's printed pixels, where it has any."""
        flat, sampled = self.spec.print.resolution_ppi, self.plan.resolution.printed_ppi
        return piece_size(piece.picture_rect_mm, sampled if self.posterised is None else flat)


def apply_style(
    master: Master, spec: Spec, plan: Plan, threads: int, *, find: StyleFinder = find_style
) -> StyledPicture:
    """Find what the spec's tone style needs of a reference.

    Args:
        master: The reference.
        spec: The spec.
        plan: Its plan.
        threads: How many tiles or strips are processed at once.
        find: Finds lines or flat tones, or has them already.
    """
    found = find(master, spec, plan, threads)
    lines = None
    if found.strokes is not None:
        lines = LineWork(strokes=found.strokes, line_mm=spec.tone.outline.line_mm)
    return StyledPicture(
        master=master, spec=spec, plan=plan, lines=lines, posterised=found.posterised
    )
