"""Bind several of our PDFs into one, which is made while it is sent, from any place on.

A class's print run may be hundreds of megabytes. PDFium and qpdf put the whole document
together before they write it: with 200 packs (246 MB) they hold 267 and 323 MB; this module
holds 23 MB. Files of our own writer are simple: complete objects, a plain cross-reference
table, one flat page tree (`worker/pdf/writer.py`). So objects are copied in file order with new
numbers, and streams byte for byte. Only one block and the offsets of objects are held, and no
temporary file is needed. Other PDFs are refused.

The parts are read twice. The first time only the beginnings of objects, which gives the length
of the whole, a digest of it and the cross-reference table; the second time to send it, from
the part in which the wanted place is. So a download that broke off is taken up again.

Every page keeps its boxes and its content. The bound document has the same print settings as
its parts (`worker/pdf/catalog.py`), and one list of bookmarks in place of theirs.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO

from worker.pdf.catalog import HEADER, Bookmark, PageName, catalog, outline_objects, text_string

BLOCK_BYTES = 1 << 18
#: The dictionary of nearly every object ends within so many bytes.
_HEAD_BYTES = 4096
#: Numbers of the objects that the bound document has once.
_CATALOG, _PAGES, _INFO = 1, 2, 3
_FIRST_FREE = 4
_REFERENCE = re.compile(rb"(?<![\d.])(\d+) 0 R(?![A-Za-z\d])")
_STREAM = re.compile(rb">>\s*stream\r?\n")
_TRAILER = re.compile(rb"trailer(.*?)startxref\s+(\d+)\s+%%EOF\s*$", re.DOTALL)
_LINKED = re.compile(rb"/(?:First|Next) (\d+) 0 R")
_TAIL_BYTES = 2048


OpenFile = Callable[[], AbstractContextManager[Path]]


@dataclass(frozen=True, kw_only=True)
class Part:
    """One of our PDFs to be bound in.

    Attributes:
        path: Its path, or what lends it while it is read.
        name: If given, a bookmark to its first page; its own bookmarks are below that one.
        pages: Names of its pages, in order.
    """

    path: Path | OpenFile
    name: str = ""
    pages: Sequence[PageName] = ()


@dataclass(eq=False)
class ObjectTable:
    """The objects of one file.

    Attributes:
        offsets: Offset of each object, by its number.
        end: Where the last object ends.
        root, info, pages: Numbers of the catalog, the information and the page tree.
        kids: Numbers of the pages, in order.
        outline: Numbers of the objects of the list of bookmarks.
        mark: Its trailer, which has a digest of its content.
    """

    offsets: dict[int, int]
    end: int
    root: int
    info: int
    pages: int = 0
    kids: tuple[int, ...] = ()
    outline: frozenset[int] = frozenset()
    mark: bytes = b""

    def spans(self) -> list[tuple[int, int, int]]:
        """Number, start and end of each object, in file order."""
        ordered = sorted(self.offsets.items(), key=lambda item: item[1])
        ends = [start for _, start in ordered[1:]] + [self.end]
        return [(number, start, end) for (number, start), end in zip(ordered, ends, strict=True)]


def bind(parts: Iterable[Part], *, title: str) -> BoundDocument:
    """The parts as one document.

    Args:
        parts: In order; each is opened when those before it have been read, and opened again
            when it is sent.
        title: Title of the bound document.

    Raises:
        ValueError: A part is no PDF of ours.
        OSError: A part cannot be read.
    """
    whole = _Whole(title)
    for part in parts:
        whole.add(part)
    return whole.close()


@dataclass(frozen=True, kw_only=True)
class _Placed:
    """A part, where it begins in the whole, and what is added to its objects' numbers."""

    part: Part
    start: int
    shift: int


@dataclass(frozen=True, kw_only=True)
class BoundDocument:
    """A document that is bound while it is read.

    Attributes:
        length: Its length in bytes.
        digest: Of its content, in hexadecimal: equal digests mean equal bytes.
    """

    length: int
    digest: str
    placed: tuple[_Placed, ...]
    tail: bytes

    def __iter__(self) -> Iterator[bytes]:
        """All of it."""
        return self.blocks()

    def blocks(self, start: int = 0) -> Iterator[bytes]:
        """The document from this byte on, in blocks that are not empty.

        Raises:
            ValueError, OSError: A part has changed, or cannot be read any more.
        """
        ends = [*(one.start for one in self.placed[1:]), self.length - len(self.tail)]
        places = [(0, len(HEADER), iter((HEADER,)))] + [
            (one.start, end, _copied(one.part, one.shift))
            for one, end in zip(self.placed, ends, strict=False)
        ]
        places.append((self.length - len(self.tail), self.length, iter((self.tail,))))
        for at, end, blocks in places:
            if end > start:
                yield from _from(blocks, start - at)


