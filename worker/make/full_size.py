"""Make the whole picture on one page, for the plotter of a copy shop: for the service, on demand.

Lines and tones are found as for the pack, for the whole picture; pixels are made in parts,
a few ahead of the page, so that memory does not grow with the picture.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from worker.make.ahead import MadeAhead
from worker.make.number import pack_number
from worker.make.style import apply_style
from worker.pages.full_size import on_one_page, parts, uncorrected
from worker.pages.pack import PackText, write_full_size
from worker.reference.jpeg_encoder import JpegEncoder
from worker.reference.master import Master
from worker.spec.plan import Plan
from worker.spec.spec import Spec


def make_full_size(  # noqa: PLR0913 - what is made, and where.
    master_path: Path,
    spec: Spec,
    plan: Plan,
    *,
    title: str,
    path_pdf: Path,
    number: str | None = None,
    threads: int = 2,
) -> None:
    """Write the whole picture on one page at its exact size, with a border to cut off.

    Args:
        master_path: The reference's master.
        spec: The pack's spec; its printer's correction is left out.
        plan: The pack's plan.
        title: The pack's title.
        path_pdf: The file to write.
        number: The pack's number; None counts it.
        threads: How many parts are made at once.

    Raises:
        OSError: The file cannot be written.
    """
    corrected = (spec.print.across_correction, spec.print.down_correction) != (1.0, 1.0)
    true_size, page = uncorrected(spec), on_one_page(plan)
    with (
        Master.open(master_path) as master,
        JpegEncoder(path_pdf.parent) as encoder,
        ThreadPoolExecutor(threads) as pool,
    ):
        text = PackText(title=title, number=number or pack_number(master.digest, spec, title))
        picture = apply_style(master, true_size, page, threads)
        drawn = spec.tone.style == "outline"
        pixels = MadeAhead(
            pool, lambda part: picture.piece(part, encoder), () if drawn else parts(page)
        )
        try:
            write_full_size(
                path_pdf,
                spec=true_size,
                plan=page,
                text=text,
                printed=pixels,
                aids=picture.aids,
                corrected=corrected,
            )
        finally:
            pixels.give_up()
