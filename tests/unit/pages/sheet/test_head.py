"""What the head strip keeps where it is narrow."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from worker.pages.pack_content import Aids, PackContent, SheetPage
from worker.pages.sheet.head import draw_head
from worker.pdf.canvas import PdfCanvas, Point
from worker.pdf.palette import TextStyle
from worker.pdf.writer import PdfWriter
from worker.spec.spec import Print, Sheet, Spec, Support


class Noting(PdfCanvas):
    """Notes what is written."""

    def text(self, at: Point, text: str, style: TextStyle, **how: Any) -> float:
        self.noted.append(text)
        return super().text(at, text, style, **how)

    noted: list[str]


@pytest.mark.parametrize(("blank", "stands"), [(False, ", for Laser upstairs"), (True, "")])
def test_the_packs_number_is_never_cut_for_the_printers_name(
    pack: Callable[[Spec], PackContent], tmp_path: Path, *, blank: bool, stands: str
) -> None:
    content = pack(
        Spec(
            support=Support(width_mm=400, height_mm=300),
            sheet=Sheet(format="iso_a5_148x210mm"),
            print=Print(across_correction=1.0123, printer="Laser upstairs"),
        )
    )
    piece = content.plan.pieces[0]
    content = replace(content, aids=Aids(blank=frozenset({piece.label} if blank else ())))
    with PdfWriter(tmp_path / "page.pdf", content.plan.sheet, title="Head") as pdf:
        canvas = Noting(pdf)
        canvas.noted = []
        draw_head(canvas, SheetPage(pack=content, piece=piece), tells_marks=False)
    assert f"pack {content.text.number}{stands}" in canvas.noted
