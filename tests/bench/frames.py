"""Heads that the default crop cuts, at the photo's centre and as it is moved for them.

`python -m tests.bench frames FOLDER` takes in every photo of a folder and frames it for four
papers, so upright photos are also drawn on papers that lie, and the other way round.
"""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path

from worker.errors import RicalcoError
from worker.layout.crop.crop import resolve_crop
from worker.layout.crop.limits import CropLimits
from worker.reference.decode import Limits
from worker.reference.intake import take_in
from worker.spec.reading import Face
from worker.spec.spec import Spec, Support
from worker.spec.study import ReferenceStudy

PAPERS_CM = ((60, 40), (40, 60), (50, 50), (30, 40))
ENDINGS = {".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".avif", ".heic"}


@dataclass(frozen=True, kw_only=True)
class Row:
    """One photo on one paper.

    Attributes:
        heads: How many heads are found.
        cut_before: How many of them the crop at the centre cuts or leaves out.
        cut_after: The same, moved.
        no_room: How many have no room in a crop of these proportions, wherever it lies.
    """

    photo: str
    paper: str
    heads: int
    cut_before: int
    cut_after: int
    no_room: int


def rows(folder: Path) -> list[Row]:
    """Every photo in which a face is found, on every paper."""
    found = []
    for path in sorted(folder.iterdir()):
        study = _study(path) if path.suffix.lower() in ENDINGS else None
        if study is not None and study.reading.faces:
            found += [_row(path.stem, study, *paper) for paper in PAPERS_CM]
    return found


def _study(path: Path) -> ReferenceStudy | None:
    with tempfile.TemporaryDirectory() as folder, path.open("rb") as file:
        try:
            return take_in(file, Path(folder), Limits()).study
        except RicalcoError as error:
            print(f"{path.name}: {error.detail}")
            return None


def _row(photo: str, study: ReferenceStudy, width_cm: int, height_cm: int) -> Row:
    spec = Spec(support=Support(width_mm=10.0 * width_cm, height_mm=10.0 * height_cm))
    size, faces = (study.width_px, study.height_px), study.reading.faces
    limits = CropLimits(*size, spec.rotate_deg)

    def cut(framed_for: tuple[Face, ...], counted: tuple[Face, ...]) -> int:
        crop = resolve_crop(spec, *size, framed_for)
        return sum(not limits.holds(crop, face.head) for face in counted)

    return Row(
        photo=photo,
        paper=f"{width_cm} × {height_cm} cm",
        heads=len(faces),
        cut_before=cut((), faces),
        cut_after=cut(faces, faces),
        no_room=sum(cut((face,), (face,)) for face in faces),
    )


def report(folder: Path) -> None:
    """Print every photo with a head that is cut, and the sums for each paper."""
    found = rows(folder)
    print(f"{'photo':24} {'paper':12} heads  cut at centre  cut when moved  without room")
    for row in found:
        if row.cut_before or row.cut_after:
            print(_line(row.photo, [row]))
    print(f"\n{len({row.photo for row in found})} photos with faces")
    for width_cm, height_cm in PAPERS_CM:
        print(_line("all", [row for row in found if row.paper == f"{width_cm} × {height_cm} cm"]))


def _line(photo: str, some: list[Row]) -> str:
    sums = [
        sum(getattr(row, name) for row in some)
        for name in ("heads", "cut_before", "cut_after", "no_room")
    ]
    paper = some[0].paper if some else ""
    return f"{photo[:24]:24} {paper:12} {sums[0]:5}  {sums[1]:13}  {sums[2]:14}  {sums[3]:12}"