def _from(blocks: Iterator[bytes], left_out: int) -> Iterator[bytes]:
    """The blocks without their first bytes, and without empty ones."""
    for block in blocks:
        if len(block) > max(left_out, 0):
            yield block[max(left_out, 0) :]
        left_out -= len(block)


@dataclass(eq=False)
class _Whole:
    """What is kept of the parts: offsets of objects, pages, names."""

    title: str
    place: int = len(HEADER)
    digest: hashlib._Hash = field(default_factory=hashlib.sha256)
    offsets: dict[int, int] = field(default_factory=dict)
    pages: list[int] = field(default_factory=list)
    labels: list[str] = field(default_factory=list)
    listed: list[Bookmark] = field(default_factory=list)
    placed: list[_Placed] = field(default_factory=list)
    free: int = _FIRST_FREE
    level: list[Bookmark] = field(init=False)

    def __post_init__(self) -> None:
        self.level = self.listed

    def add(self, part: Part) -> None:
        """Note where the objects of a part will be."""
        shift = self.free - 1
        self.placed.append(_Placed(part=part, start=self.place, shift=shift))
        with _opened(part.path) as file:
            table = read_object_table(file)
            self.digest.update(table.mark)
            numbers = _numbers(table, shift)
            for number, start, end in _own_spans(table):
                self.offsets[numbers[number]] = self.place
                head, cut = _renumbered(file, start, end, numbers)
                self.digest.update(head)
                self.place += len(head) + end - start - cut
        self.free += max(table.offsets)
        self._list(part, [numbers[kid] for kid in table.kids])

    def _list(self, part: Part, pages: list[int]) -> None:
        """Remember a part's pages, with what they are called."""
        if part.name:
            self.listed.append(Bookmark(title=part.name, page=pages[0]))
            self.level = self.listed[-1].below
        names = [*part.pages, *[PageName()] * (len(pages) - len(part.pages))]
        for name, page in zip(names, pages, strict=True):
            if name.bookmark:
                self.level.append(Bookmark(title=name.bookmark, page=page))
        self.labels += [name.label for name in names]
        self.pages += pages

    def close(self) -> BoundDocument:
        """The whole, with the bookmarks, the page tree, and the cross-reference table."""
        kids = b" ".join(b"%d 0 R" % page for page in self.pages)
        outline = outline_objects(self.listed, self.free) if self.listed else {}
        root = self.free if outline else None
        self.free += len(outline)
        once = {
            _CATALOG: catalog(pages=_PAGES, labels=self.labels, outline=root),
            _PAGES: b"<< /Type /Pages /Count %d /Kids [%b] >>" % (len(self.pages), kids),
            _INFO: b"<< /Title %b /Creator (Ricalco) /Producer (Ricalco) >>"
            % text_string(self.title),
        }
        objects: list[bytes] = []
        for number, content in {**once, **outline}.items():
            self.offsets[number] = self.place
            objects.append(b"%d 0 obj\n%b\nendobj\n" % (number, content))
            self.place += len(objects[-1])
            self.digest.update(objects[-1])
        tail = b"".join([*objects, self._table()])
        return BoundDocument(
            length=self.place - sum(map(len, objects)) + len(tail),
            digest=self.digest.hexdigest(),
            placed=tuple(self.placed),
            tail=tail,
        )

    def _table(self) -> bytes:
        """Numbers that no object has are free (ISO 32000-1, 7.5.4)."""
        lines = [
            b"%010d 00000 n \n" % self.offsets[number]
            if number in self.offsets
            else b"0000000000 65535 f \n"
            for number in range(self.free)
        ]
        mark = self.digest.hexdigest()[:32].encode()
        return (
            b"xref\n0 %d\n%btrailer\n<< /Size %d /Root %d 0 R /Info %d 0 R /ID [<%b> <%b>] >>\n"
            % (
                self.free,
                b"".join(lines),
                self.free,
                _CATALOG,
                _INFO,
                mark,
                mark,
            )
            + b"startxref\n%d\n%%%%EOF\n" % self.place
        )


def _copied(part: Part, shift: int) -> Iterator[bytes]:
    """All objects of a part except those that the bound document has only once."""
    with _opened(part.path) as file:
        table = read_object_table(file)
        numbers = _numbers(table, shift)
        for _, start, end in _own_spans(table):
            head, cut = _renumbered(file, start, end, numbers)
            yield head
            yield from _blocks(file, start + cut, end)


