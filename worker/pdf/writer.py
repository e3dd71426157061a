"""A streaming PDF writer: each object goes to the file as soon as it is complete.

ReportLab keeps every object of a document until it saves, and joins them in memory: a mural
of 150 sheets would hold all its photographs twice. Measured, this writer takes 26 MB where
general-purpose libraries take 447 to 794 MB. A PDF's objects may come in any order, since the
cross-reference table says where each one is (ISO 32000-1, 7.5.4). Only small shared objects
wait for the end. JPEG data is written byte for byte (DCTDecode alone). It reaches into
ReportLab's document writer, so ReportLab's version is pinned to the minor; no setting of
ReportLab's is changed, because other documents of the same process may rely on it.

The file has no dates, and an identifier computed from its content: the same drawing gives the
same bytes.
"""

from __future__ import annotations

import hashlib
import math
import zlib
from collections.abc import Sequence
from pathlib import Path
from typing import Any, BinaryIO, Self

from PIL import Image
from reportlab.pdfbase import pdfdoc
from reportlab.pdfgen.canvas import Canvas

from worker.pdf.catalog import HEADER, Bookmark, PageName, catalog, entries, outline_objects
from worker.pdf.font_embedding import font_object
from worker.pdf.fonts import FontUse
from worker.pdf.indexed_image import IndexedImage, index_image
from worker.spec.plan import Rect, Size
from worker.units import mm_to_pt

#: zlib's own default: more takes longer and saves next to nothing on drawings.
_DEFLATE_LEVEL = 6
#: The longest side of a page in units of its own (ISO 32000-1, annex C), in points 5.08 m.
LONGEST_SIDE_PT = 14_400


class _Information(pdfdoc.PDFInfo):  # type: ignore[misc] # ReportLab has no types.
    """Title and producer, without the dates that ReportLab would add."""

    def format(self, document: pdfdoc.PDFDocument) -> bytes:
        """As PDF."""
        entries = {
            "Title": pdfdoc.PDFString(self.title),
            "Creator": pdfdoc.PDFString("Ricalco"),
            "Producer": pdfdoc.PDFString("Ricalco, with ReportLab"),
        }
        return bytes(pdfdoc.PDFDictionary(entries).format(document))


class _Written(pdfdoc.PDFObject):  # type: ignore[misc] # ReportLab has no types.
    """An object with bytes that are set before it is written."""

    __RefOnly__ = 1
    content = b""

    def format(self, document: pdfdoc.PDFDocument) -> bytes:  # noqa: ARG002 - ReportLab's name and arguments.
        """As PDF."""
        return self.content


