"""The offer to protect the faces of a picture: it suggests, a person decides.

Tape over an eye is the worst, over a mouth bad, over a cheek no harm. So the whole face is
offered where seams can spare it on as many sheets as the picture takes anyway, and else its
eyes. Faces are decided on together, since what spares one may cross another.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from worker.layout.offers.face_areas import is_covered, unprotected
from worker.layout.offers.suggestions import PlannedSpec
from worker.layout.page_area import page_area
from worker.layout.protected import protected_rects
from worker.layout.seams.cutting_problem import cutting_problem
from worker.layout.seams.search import best_partition
from worker.spec.plan import Change, FaceAreas, Rect, Seam, Size, Suggestion
from worker.spec.spec import Area

#: As many areas as a spec may protect (`worker.spec.json`).
MOST_AREAS = 50

_Areas = tuple[Area, ...]


@dataclass(frozen=True)
class _Outcome:
    """What it takes to protect areas.

    Attributes:
        sheets: How many sheets; None where they are not counted.
        crossed: Which of the areas are crossed even then.
        harms: Whether an area that a person protected would be crossed for it.
    """

    sheets: int | None
    crossed: frozenset[int] = frozenset()
    harms: bool = False

    @property
    def spares_all(self) -> bool:
        """Whether no area is crossed that could be spared."""
        return not self.crossed and not self.harms


def face_offer(
    planned: PlannedSpec, faces: tuple[FaceAreas, ...], seams: tuple[Seam, ...]
) -> tuple[Suggestion, ...]:
    """The suggestion to protect the faces that are not protected yet; empty where none matters.

    Args:
        planned: The spec and its plan.
        faces: The faces in the picture, from large to small.
        seams: The plan's seams.
    """
    protect = planned.spec.seams.protect
    room = (MOST_AREAS - len(protect)) // 2
    open_faces = unprotected(faces, protect)[: max(room, 0)]
    if planned.sheets < 2 or not open_faces:  # noqa: PLR2004 -- A single sheet has no seam.
        return ()
    areas, sheets = _areas(planned, open_faces, seams)
    offered = tuple(one for one in open_faces if {one.face, *one.eyes} & set(areas))
    if not offered:
        return ()
    return (
        Suggestion(
            code="protect-face",
            change=Change(protect=areas),
            sheet_count=sheets,
            detail=_detail(offered, areas, sheets, planned.sheets),
            faces=offered,
        ),
    )


def _areas(
    planned: PlannedSpec, faces: tuple[FaceAreas, ...], seams: tuple[Seam, ...]
) -> tuple[_Areas, int | None]:
    """What to protect of these faces, and how many sheets that takes."""
    areas: _Areas = ()
    outcome = _Outcome(planned.sheets)
    for areas in _from_much_to_little(planned, faces, seams):
        outcome = _outcome(planned, areas, seams)
        if outcome.sheets == planned.sheets and outcome.spares_all:
            return areas, outcome.sheets
    # What is crossed whatever the seams do, or at the cost of what a person protected, is not
    # offered.
    while areas and not outcome.spares_all:
        dropped = outcome.crossed or {len(areas) - 1}
        areas = tuple(area for index, area in enumerate(areas) if index not in dropped)
        outcome = _outcome(planned, areas, seams)
    return areas, outcome.sheets


def _from_much_to_little(
    planned: PlannedSpec, faces: tuple[FaceAreas, ...], seams: tuple[Seam, ...]
) -> Iterator[_Areas]:
    """All faces whole; then those that seams cross by their eyes alone; then all by their eyes."""
    crossed = _crossed(planned, tuple(one.face for one in faces), seams)
    for by_eyes in (set(), crossed, set(range(len(faces)))):
        areas = (
            area
            for index, one in enumerate(faces)
            for area in ((one.eyes or (one.face,)) if index in by_eyes else (one.face,))
        )
        yield tuple(one for one in areas if not is_covered(one, planned.spec.seams.protect))


def _outcome(planned: PlannedSpec, areas: _Areas, seams: tuple[Seam, ...]) -> _Outcome:
    """What the plan would be with these areas protected besides.

    Where the seams spare them already, the plan stays: what was best among all is best among
    fewer. Staggered seams are not searched again, which takes too long for a plan that follows
    a finger.
    """
    if not _crossed(planned, areas, seams):
        return _Outcome(planned.sheets)
    spec, cost_map = planned.spec, planned.cost_map
    if spec.seams.arrangement == "staggered":
        return _Outcome(None)
    own = len(cost_map.protected)
    cost_map = replace(cost_map, protected=(*cost_map.protected, *_rects(planned, areas)))
    problem = cutting_problem(
        cost_map,
        page_area(spec.sheet, spec.print),
        lap_mm=spec.seams.lap_mm if spec.seams.joint == "lap" else 0.0,
        quiet=spec.seams.placement == "quiet",
    )
    partition = best_partition(problem, staggered=False, max_sheets=planned.most).partition
    crossed = set(partition.crossed(cost_map))
    return _Outcome(
        partition.sheets,
        crossed=frozenset(index - own for index in crossed if index >= own),
        harms=not {one for one in crossed if one < own}
        <= _crossed_rects(planned.cost_map.protected, seams),
    )


def _rects(planned: PlannedSpec, areas: _Areas) -> tuple[Rect, ...]:
    cost_map = planned.cost_map
    picture = Size(cost_map.width_mm, cost_map.height_mm)
    return protected_rects(areas, picture, mirror=planned.spec.print.mirror)


def _crossed(planned: PlannedSpec, areas: _Areas, seams: tuple[Seam, ...]) -> set[int]:
    """Which of these areas the plan's seams cross."""
    return _crossed_rects(_rects(planned, areas), seams)


def _crossed_rects(rects: tuple[Rect, ...], seams: tuple[Seam, ...]) -> set[int]:
    return {
        index for index, rect in enumerate(rects) if any(_crosses(seam, rect) for seam in seams)
    }


def _crosses(seam: Seam, rect: Rect) -> bool:
    across = sorted((seam.from_mm[0], seam.to_mm[0]))
    down = sorted((seam.from_mm[1], seam.to_mm[1]))
    return (
        across[0] < rect.right
        and across[1] > rect.left
        and down[0] < rect.bottom
        and down[1] > rect.top
    )


def _detail(faces: tuple[FaceAreas, ...], areas: _Areas, sheets: int | None, before: int) -> str:
    """The offer in words."""
    one = len(faces) == 1
    subject = "A face is" if one else f"{len(faces)} faces are"
    if all(each.face in areas for each in faces):
        them = "it" if one else "them"
    else:
        them = "its eyes" if one else "their eyes"
    offer = f"{subject} found in the picture. Protected, no seam and no tape lies on {them}"
    if sheets is None or sheets == before:
        return f"{offer}." if sheets is None else f"{offer}, on as many sheets."
    return f"{offer}, on {sheets} sheets instead of {before}."