def _numbers(table: ObjectTable, shift: int) -> dict[int, int]:
    """The new number of each object of a part."""
    known = {table.root: _CATALOG, table.info: _INFO, table.pages: _PAGES}
    return {number: known.get(number, number + shift) for number in table.offsets}


def _own_spans(table: ObjectTable) -> Iterator[tuple[int, int, int]]:
    """Number, start and end of the objects of a part that are copied."""
    once = {table.root, table.info, table.pages} | table.outline
    return (span for span in table.spans() if span[0] not in once)


@contextmanager
def _opened(place: Path | OpenFile) -> Iterator[BinaryIO]:
    """The file, closed at the end."""
    if isinstance(place, Path):
        with place.open("rb") as file:
            yield file
        return
    with place() as path, path.open("rb") as file:
        yield file


def read_object_table(file: BinaryIO) -> ObjectTable:
    """Find the objects of one of our files.

    Raises:
        ValueError: It is no PDF of ours.
    """
    size = file.seek(0, 2)
    file.seek(max(0, size - _TAIL_BYTES))
    trailer = _TRAILER.search(file.read())
    if trailer is None:
        raise ValueError("This PDF has no plain trailer.")
    end = int(trailer[2])
    table = ObjectTable(
        offsets=_read_table(file, end),
        end=end,
        root=_reference(trailer[1], b"Root"),
        info=_reference(trailer[1], b"Info"),
        mark=trailer[0],
    )
    root = read_object(file, table, table.root)
    table.pages = _reference(root, b"Pages")
    tree = read_object(file, table, table.pages)
    kids = re.search(rb"/Kids \[([^\]]*)\]", tree)
    table.kids = tuple(int(kid) for kid in _REFERENCE.findall(kids[1] if kids else b""))
    if not table.kids:
        raise ValueError("This PDF has no pages.")
    if b"/Outlines" in root:
        table.outline = _read_outline(file, table, _reference(root, b"Outlines"))
    return table


def _read_outline(file: BinaryIO, table: ObjectTable, root: int) -> frozenset[int]:
    """The objects of a list of bookmarks, on all levels."""
    spans = {number: (start, end) for number, start, end in table.spans()}
    found, waiting = set[int](), [root]
    while waiting:
        number = waiting.pop()
        found.add(number)
        start, end = spans[number]
        file.seek(start)
        linked = _LINKED.findall(file.read(end - start))
        waiting += [other for other in map(int, linked) if other not in found]
    return frozenset(found)


def _read_table(file: BinaryIO, start: int) -> dict[int, int]:
    """Offsets of the objects in use: one section from 0, as our own writer leaves it."""
    file.seek(start)
    if file.readline().strip() != b"xref":
        raise ValueError("This PDF has no plain cross-reference table.")
    first, count = map(int, file.readline().split())
    offsets = {}
    for number in range(first, first + count):
        offset, _, kind = file.readline().split()
        if kind == b"n":
            offsets[number] = int(offset)
    return offsets


def read_object(file: BinaryIO, table: ObjectTable, wanted: int) -> bytes:
    """The bytes of one object."""
    start, end = next((start, end) for number, start, end in table.spans() if number == wanted)
    file.seek(start)
    return file.read(end - start)


def _reference(dictionary: bytes, name: bytes) -> int:
    found = re.search(rb"/%b (\d+) 0 R" % name, dictionary)
    if found is None:
        message = f"This PDF has no {name.decode()}."
        raise ValueError(message)
    return int(found[1])


def _renumbered(file: BinaryIO, start: int, end: int, numbers: dict[int, int]) -> tuple[bytes, int]:
    """The beginning of an object, with its references renumbered, and how long it was before.

    It is the whole object, or what is before the content of its stream.
    """
    file.seek(start)
    block = file.read(min(_HEAD_BYTES, end - start))
    stream = _STREAM.search(block)
    if stream is None and len(block) < end - start:
        block += file.read(min(BLOCK_BYTES, end - start) - len(block))
        stream = _STREAM.search(block)
    if stream is None and len(block) < end - start:
        block += file.read(end - start - len(block))
    cut = stream.end() if stream else len(block)
    number, _, rest = block[:cut].partition(b" 0 obj")
    head = _REFERENCE.sub(lambda found: b"%d 0 R" % numbers[int(found[1])], rest)
    return b"%d 0 obj%b" % (numbers[int(number)], head), cut


def _blocks(file: BinaryIO, start: int, end: int) -> Iterator[bytes]:
    """The bytes of a file between two places."""
    file.seek(start)
    left = end - start
    while left > 0:
        block = file.read(min(BLOCK_BYTES, left))
        if not block:
            raise ValueError("This PDF breaks off.")
        left -= len(block)
        yield block