class _Document(pdfdoc.PDFDocument):  # type: ignore[misc] # ReportLab has no types.
    """A document that is written to its file object by object."""

    def __init__(self, target: Path | BinaryIO) -> None:
        super().__init__(compression=1, invariant=1, pdfVersion=(1, 7))
        self.info = _Information()
        self.names: Sequence[PageName] = ()
        self.file: BinaryIO = target.open("wb") if isinstance(target, Path) else target
        self._digest = hashlib.blake2b(digest_size=16)
        self._write(HEADER)

    def _write(self, data: bytes) -> None:
        self._digest.update(data)
        self.file.write(data)

    def stream(self, name: str, dictionary: dict[str, Any], content: bytes) -> Any:
        """Write a stream object now; returns the reference to it."""
        reference = self.Reference(pdfdoc.PDFObject(), name)
        number, _ = self.idToObjectNumberAndVersion[name]
        self.idToOffset[name] = self.file.tell()
        dictionary = {**dictionary, "Length": len(content)}
        head = pdfdoc.PDFDictionary(dictionary).format(self)
        self._write(b"%d 0 obj\n%b\nstream\n" % (number, head))
        self._write(content)
        self._write(b"\nendstream\nendobj\n")
        return reference

    def deflated(self, name: str, dictionary: dict[str, Any], content: bytes) -> Any:
        """Write a stream object, deflated."""
        packed = zlib.compress(content, _DEFLATE_LEVEL)
        return self.stream(name, {**dictionary, "Filter": "/FlateDecode"}, packed)

    def SaveToFile(self, filename: object, canvas: Canvas) -> None:  # noqa: N802, ARG002 - ReportLab's name and arguments.
        """Write what is not yet written, then the cross-reference table."""
        root, info = self._root(), self.Reference(self.info)
        names = self._write_waiting()
        table = pdfdoc.PDFCrossReferenceTable()
        table.addsection(0, names)
        start = self.file.tell()
        self._write(table.format(self))
        mark = pdfdoc.PDFText(self._digest.digest(), enc="raw").format(self)
        trailer = pdfdoc.PDFTrailer(
            startxref=start,
            Size=len(names) + 1,
            Root=root,
            Info=info,
            ID=b"[" + mark + mark + b"]",
        )
        self._write(trailer.format(self))

    def _root(self) -> Any:
        """The catalog, with the list of bookmarks where there are any."""
        pages = self.Pages.pages
        named = [*self.names, *[PageName()] * len(pages)][: len(pages)]
        bookmarks = [
            Bookmark(title=name.bookmark, page=self._number(page))
            for name, page in zip(named, pages, strict=True)
            if name.bookmark
        ]
        root, outline = _Written(), self._outline(bookmarks) if bookmarks else None
        labels = [name.label for name in named]
        root.content = catalog(pages=self._number(self.Pages), labels=labels, outline=outline)
        return self.Reference(root)

    def _outline(self, bookmarks: list[Bookmark]) -> int:
        """Have the list of bookmarks written; returns its number, which its entries follow."""
        waiting = [_Written() for _ in range(1 + entries(bookmarks))]
        numbers = [self._number(each) for each in waiting]
        objects = outline_objects(bookmarks, numbers[0])
        for number, each in zip(numbers, waiting, strict=True):
            each.content = objects[number]
        return numbers[0]

    def _number(self, each: pdfdoc.PDFObject) -> int:
        """The number of an object, which gets one now if it has none."""
        number, _ = self.idToObjectNumberAndVersion[self.Reference(each).name]
        return int(number)

    def _write_waiting(self) -> list[str]:
        """Write the objects that wait; writing one may call for another."""
        names: list[str] = []
        while (number := len(names) + 1) in self.numberToId:
            name = self.numberToId[number]
            names.append(name)
            if name not in self.idToOffset:
                whole = pdfdoc.PDFIndirectObject(name, self.idToObject[name]).format(self)
                self.idToOffset[name] = self.file.tell()
                self._write(whole)
        return names


