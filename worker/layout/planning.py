"""The sheet plan: spec and study in, plan out; no files, no clock, no image library."""

from __future__ import annotations

from dataclasses import replace

from worker.errors import PictureTooSmall
from worker.layout.advice import Findings, plan_warnings, resolution
from worker.layout.crop.crop import framing, resolve_crop
from worker.layout.crop.limits import CropLimits
from worker.layout.grid import plan_grid
from worker.layout.ink_estimate import mean_coverage
from worker.layout.measuring.allowances import Allowances
from worker.layout.measuring.checks import joined_lengths, sheet_lengths, trim_stacks
from worker.layout.measuring.sheet_to_test import ink_on, sheet_to_test
from worker.layout.offers.face_areas import faces_in
from worker.layout.offers.face_offer import face_offer
from worker.layout.offers.suggestions import PlannedSpec, suggestions
from worker.layout.page_area import page_area
from worker.layout.passes import on_wall, passes
from worker.layout.pieces import cells_of, pieces_of, seams_of
from worker.layout.protected import protected_rects
from worker.layout.register_marks import with_register_marks
from worker.layout.seams.cost_map import CostMap
from worker.layout.seams.cutting_problem import cutting_problem
from worker.layout.seams.search import best_partition
from worker.layout.tape import tape_spots
from worker.layout.traced_line import traced_line
from worker.spec.plan import Plan, Size, first_sheet_page
from worker.spec.spec import Spec
from worker.spec.study import PictureFrame, ReferenceStudy, detail_over

SMALLEST_PICTURE_MM = 20.0


def plan_sheets(spec: Spec, study: ReferenceStudy, *, max_sheets: int = 400) -> Plan:
    """Plan the sheets of one picture.

    Args:
        spec: The spec.
        study: The study of the reference.
        max_sheets: The most sheets one pack may have.

    Raises:
        SpecError: The spec cannot be met; the error names the field.
    """
    picture = _picture(spec)
    page = page_area(spec.sheet, spec.print)
    limits = CropLimits(study.width_px, study.height_px, spec.rotate_deg)
    faces = study.reading.faces
    crop = resolve_crop(spec, study.width_px, study.height_px, faces)
    frame = PictureFrame(
        crop=crop,
        rotate_deg=spec.rotate_deg,
        width_mm=picture.width_mm,
        height_mm=picture.height_mm,
        mirror=spec.print.mirror,
    )
    detail = detail_over(study, frame)
    traced = traced_line(spec, study, frame, detail)
    cost_map = CostMap(
        traced, protected_rects(spec.seams.protect, picture, mirror=spec.print.mirror)
    )
    lap_mm = spec.seams.lap_mm if spec.seams.joint == "lap" else 0.0
    problem = cutting_problem(cost_map, page, lap_mm=lap_mm, quiet=spec.seams.placement == "quiet")
    staggered = spec.seams.arrangement == "staggered"
    choice = best_partition(problem, staggered=staggered, max_sheets=max_sheets)
    cells = cells_of(choice.partition, by_columns=choice.run_through == "down")
    gridded = spec.grid is not None
    first_page = first_sheet_page(len(cells), page.size.width_mm, gridded=gridded)
    pieces = pieces_of(cells, page, cost_map, lap_mm, first_page=first_page)
    seams = seams_of(cells, cost_map)
    stacks = trim_stacks(pieces, page)
    sharpness = resolution(
        crop.width * study.width_px,
        picture.width_mm,
        spec.print,
        drawn=spec.tone.style in ("outline", "values"),
        resolved_px=study.resolved_px,
    )
    wall = on_wall(picture)
    # Laps are glued, and the strips for a wall are tacked by eye: nothing of them is on the map.
    spots = () if lap_mm or wall else tape_spots(cells, seams, cost_map)
    found = faces_in(frame, study.width_px, study.height_px, faces)
    if spec.seams.register_marks:
        boxes = protected_rects((one.face for one in found), picture, mirror=spec.print.mirror)
        seams = with_register_marks(seams, cost_map, spots, boxes, spec.grid)
    coverage = mean_coverage(spec, study, frame, detail)
    planned = PlannedSpec(
        spec=spec,
        photo_px=(study.width_px, study.height_px),
        cost_map=cost_map,
        sheets=len(pieces),
        most=max_sheets,
    )
    allowances = Allowances(within_mm=spec.seams.within_mm)
    joined = joined_lengths(pieces, picture, allowances)
    inks = ink_on(pieces, spec, study, frame, traced)
    to_test = sheet_to_test(pieces, inks, joined, allowances)
    (tested,) = (piece for piece in pieces if piece.label == to_test.label)
    reported = traced.told
    return Plan(
        picture=picture,
        sheet=page.size,
        crop=crop,
        rotate_deg=spec.rotate_deg,
        framing=framing(spec, limits, crop, faces),
        sheet_count=len(pieces),
        rows=1 + max(cell.row for cell in cells),
        columns=1 + max(cell.column for cell in cells),
        run_through=choice.run_through,
        protected_mm=cost_map.protected,
        pieces=pieces,
        seams=seams if reported else tuple(replace(seam, line_mm=None) for seam in seams),
        tape_spots=spots if reported else tuple(replace(spot, line_mm=None) for spot in spots),
        trim_stacks=stacks,
        check_lengths=(*joined, *sheet_lengths(tested, allowances)),
        sheet_to_test=to_test,
        on_wall=wall,
        passes=passes(
            pieces,
            face_down=spec.print.mirror,
            from_top=wall,
            columns=wall and choice.run_through == "down",
        ),
        resolution=sharpness,
        mean_coverage=coverage,
        seam_line_chosen_mm=choice.partition.line_mm(choice.problem.cost_map) if reported else None,
        seam_line_even_mm=choice.even.line_mm(choice.problem.cost_map) if reported else None,
        warnings=plan_warnings(
            Findings(
                finest_line_mm=sharpness.finest_line_mm,
                resolved_ppi=sharpness.resolved_ppi,
                photo_px=(study.width_px, study.height_px),
                resolved_px=study.resolved_px,
                mean_coverage=coverage,
                full_strength=spec.tone.style == "grey" and spec.tone.full_strength,
                crossed=choice.partition.crossed(choice.problem.cost_map),
                eyes_cut=choice.partition.eyes_cut(choice.problem.cost_map),
                quiet=problem.quiet,
                sheets=len(pieces),
                corners_meet=staggered and choice.partition.corners_meet(),
                trim_stacks=len(stacks),
                shortest_mm=min(min(c.rect_mm.width, c.rect_mm.height) for c in cells),
            )
        ),
        suggestions=(
            *face_offer(planned, found, seams),
            *suggestions(planned),
        ),
        grid=plan_grid(spec, picture, page.size),
        language=spec.language,
    )


def _picture(spec: Spec) -> Size:
    width, height = spec.support.picture_width_mm, spec.support.picture_height_mm
    if min(width, height) < SMALLEST_PICTURE_MM:
        message = (
            f"The border leaves {max(width, 0):.0f} × {max(height, 0):.0f} mm to draw on; at least "
            f"{SMALLEST_PICTURE_MM:.0f} mm each way are needed. Make the border narrower."
        )
        raise PictureTooSmall(message, field="support.border_mm")
    return Size(width, height)
