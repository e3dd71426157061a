"""A class's packs as one print job for each sheet format, in roster order.

The tutor loads one paper, prints one file, and parts the stack at the separators. Separators
and covers are drawn first, into a folder, so that the run has a length and can be taken up
again; it is bound while it is sent, and each pack is copied from its file byte for byte
(`worker.pdf.binding` has the measurements). Of a student who is deleted meanwhile nothing more
is sent: the run breaks off before their separator, since what has a length cannot leave them
out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import BinaryIO

from PIL import Image

from worker.errors import NotFound
from worker.make.style import apply_style
from worker.pages.class_papers.cover import FAINT_PX, write_cover
from worker.pages.class_papers.recipient import Recipient
from worker.pages.class_papers.separator import write_separator
from worker.pages.pack import page_names
from worker.pages.pack_content import Aids, PackContent, PackText
from worker.pages.stroke_file import read_strokes
from worker.pdf.binding import BoundDocument, OpenFile, Part, bind
from worker.pdf.catalog import PageName
from worker.pdf.stroke_paths import LineWork
from worker.picture.enlarge import faint_picture
from worker.reference.master import Master
from worker.spec.plan import Plan
from worker.spec.spec import Spec

#: A run is sent while other requests are served, so it uses one processor only.
COVER_THREADS = 1


@dataclass(frozen=True, kw_only=True)
class StudentPack:
    """A finished pack that is handed out to one student.

    Attributes:
        recipient: The student, and their place in the print run.
        spec, plan: What the pack was made from.
        title, number: What is printed on the pack's sheets.
        pack_pdf, master, strokes: Context managers that lend a file while it is read. The
            strokes file exists only where the pack's style draws lines.
    """

    recipient: Recipient
    spec: Spec
    plan: Plan
    title: str
    number: str
    pack_pdf: OpenFile
    master: OpenFile
    strokes: OpenFile

    @property
    def content(self) -> PackContent:
        """What cover and separator are drawn from."""
        text = PackText(title=self.title, number=self.number)
        return PackContent(spec=self.spec, plan=self.plan, text=text)


def print_run(
    student_packs: Iterable[StudentPack], *, title: str, folder: Path, covers: bool = False
) -> BoundDocument:
    """One PDF: for each student a separator, a cover if asked, the pack.

    Args:
        student_packs: Packs of one sheet format, in roster order; taken one by one.
        title: Title of the whole document.
        folder: Exists as long as the run is read; separators and covers are written in it.
        covers: Whether each student's pack begins with a cover.

    Raises:
        ValueError: A pack's file is no PDF of our own writer.
        OSError: A file cannot be read, or the folder cannot be written.
    """
    return bind(_parts(student_packs, folder, covers=covers), title=title)


@contextmanager
def open_student_pack(
    student_pack: StudentPack, *, cover: Path | None
) -> Iterator[BinaryIO | None]:
    """The pack's PDF, open, with its cover written; None where it has just been deleted.

    Args:
        student_pack: The pack to open.
        cover: Where to write the cover; None if there is to be none.
    """
    with ExitStack() as files:
        try:
            path = files.enter_context(student_pack.pack_pdf())
            pdf = files.enter_context(path.open("rb"))
            if cover is not None:
                make_cover(student_pack, cover)
        except (NotFound, FileNotFoundError):
            yield None
            return
        yield pdf


def make_cover(student_pack: StudentPack, path: Path) -> None:
    """Write the cover of one pack, which shows the same picture as the pack's map.

    Lines are read from the pack's strokes file, since finding them again takes seconds.

    Args:
        student_pack: The pack.
        path: Where to write.

    Raises:
        NotFound: Its files have just been deleted.
    """
    spec, content = student_pack.spec, student_pack.content
    if spec.tone.lined:
        with student_pack.strokes() as strokes:
            lines = LineWork(strokes=read_strokes(strokes), line_mm=spec.tone.outline.line_mm)
        content = replace(content, aids=Aids(lines=lines))
    faint = _faint(student_pack)
    write_cover(path, pack=content, recipient=student_pack.recipient, faint=faint)


def _faint(student_pack: StudentPack) -> Image.Image | None:
    """The picture below seams and lines, in its printed tones; None where only lines are drawn."""
    spec, plan = student_pack.spec, student_pack.plan
    if spec.tone.style == "outline":
        return None
    with student_pack.master() as master_path, Master.open(master_path) as master:
        if spec.tone.style != "values":
            return faint_picture(master, spec, plan, FAINT_PX)
        return apply_style(master, spec, plan, COVER_THREADS).reduced(FAINT_PX)


def _parts(student_packs: Iterable[StudentPack], folder: Path, *, covers: bool) -> Iterator[Part]:
    for number, each in enumerate(student_packs):
        page, cover = folder / f"{number}.pdf", folder / f"{number}-cover.pdf"
        with open_student_pack(each, cover=cover if covers else None) as pdf:
            if pdf is None:
                continue
            write_separator(page, pack=each.content, recipient=each.recipient)
            name = each.recipient.name
            beside = partial(_beside, each.pack_pdf)
            yield Part(path=partial(beside, page), name=name, pages=[PageName(label=name)])
            if covers:
                words = each.content.words
                label = words("papers.cover-of", name=name)
                shown = PageName(label=label, bookmark=words("papers.cover"))
                yield Part(path=partial(beside, cover), pages=[shown])
            yield Part(path=each.pack_pdf, pages=_page_names(name, each.content))


@contextmanager
def _beside(pack_pdf: OpenFile, path: Path) -> Iterator[Path]:
    """A page of a student's, as long as their pack is there.

    Raises:
        NotFound: The pack was deleted.
    """
    with pack_pdf():
        yield path


def _page_names(name: str, pack: PackContent) -> list[PageName]:
    """A pack's page names with the student's name before each, so that no two are alike."""
    names = page_names(pack.plan, pack.words)
    return [replace(page, label=f"{name}, {page.label}") for page in names]
