"""What is needed to draw by eye, square by square, without any sheets.

That is two pages on paper (the gridded reference and the ticks on the support) and the picture
for a screen, on which a page lays its own grid and shows one square large.
"""

from __future__ import annotations

import io
from pathlib import Path

from PIL import ImageChops

from worker.make.number import pack_number
from worker.make.pack import SMALL_PX
from worker.make.style import apply_style
from worker.pages.pack import PackText, write_grid
from worker.pages.pack_content import PackContent
from worker.picture.enlarge import reduced_size
from worker.picture.preview import draw_lines
from worker.reference.master import Master
from worker.spec.plan import Plan
from worker.spec.spec import Spec

#: The longer side of the picture for a screen: a square of an eighth of it then fills a phone.
SCREEN_PX = 3200
_QUALITY = 85


def make_grid_pages(  # noqa: PLR0913 - what is made, and where.
    master_path: Path, spec: Spec, plan: Plan, *, title: str, path: Path, threads: int = 2
) -> None:
    """Write the two pages as PDF.

    Args:
        master_path: The reference's master.
        spec: With a grid.
        plan: Its plan; of its sheets nothing is drawn.
        title: Printed at the head of both pages.
        path: The file to write.
        threads: How many tiles or strips are processed at once.
    """
    with Master.open(master_path) as master:
        picture = apply_style(master, spec, plan, threads)
        text = PackText(title=title, number=pack_number(master.digest, spec, title))
        pack = PackContent(spec=spec, plan=plan, text=text, aids=picture.aids, grid_alone=True)
        write_grid(path, pack, picture.reduced(SMALL_PX))


def grid_picture(master_path: Path, spec: Spec, plan: Plan, *, threads: int = 2) -> bytes:
    """The picture as it would be printed, without the grid, large enough for one square alone.

    No pixels are made up: a reference that has fewer gives a smaller picture.

    Returns:
        A JPEG file.
    """
    with Master.open(master_path) as master:
        styled = apply_style(master, spec, plan, threads)
        held_px = max(plan.crop.width * master.width_px, plan.crop.height * master.height_px)
        longer_px = SCREEN_PX if spec.tone.lined else min(SCREEN_PX, max(1, round(held_px)))
        shown = styled.reduced(longer_px)
        if styled.lines is not None:
            size = shown.size if shown else reduced_size(plan.picture, longer_px, longer_px)
            lines = draw_lines(
                styled.lines.strokes, styled.lines.line_mm, plan.picture.width_mm, size
            )
            shown = ImageChops.darker(shown, lines) if shown else lines
    data = io.BytesIO()
    # Without lines there is always a picture.
    if shown is not None:
        shown.save(data, "JPEG", quality=_QUALITY)
    return data.getvalue()