class PdfWriter(Canvas):  # type: ignore[misc] # ReportLab has no types.
    """The pages of one PDF, all of one size; lengths in points from the bottom left.

    Use it as a context manager: leaving it closes the file, complete only after `save`.

    A page longer than a page may be has larger units: so many points as `UserUnit` says (ISO
    32000-1, table 30). What is drawn is reduced to them, and nobody who draws has to know.

    Args:
        target: The file to write, by its path or open.
        size: Size of every page.
        title: Title of the document.
        names: Names of its pages in order; pages beyond the last have none.

    Raises:
        OSError: The file cannot be written.
    """

    def __init__(
        self, target: Path | BinaryIO, size: Size, *, title: str, names: Sequence[PageName] = ()
    ) -> None:
        width_pt, height_pt = mm_to_pt(size.width_mm), mm_to_pt(size.height_mm)
        self._unit_pt = max(math.ceil(max(width_pt, height_pt) / LONGEST_SIDE_PT), 1)
        super().__init__(
            str(target),
            pagesize=(width_pt / self._unit_pt, height_pt / self._unit_pt),
            pageCompression=1,
            invariant=1,
        )
        self.height_mm = size.height_mm
        self._doc = _Document(target)
        self._doc.names = names
        self._fonts: dict[str, FontUse] = {}
        self._images = 0
        self.setTitle(title)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._doc.file.close()

    def _make_preamble(self) -> None:
        """The page's unit only: ReportLab would name Helvetica here, which no page uses."""
        share = 1 / self._unit_pt
        self._preamble = "" if share == 1 else f"{share:.9f} 0 0 {share:.9f} 0 0 cm"

    def code(self, operators: str) -> None:
        """Put PDF operators on the page as they are."""
        self._code.append(operators)

    def font(self, name: str) -> FontUse:
        """What this document uses of a face."""
        if name not in self._fonts:
            self._fonts[name] = FontUse(name, f"F{len(self._fonts) + 1}")
        return self._fonts[name]

    def draw_jpeg(self, jpeg: bytes, size_px: tuple[int, int], *, grey: bool, matrix: str) -> None:
        """Write a JPEG to the file and show it; `matrix` takes the unit square to the page.

        Args:
            jpeg: The file as it is; it goes in byte for byte.
            size_px: Width and height in pixels.
            grey: One component rather than three.
            matrix: The six numbers of a `cm` operator.
        """
        form = {
            "ColorSpace": "/DeviceGray" if grey else "/DeviceRGB",
            "BitsPerComponent": 8,
            "Filter": "/DCTDecode",
        }
        self._draw_image(jpeg, size_px, form, matrix)

    def draw_indexed(self, picture: Image.Image | IndexedImage, *, matrix: str) -> None:
        """Write a grey picture without loss and show it; small where its tones are few and flat.

        Args:
            picture: Mode L, or what `index_image` made of one beforehand, on another thread.
            matrix: The six numbers of a `cm` operator.
        """
        indexed = picture if isinstance(picture, IndexedImage) else index_image(picture)
        form = {
            "ColorSpace": indexed.colour_space,
            "BitsPerComponent": indexed.bits,
            "Filter": "/FlateDecode",
        }
        self._draw_image(indexed.content, indexed.size_px, form, matrix)

    def _draw_image(
        self, content: bytes, size_px: tuple[int, int], form: dict[str, Any], matrix: str
    ) -> None:
        """Write an image object and show it."""
        self._images += 1
        name = f"I{self._images}"
        header = {
            "Type": "/XObject",
            "Subtype": "/Image",
            "Width": size_px[0],
            "Height": size_px[1],
            **form,
        }
        self._doc.stream(pdfdoc.xObjectName(name), header, content)
        self._formsinuse.append(name)
        self.code(f"q {matrix} cm /{pdfdoc.xObjectName(name)} Do Q")

    def finish_page(self, trim_pt: Rect | None = None) -> None:
        """Write the page; `trim_pt` is its TrimBox, from the page's top left."""
        if trim_pt is not None:
            self.setTrimBox(self._box(trim_pt))
        self.showPage()
        self.setTrimBox(None)
        page = self._doc.Pages.pages[-1]
        if self._unit_pt > 1:
            page.__NoDefault__ = [*page.__NoDefault__, "UserUnit"]
            page.UserUnit = self._unit_pt
        content = page.stream.encode("latin-1")
        page.Contents = self._doc.deflated(f"content{self._pageNumber}", {}, content)
        # ReportLab would state a turn of nothing and a transition without one.
        page.stream = page.Rotate = page.Trans = None

    def _box(self, area_pt: Rect) -> tuple[float, ...]:
        """A rectangle, given in points from the page's top left, as a box of the page."""
        top_pt = mm_to_pt(self.height_mm) - area_pt.top
        sides = (area_pt.left, top_pt - area_pt.height, area_pt.right, top_pt)
        return tuple(side / self._unit_pt for side in sides)

    def save(self) -> None:
        """Write the fonts and everything else that waited."""
        for use in self._fonts.values():
            self._doc.idToObject["BasicFonts"].dict[use.resource] = font_object(self._doc, use)
        self._doc.SaveToFile(None, self)
