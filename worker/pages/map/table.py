"""Tables on the map: columns begin at shares of the width, and give way to longer texts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from worker.pages.pack_content import PackContent
from worker.pdf.canvas import PdfCanvas
from worker.pdf.palette import body, strong
from worker.spec.plan import Rect

ROW_MM = 4.1
_GAP_MM = 1.6


@dataclass(frozen=True)
class Row:
    """One line of a table: what it is about, and what it says, in columns.

    `across`: It says one thing over all columns.
    """

    name: str
    says: tuple[str, ...]
    across: bool = False


@dataclass(frozen=True, kw_only=True)
class Table:
    """Rows under small headings.

    Attributes:
        pack: What its page is drawn from.
        columns: Each with its heading, and the share of the width at which it begins at the
            earliest.
        rows: What the table says.
    """

    pack: PackContent
    columns: tuple[tuple[str, float], ...]
    rows: Sequence[Row]

    def least_mm(self, canvas: PdfCanvas) -> float:
        """The width that the texts need."""
        return sum(self._needs(canvas)) - _GAP_MM * self.pack.scale

    def draw(self, canvas: PdfCanvas, room: Rect) -> None:
        """The table from the top of a room."""
        k, size_pt = self.pack.scale, self.pack.type_pt(7)
        shares = [share for _, share in self.columns]
        starts = column_starts(shares, self._needs(canvas), room.width)
        for (heading, _), start in zip(self.columns, starts, strict=True):
            canvas.text((room.left + start, room.top), heading, body(size_pt))
        for number, row in enumerate(self.rows):
            y = room.top + (4.6 + ROW_MM * number) * k
            canvas.text((room.left, y), row.name, strong(size_pt))
            # What is said across them all needs no column but the first.
            begin = starts[1:] if not row.across else [canvas.width(row.name, strong(size_pt)) + k]
            ends = (*begin[1 : len(row.says)], room.width)
            for says, start, end in zip(row.says, begin, ends, strict=False):
                fitted = canvas.fit(says, body(size_pt), end - start)
                canvas.text((room.left + start, y), fitted, body(size_pt))

    def _needs(self, canvas: PdfCanvas) -> list[float]:
        """How wide each column's texts are, with the gap after it."""
        size_pt = self.pack.type_pt(7)
        needs = [canvas.width(heading, body(size_pt)) for heading, _ in self.columns]
        for row in self.rows:
            needs[0] = max(needs[0], canvas.width(row.name, strong(size_pt)))
            for number, says in enumerate(() if row.across else row.says, start=1):
                needs[number] = max(needs[number], canvas.width(says, body(size_pt)))
        return [need + _GAP_MM * self.pack.scale for need in needs]


def column_starts(
    shares: Sequence[float], needs_mm: Sequence[float], width_mm: float
) -> list[float]:
    """Where columns begin.

    Args:
        shares: Of the width, at which they begin where their texts leave room.
        needs_mm: The width of each column's texts, with the gap after it.
        width_mm: The whole width.
    """
    starts: list[float] = []
    after = 0.0
    for share, need in zip(shares, needs_mm, strict=True):
        starts.append(max(share * width_mm, after))
        after = starts[-1] + need
    # What would end beyond the width moves back, as far as what is before it leaves room.
    before = width_mm
    for number in reversed(range(len(starts))):
        before -= needs_mm[number]
        starts[number] = max(min(starts[number], before), 0.0)
        before = starts[number]
    return starts
