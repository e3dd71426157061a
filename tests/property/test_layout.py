"""Every geometric promise of the sheet plan, for supports, sheets and seams of all kinds."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import numpy as np
from hypothesis import HealthCheck, given, reject, settings
from hypothesis import strategies as st

from worker.errors import SpecError
from worker.layout.offers.suggestions import changed
from worker.layout.page_area import page_area
from worker.layout.planning import plan_sheets
from worker.layout.seams.cost_map import TAPE_ALONG_MM
from worker.spec.formats import SHEET_FORMATS
from worker.spec.json import dump_plan, load_plan
from worker.spec.plan import REGISTER_MARK_MM, Plan, Rect
from worker.spec.spec import Area, Margins, Print, Seams, Sheet, Spec, Support
from worker.spec.study import DetailLevel, ReferenceStudy

EPSILON = 1e-6


def study(seed: int, width_px: int = 6000, height_px: int = 4000) -> ReferenceStudy:
    """A reference whose line is strewn at random, with quiet and busy places."""
    strewn = np.random.default_rng(seed).random((96, 144)).astype(np.float32) ** 4
    level = DetailLevel(density=np.kron(strewn, np.ones((4, 4), np.float32)), pixel_size_px=2.0)
    thumb = np.full((64, 96), 128, np.uint8)
    return ReferenceStudy(width_px=width_px, height_px=height_px, levels=(level,), thumb=thumb)


lengths = st.one_of(
    st.integers(20, 1400).map(float),
    st.floats(20, 1200, allow_nan=False).map(lambda x: round(x, 2)),
)
#: Mostly those of printers; up to what the contract takes, where pieces become tight.
margin = st.integers(0, 7).flatmap(lambda n: st.floats(0, 20) if n else st.floats(20, 60))
margins = st.builds(Margins, top=margin, right=margin, bottom=margin, left=margin)
areas = st.builds(
    lambda left, top, width, height: Area(
        left=left, top=top, width=min(width, 1 - left), height=min(height, 1 - top)
    ),
    st.floats(0, 0.8),
    st.floats(0, 0.8),
    st.floats(0.02, 0.2),
    st.floats(0.02, 0.2),
)


@st.composite
def seams_kinds(draw: st.DrawFn) -> Seams:
    """Butt or lap, aligned or staggered, quiet or even, with some protected areas."""
    lap = draw(st.one_of(st.sampled_from([0.0, 0.0, 5.0, 12.5]), st.floats(1, 30)))
    return Seams(
        joint="lap" if lap else "butt",
        lap_mm=lap,
        arrangement=draw(st.sampled_from(["aligned", "staggered"])),
        placement=draw(st.sampled_from(["quiet", "even"])),
        protect=tuple(draw(st.lists(areas, max_size=3))),
    )


specs = st.builds(
    Spec,
    support=st.builds(Support, width_mm=lengths, height_mm=lengths),
    sheet=st.builds(Sheet, format=st.sampled_from(sorted(SHEET_FORMATS)), margin_mm=margins),
    seams=seams_kinds(),
    print=st.builds(
        Print,
        mirror=st.booleans(),
        across_correction=st.floats(0.98, 1.02),
        down_correction=st.floats(0.98, 1.02),
    ),
)


def planned(spec: Spec, seed: int = 7) -> Plan:
    """The plan, or an example that Hypothesis passes over where none is possible."""
    try:
        return plan_sheets(spec, study(seed), max_sheets=60)
    except SpecError:
        reject()


def owned(plan: Plan) -> list[Rect]:
    """The pieces from seam to seam, without what lies under a neighbour."""
    return [
        Rect(
            piece.picture_rect_mm.left,
            piece.picture_rect_mm.top,
            piece.picture_rect_mm.width - piece.lap_right_mm,
            piece.picture_rect_mm.height - piece.lap_bottom_mm,
        )
        for piece in plan.pieces
    ]


def overlap(one: Rect, other: Rect) -> float:
    """The area that two rectangles share, in mm²."""
    width = min(one.right, other.right) - max(one.left, other.left)
    height = min(one.bottom, other.bottom) - max(one.top, other.top)
    return max(width, 0.0) * max(height, 0.0)


often = settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])
#: For what takes more plans than one for each example.
seldom = settings(often, max_examples=30)
Promise = Callable[[Spec, Plan], None]
PROMISES: list[Promise] = []


def promise(check: Promise) -> Promise:
    """Have this asked of every plan that is made: making one takes longer than all questions."""
    PROMISES.append(check)
    return check


@promise
def pieces_cover_the_picture_once(_: Spec, plan: Plan) -> None:
    rects = owned(plan)
    picture = Rect(0.0, 0.0, plan.picture.width_mm, plan.picture.height_mm)
    covered = sum(rect.width * rect.height for rect in rects)
    assert abs(covered - picture.width * picture.height) < 1e-4
    assert all(overlap(rect, picture) > rect.width * rect.height - 1e-6 for rect in rects)
    doubled = sum(
        overlap(one, other) for index, one in enumerate(rects) for other in rects[index + 1 :]
    )
    assert doubled < 1e-6


@promise
def lap_pieces_overlap_by_exactly_the_lap(spec: Spec, plan: Plan) -> None:
    lap = spec.seams.lap_mm if spec.seams.joint == "lap" else 0.0
    rects = {piece.label: piece.picture_rect_mm for piece in plan.pieces}
    for piece in plan.pieces:
        assert piece.lap_right_mm == (lap if piece.neighbours["right"] else 0.0)
        assert piece.lap_bottom_mm == (lap if piece.neighbours["bottom"] else 0.0)
        for label in piece.neighbours["right"]:
            assert abs(piece.picture_rect_mm.right - rects[label].left - lap) < EPSILON
        for label in piece.neighbours["bottom"]:
            assert abs(piece.picture_rect_mm.bottom - rects[label].top - lap) < EPSILON


@promise
def every_piece_lies_in_the_usable_area(spec: Spec, plan: Plan) -> None:
    page = page_area(spec.sheet, spec.print)
    for piece in plan.pieces:
        rect = piece.sheet_rect_mm
        assert rect.left >= page.usable_mm.left - EPSILON
        assert rect.top >= page.usable_mm.top - EPSILON
        assert rect.right <= page.usable_mm.right + EPSILON
        assert rect.bottom <= page.usable_mm.bottom + EPSILON


@promise
def pieces_measure_their_millimetres_times_the_correction(spec: Spec, plan: Plan) -> None:
    for piece in plan.pieces:
        picture, sheet = piece.picture_rect_mm, piece.sheet_rect_mm
        across, down = (
            (picture.height, picture.width) if piece.turned_deg else (picture.width, picture.height)
        )
        assert abs(sheet.width - across * spec.print.across_correction) < EPSILON
        assert abs(sheet.height - down * spec.print.down_correction) < EPSILON


@promise
def no_slivers_where_the_picture_allows(spec: Spec, plan: Plan) -> None:
    for rect in owned(plan):
        assert rect.width >= min(40.0, plan.picture.width_mm / plan.columns) - 20.0 / plan.columns
        if plan.picture.width_mm >= 80 and spec.sheet.format != "iso_a5_148x210mm":
            assert rect.width >= 39.999 or plan.picture.width_mm / plan.columns < 52.5
        if plan.picture.height_mm >= 80 and spec.sheet.format != "iso_a5_148x210mm":
            assert rect.height >= 39.999 or plan.picture.height_mm / plan.rows < 52.5


@promise
def labels_and_neighbours_are_mutual(_: Spec, plan: Plan) -> None:
    by_label = {piece.label: piece for piece in plan.pieces}
    assert len(by_label) == plan.sheet_count == len(plan.pieces)
    other = {"left": "right", "right": "left", "top": "bottom", "bottom": "top"}
    for piece in plan.pieces:
        for edge, labels in piece.neighbours.items():
            for label in labels:
                assert piece.label in by_label[label].neighbours[other[edge]]


@promise
def protected_areas_are_spared_or_named(spec: Spec, plan: Plan) -> None:
    crossed = sum(warning.code == "protected-area-crossed" for warning in plan.warnings)
    found = sum(crosses(plan, area, mirror=spec.print.mirror) for area in spec.seams.protect)
    assert crossed == found


def crosses(plan: Plan, area: Area, *, mirror: bool) -> bool:
    """Whether any seam of the plan runs through an area."""
    left = (1 - area.left - area.width if mirror else area.left) * plan.picture.width_mm
    right = left + area.width * plan.picture.width_mm
    top = area.top * plan.picture.height_mm
    bottom = top + area.height * plan.picture.height_mm
    return any(
        seam.from_mm[0] < right
        and seam.to_mm[0] > left
        and seam.from_mm[1] < bottom
        and seam.to_mm[1] > top
        for seam in plan.seams
    )


@promise
def tape_is_near_enough_at_junctions_and_off_protected_areas(spec: Spec, plan: Plan) -> None:
    protected = [
        Rect(
            (1 - area.left - area.width if spec.print.mirror else area.left)
            * plan.picture.width_mm,
            area.top * plan.picture.height_mm,
            area.width * plan.picture.width_mm,
            area.height * plan.picture.height_mm,
        )
        for area in spec.seams.protect
    ]
    for spot in plan.tape_spots:
        assert all(overlap(spot.rect_mm, area) < 1e-6 for area in protected)
    if plan.on_wall or spec.seams.joint == "lap":
        # Strips for a wall are tacked by eye, and laps are glued.
        assert plan.tape_spots == ()
    elif not protected:
        for seam in plan.seams:
            assert_held(plan, seam.from_mm, seam.to_mm)


def assert_held(plan: Plan, start: tuple[float, float], end: tuple[float, float]) -> None:
    """No stretch of a seam longer than 120 mm between bits, half of it at a free end."""
    along = 1 if start[0] == end[0] else 0
    middles = sorted(
        (spot.rect_mm.left + spot.rect_mm.width / 2, spot.rect_mm.top + spot.rect_mm.height / 2)[
            along
        ]
        for spot in plan.tape_spots
        if holds(spot.rect_mm, start, end, along)
    )
    size = (plan.picture.width_mm, plan.picture.height_mm)[along]
    junctions = [end_at for end_at in (start[along], end[along]) if 1e-6 < end_at < size - 1e-6]
    # A bit may hold two junctions that lie close by, so that it is not at the middle of both.
    assert all(any(abs(middle - at) <= TAPE_ALONG_MM / 2 for middle in middles) for at in junctions)
    assert middles
    assert all(after - before <= 120 + EPSILON for before, after in pairwise(middles))
    assert middles[0] - start[along] <= 60 + EPSILON
    assert end[along] - middles[-1] <= 60 + EPSILON


def holds(rect: Rect, start: tuple[float, float], end: tuple[float, float], along: int) -> bool:
    """Whether a bit's middle lies on a seam."""
    middle = (rect.left + rect.width / 2, rect.top + rect.height / 2)
    on_line = abs(middle[1 - along] - start[1 - along]) < EPSILON
    return on_line and start[along] - EPSILON <= middle[along] <= end[along] + EPSILON


