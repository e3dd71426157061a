"""Font files: which one has a letter, and the subset of it that a document embeds.

A title may be in any script, and the fonts built into PDF have Latin letters only. The wheel
carries a regular, a bold and a display face, and a fallback for each other script
(fonts/README.txt names their sources and licences), so that a title prints on any machine. A
file is opened when a title first needs it, and stays open: opening takes about a millisecond,
shaping a word a few microseconds. HarfBuzz reads, shapes and subsets the files; ReportLab's own
font reader would parse every table of every file in Python and keep fonts in a registry that
all documents share.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from functools import cache, lru_cache
from pathlib import Path

import uharfbuzz as hb

_FOLDER = Path(__file__).parent / "fonts"

TEXT = "NotoSans-Regular"
BOLD = "NotoSans-Bold"
DISPLAY = "NotoSerifDisplay-Regular"

#: Looked through in this order for a letter that the wanted face lacks.
FALLBACKS = (
    TEXT,
    "NotoNaskhArabic-Regular",
    "NotoSansHebrew-Regular",
    "DroidSansFallback",
    "NotoSansKR-Hangul",
    "NotoSansDevanagari-Regular",
    "NotoSansBengali-Regular",
    "NotoSansTamil-Regular",
    "NotoSansTelugu-Regular",
    "NotoSansGujarati-Regular",
    "NotoSansGurmukhi-Regular",
    "NotoSansKannada-Regular",
    "NotoSansMalayalam-Regular",
    "NotoSansOriya-Regular",
    "NotoSansSinhala-Regular",
    "NotoSansThai-Regular",
    "NotoSansLao-Regular",
    "NotoSansKhmer-Regular",
    "NotoSansMyanmar-Regular",
    "NotoSansGeorgian-Regular",
    "NotoSansArmenian-Regular",
    "NotoSansEthiopic-Regular",
    "NotoSansCherokee-Regular",
    "NotoSansCanadianAboriginal-Regular",
    "NotoSansSymbols-Regular",
    "NotoEmoji-Regular",
)

#: Only what ISO 32000-1, 9.9 asks of an embedded TrueType CIDFont is kept.
_TABLES_TO_DROP = ("GSUB", "GPOS", "GDEF", "BASE", "STAT", "name", "OS/2", "post", "cmap", "gasp")


@dataclass(frozen=True, kw_only=True, eq=False)
class Face:
    """One font file, open.

    Attributes:
        name: File name without its ending.
        font: What HarfBuzz shapes with.
        covers: Code points it has glyphs for.
        upem: Font units per em.
    """

    name: str
    font: hb.Font
    covers: frozenset[int]
    upem: int

    def advance(self, glyph: int) -> float:
        """Width of a glyph in thousandths of an em, as a PDF states it."""
        return float(self.font.get_glyph_h_advance(glyph)) * 1000 / self.upem


@cache
def face(name: str) -> Face:
    """The face of this name, opened at first use."""
    opened = hb.Face(hb.Blob.from_file_path(str(_FOLDER / f"{name}.ttf")))
    covers = frozenset(opened.unicodes)
    return Face(name=name, font=hb.Font(opened), covers=covers, upem=opened.upem)


@lru_cache(maxsize=4096)
def face_for(code: int, wanted: str) -> str:
    """The face to print a code point with; the wanted one where nobody has it."""
    if code in face(wanted).covers:
        return wanted
    return next((name for name in FALLBACKS if code in face(name).covers), wanted)


@dataclass(eq=False)
class FontUse:
    """What one document uses of one face.

    Character codes in the document (CIDs) are given out in the order of first use; 0 is
    the box that stands for a missing glyph.

    Attributes:
        name: The face.
        resource: Its name on the pages (`F1`).
        cids: Code by glyph.
        meanings: Text by code, so that it can be searched and copied.
    """

    name: str
    resource: str
    cids: dict[int, int] = field(default_factory=lambda: {0: 0})
    meanings: dict[int, str] = field(default_factory=dict)

    def cid(self, glyph: int, meaning: str) -> int:
        """The code of a glyph in this document."""
        cid = self.cids.setdefault(glyph, len(self.cids))
        if meaning and cid:
            self.meanings.setdefault(cid, meaning)
        return cid

    def widths(self) -> list[float]:
        """Advance by code, in thousandths of an em."""
        known = face(self.name)
        return [round(known.advance(glyph), 2) for glyph in self.cids]

    def base_name(self) -> str:
        """PostScript name with the six-letter tag of a subset (ISO 32000-1, 9.6.4)."""
        digest = hashlib.sha256(repr(sorted(self.cids)).encode()).digest()
        return "".join(chr(65 + byte % 26) for byte in digest[:6]) + "+" + self.name

    def subset(self) -> tuple[bytes, list[int]]:
        """The cut-down font file, and in it the glyph of each code."""
        wanted = hb.SubsetInput()
        wanted.flags |= hb.SubsetFlags.NOTDEF_OUTLINE | hb.SubsetFlags.NO_HINTING
        wanted.flags |= hb.SubsetFlags.NO_LAYOUT_CLOSURE
        for tag in _TABLES_TO_DROP:
            wanted.drop_table_tag_set.add(int.from_bytes(tag.encode(), "big"))
        for glyph in self.cids:
            wanted.glyph_set.add(glyph)
        cut = hb.SubsetPlan(face(self.name).font.face, wanted)
        new_glyphs = cut.old_to_new_glyph_mapping
        return bytes(cut.execute().blob.data), [new_glyphs[glyph] for glyph in self.cids]
