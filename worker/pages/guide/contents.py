"""Which sections the guide of a pack has, and on which of its two pages."""

from __future__ import annotations

from worker.pages.guide.sections.begin import beginning
from worker.pages.guide.sections.cautions import cautions
from worker.pages.guide.sections.check import checking
from worker.pages.guide.sections.cut import cutting
from worker.pages.guide.sections.face_down import preparing, rubbing
from worker.pages.guide.sections.hinge import hinging
from worker.pages.guide.sections.join import joining
from worker.pages.guide.sections.print import printing
from worker.pages.guide.sections.trace import tracing
from worker.pages.guide.sections.transfer_paper import transfer_paper
from worker.pages.guide.sections.wall import pouncing, pricking, setting_out
from worker.pages.pack_content import PackContent
from worker.pages.section import Section


def first_page(pack: PackContent) -> tuple[Section, ...]:
    """From the printer to one sheet of paper, or to strips for a wall."""
    if pack.plan.sheet_count == 1:
        return (printing(pack), cutting(pack))
    return (printing(pack), cutting(pack), joining(pack), checking(pack))


def second_page(pack: PackContent) -> tuple[Section, ...]:
    """From paper to the drawing."""
    last = (beginning(pack), cautions(pack))
    return (*_transfer(pack), *(section for section in last if section))


def _transfer(pack: PackContent) -> tuple[Section, ...]:
    if pack.plan.on_wall:
        return (setting_out(pack), pricking(pack), pouncing(pack))
    if pack.spec.print.mirror:
        return (preparing(pack), hinging(pack), rubbing(pack))
    return (hinging(pack), transfer_paper(pack), tracing(pack))