@seldom
@given(specs)
def test_quiet_hides_no_more_line_than_even(spec: Spec) -> None:
    seams = replace(spec.seams, placement="quiet", arrangement="aligned", protect=())
    plan = planned(replace(spec, seams=seams))
    # The even split is not on whole millimetres, so it may be better by what lies between.
    finest = max((seam.line_mm or 0.0 for seam in plan.seams), default=0.0)
    assert plan.seam_line_chosen_mm is not None
    assert plan.seam_line_even_mm is not None
    assert plan.seam_line_chosen_mm <= plan.seam_line_even_mm + 0.1 * finest + 1e-6


@promise
def seam_lines_add_up_and_stacks_hold_every_sheet_once(_: Spec, plan: Plan) -> None:
    total = sum(seam.line_mm or 0.0 for seam in plan.seams)
    assert plan.seam_line_chosen_mm is not None
    assert abs(total - plan.seam_line_chosen_mm) < 1e-6 * max(total, 1.0)
    stacked = sorted(label for stack in plan.trim_stacks for label in stack.labels)
    # One sheet alone is cut by itself.
    assert stacked == sorted(piece.label for piece in plan.pieces if plan.seams)


@promise
def register_marks_lie_on_their_seam_and_on_nothing_else(_: Spec, plan: Plan) -> None:
    """Whole between its ends, and off tape and protected areas; never two at one place."""
    along_mm, across_mm = REGISTER_MARK_MM
    barred = [*(spot.rect_mm for spot in plan.tape_spots), *plan.protected_mm]
    for seam in plan.seams:
        axis = 1 if seam.standing else 0
        size = (across_mm, along_mm) if seam.standing else (along_mm, across_mm)
        assert len(seam.register_marks_mm) <= 3
        for mark in seam.register_marks_mm:
            assert mark[1 - axis] == seam.from_mm[1 - axis]
            assert mark[axis] - along_mm / 2 >= seam.from_mm[axis]
            assert mark[axis] + along_mm / 2 <= seam.to_mm[axis]
            box = Rect(mark[0] - size[0] / 2, mark[1] - size[1] / 2, *size)
            assert not any(overlap(box, rect) > 0.0 for rect in barred)
        places = [mark[axis] for mark in seam.register_marks_mm]
        assert all(other - one >= along_mm for one, other in pairwise(places))


