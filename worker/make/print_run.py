"""A class's packs as one print job for each sheet format, in roster order.

Whoever prints a class set loads one paper and prints one file; whoever deals it out
parts the stack at the separators. The run is bound while it is sent: a separator is drawn
when its turn comes, a pack is copied from its file as it is, and nothing is kept. A student
who is deleted meanwhile is left out whole: nothing of theirs is sent before all of it is
held open.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import BinaryIO

from PIL import Image

from worker.errors import NotFound
from worker.make.style import styled
from worker.pages.class_papers.cover import FAINT_PX, write_cover
from worker.pages.class_papers.handout import Whose
from worker.pages.class_papers.separator import write_separator
from worker.pages.pack import page_names
from worker.pages.page_frame import Aids, Job, PackText
from worker.pages.stroke_file import read_strokes
from worker.pdf.binding import Part, bind
from worker.pdf.catalog import PageName
from worker.pdf.stroke_paths import LineWork
from worker.picture.enlarge import faint_picture
from worker.reference.master import Master
from worker.spec.plan import Plan
from worker.spec.spec import Spec

#: A run is sent while others ask for plans: it takes no more than one processor.
COVER_THREADS = 1

Open = Callable[[], AbstractContextManager[Path]]


@dataclass(frozen=True, kw_only=True)
class Handed:
    """A finished pack that goes to someone.

    Attributes:
        whose: The student, and their place in what is handed out.
        title, number: The pack's.
        pack_pdf, master, strokes: Lend the file for as long as it is read; strokes are there
            where the pack's style draws lines.
    """

    whose: Whose
    spec: Spec
    plan: Plan
    title: str
    number: str
    pack_pdf: Open
    master: Open
    strokes: Open

    @property
    def job(self) -> Job:
        """What its pages are drawn from."""
        text = PackText(title=self.title, number=self.number)
        return Job(spec=self.spec, plan=self.plan, text=text)


def print_run(
    handed: Iterable[Handed], *, title: str, folder: Path, covers: bool = False
) -> Iterator[bytes]:
    """One PDF, block by block: for each student a separator, a cover if asked, the pack.

    Args:
        handed: Packs of one sheet format, in the order of the roster; taken one by one.
        title: Of the whole.
        folder: Exists as long as the run is read; a few pages are written in it.
        covers: Put each student's cover on top of the pack.
    """
    return bind(_parts(handed, folder, covers=covers), title=title)


@contextmanager
def held(handed: Handed, *, cover: Path | None) -> Iterator[BinaryIO | None]:
    """The pack, open, and its cover written; None where they were deleted a moment ago.

    Args:
        handed: What goes to someone.
        cover: Where to write the hand-out cover; None: there is to be none.
    """
    with ExitStack() as files:
        try:
            path = files.enter_context(handed.pack_pdf())
            pack = files.enter_context(path.open("rb"))
            if cover is not None:
                make_cover(handed, cover)
        except (NotFound, FileNotFoundError):
            yield None
            return
        yield pack


def make_cover(handed: Handed, path: Path) -> None:
    """Write the hand-out cover of one pack, which shows what the pack's map shows.

    Args:
        handed: What goes to someone; its lines are not looked for again.
        path: Where to write.

    Raises:
        NotFound: Its files were deleted a moment ago.
    """
    spec, job = handed.spec, handed.job
    if spec.tone.lined:
        with handed.strokes() as kept:
            lines = LineWork(strokes=read_strokes(kept), line_mm=spec.tone.outline.line_mm)
        job = replace(job, aids=Aids(lines=lines))
    write_cover(path, job=job, whose=handed.whose, faint=_faint(handed))


def _faint(handed: Handed) -> Image.Image | None:
    """The picture below seams and lines, in the tones that are printed."""
    if handed.spec.tone.style == "outline":
        return None
    with handed.master() as master_path, Master.open(master_path) as master:
        if handed.spec.tone.style != "values":
            return faint_picture(master, handed.spec, handed.plan, FAINT_PX)
        return styled(master, handed.spec, handed.plan, COVER_THREADS).in_small(FAINT_PX)


def _parts(handed: Iterable[Handed], folder: Path, *, covers: bool) -> Iterator[Part]:
    page, cover = folder / "page.pdf", folder / "cover.pdf"
    for each in handed:
        with held(each, cover=cover if covers else None) as pack:
            if pack is None:
                continue
            write_separator(page, job=each.job, whose=each.whose)
            name = each.whose.name
            yield Part(path=page, name=name, pages=[PageName(label=name)])
            if covers:
                yield Part(path=cover, pages=[PageName(label=f"{name}, cover", bookmark="Cover")])
            yield Part(path=pack, pages=_named(name, each.plan))


def _named(name: str, plan: Plan) -> list[PageName]:
    """A pack's pages, told apart from those of other students."""
    return [replace(page, label=f"{name}, {page.label}") for page in page_names(plan)]
