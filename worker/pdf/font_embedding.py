"""A face as PDF objects: only the glyphs that a document uses, with two-byte codes.

A composite font (ISO 32000-1, 9.7) can have any number of glyphs, so that Chinese titles are
embedded like Latin ones; its ToUnicode map keeps the text searchable.
"""

from __future__ import annotations

from typing import Any, Protocol

from reportlab.pdfbase import pdfdoc

from worker.pdf.fonts import FontUse, face

#: Bit 3, symbolic: the glyphs are found by code alone (ISO 32000-1, table 123).
_SYMBOLIC = 4
#: A CMap section may hold this many lines (Adobe technical note 5014).
_LINES_PER_SECTION = 100

_CMAP_HEAD = """/CIDInit /ProcSet findresource begin
12 dict begin
begincmap
/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def
/CMapName /Adobe-Identity-UCS def
/CMapType 2 def
1 begincodespacerange
<0000> <FFFF>
endcodespacerange
"""
_CMAP_FOOT = """endcmap
CMapName currentdict /CMap defineresource pop
end
end
"""


class Streams(Protocol):
    """A document that writes streams at once."""

    def deflated(self, name: str, dictionary: dict[str, Any], content: bytes) -> Any:
        """Write a stream, deflated; returns the reference to it."""

    def Reference(self, obj: Any, name: str | None = None) -> Any:  # noqa: N802 - ReportLab's name.
        """Register an object; returns the reference to it."""


def font_object(document: Streams, use: FontUse) -> Any:
    """The Type 0 font dictionary of a face, its parts put into the document."""
    font_file, glyphs = use.subset()
    to_glyph = b"".join(glyph.to_bytes(2, "big") for glyph in glyphs)
    name = use.resource
    descendant = {
        "Type": "/Font",
        "Subtype": "/CIDFontType2",
        "BaseFont": f"/{use.base_name()}",
        "CIDSystemInfo": pdfdoc.PDFDictionary(
            {
                "Registry": pdfdoc.PDFString("Adobe"),
                "Ordering": pdfdoc.PDFString("Identity"),
                "Supplement": 0,
            }
        ),
        "W": pdfdoc.PDFArray([0, pdfdoc.PDFArray(use.widths())]),
        "CIDToGIDMap": document.deflated(f"{name}.glyphs", {}, to_glyph),
        "FontDescriptor": _descriptor(document, use, font_file),
    }
    whole = {
        "Type": "/Font",
        "Subtype": "/Type0",
        "BaseFont": f"/{use.base_name()}",
        "Encoding": "/Identity-H",
        "DescendantFonts": pdfdoc.PDFArray(
            [document.Reference(pdfdoc.PDFDictionary(descendant), f"{name}.descendant")]
        ),
        "ToUnicode": document.deflated(f"{name}.unicode", {}, _to_unicode(use)),
    }
    return document.Reference(pdfdoc.PDFDictionary(whole), f"{name}.font")


def _descriptor(document: Streams, use: FontUse, font_file: bytes) -> Any:
    known = face(use.name)
    extents = known.font.get_font_extents("ltr")
    scale = 1000 / known.upem
    ascent, descent = round(extents.ascender * scale), round(extents.descender * scale)
    entries = {
        "Type": "/FontDescriptor",
        "FontName": f"/{use.base_name()}",
        "Flags": _SYMBOLIC,
        "FontBBox": pdfdoc.PDFArray([-500, descent, 1500, ascent]),
        "ItalicAngle": 0,
        "Ascent": ascent,
        "Descent": descent,
        "CapHeight": 714,
        "StemV": 80,
        "FontFile2": document.deflated(
            f"{use.resource}.file", {"Length1": len(font_file)}, font_file
        ),
    }
    return document.Reference(pdfdoc.PDFDictionary(entries), f"{use.resource}.descriptor")


def _to_unicode(use: FontUse) -> bytes:
    """A CMap from code to the text it stands for (ISO 32000-1, 9.10.3)."""
    lines = [
        f"<{cid:04X}> <{meaning.encode('utf-16-be').hex().upper()}>"
        for cid, meaning in sorted(use.meanings.items())
    ]
    sections = []
    for start in range(0, len(lines), _LINES_PER_SECTION):
        part = lines[start : start + _LINES_PER_SECTION]
        sections.append("\n".join([f"{len(part)} beginbfchar", *part, "endbfchar", ""]))
    return (_CMAP_HEAD + "".join(sections) + _CMAP_FOOT).encode()