@promise
def a_plan_read_back_from_json_is_the_plan_in_every_digit(_: Spec, plan: Plan) -> None:
    """What was promised is stored as JSON, and drawn from it."""
    again = load_plan(json.loads(json.dumps(dump_plan(plan))))
    assert again == plan
    # Equal numbers may still print differently (600 and 600.0): the documents are the same too.
    assert dump_plan(again) == dump_plan(plan)


@often
@given(specs)
def test_a_plan_keeps_every_promise(spec: Spec) -> None:
    plan = planned(spec)
    for kept in PROMISES:
        kept(spec, plan)


@seldom
@given(specs)
def test_each_suggestion_takes_as_many_sheets_as_it_says(spec: Spec) -> None:
    plan = planned(spec)
    for suggestion in plan.suggestions:
        other = plan_sheets(changed(spec, suggestion.change), study(7), max_sheets=60)
        assert other.sheet_count == suggestion.sheet_count < plan.sheet_count
    # No change is told twice, and each changes something.
    changes = [suggestion.change for suggestion in plan.suggestions]
    assert len(set(changes)) == len(changes)
    assert all(changed(spec, change) != spec for change in changes)


@seldom
@given(specs)
def test_no_smaller_change_of_its_kind_saves_as_much(spec: Spec) -> None:
    plan = planned(replace(spec, seams=replace(spec.seams, protect=())))
    for suggestion in plan.suggestions:
        change = suggestion.change
        less = None
        if change.margin_mm is not None:
            own = spec.sheet.margin_mm
            less = replace(change, margin_mm=change.margin_mm + 0.1)
            wider = less.margin_mm is not None and less.margin_mm < max(vars(own).values())
        elif change.width_mm is not None and change.width_mm != spec.support.width_mm:
            less = replace(change, width_mm=change.width_mm + 1)
            wider = change.width_mm + 1 < spec.support.width_mm
        if less is not None and wider:
            plain = replace(spec, seams=replace(spec.seams, protect=()))
            other = plan_sheets(changed(plain, less), study(7), max_sheets=400)
            assert other.sheet_count > suggestion.sheet_count


@seldom
@given(specs)
def test_the_same_job_gives_the_same_plan(spec: Spec) -> None:
    assert planned(spec) == planned(spec)


@seldom
@given(specs)
def test_staggered_corners_never_meet_unless_said(spec: Spec) -> None:
    plan = planned(replace(spec, seams=replace(spec.seams, arrangement="staggered")))
    said = any(warning.code == "four-corners-meet" for warning in plan.warnings)
    corners = Counter(
        (round(x, 6), round(y, 6))
        for rect in owned(plan)
        for x in (rect.left, rect.right)
        for y in (rect.top, rect.bottom)
    )
    assert max(corners.values()) < 4 or said
