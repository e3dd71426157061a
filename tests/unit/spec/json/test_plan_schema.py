"""The plan's JSON has the keys that the contract names, and loses nothing."""

from __future__ import annotations

import json

import numpy as np
import pytest

from worker.errors import PlanNewer, PlanOutdated
from worker.layout.planning import plan_sheets
from worker.spec.json import dump_plan, load_plan
from worker.spec.json.plan_schema import PLAN_VERSION
from worker.spec.plan import (
    Change,
    CheckLength,
    FaceAreas,
    FaceWithHead,
    Framing,
    Pass,
    Piece,
    Plan,
    PlanGrid,
    PlanWarning,
    Rect,
    Resolution,
    Seam,
    SheetToTest,
    Size,
    Suggestion,
    TapeSpot,
    TrimStack,
)
from worker.spec.spec import Area, Seams, Spec, Support
from worker.spec.study import DetailLevel, ReferenceStudy


def _piece(label: str, column: int, neighbour: dict[str, tuple[str, ...]]) -> Piece:
    return Piece(
        label=label,
        page=4 + column,
        row=0,
        column=column,
        picture_rect_mm=Rect(200 * column, 0, 200, 190),
        lap_right_mm=0,
        lap_bottom_mm=0,
        sheet_rect_mm=Rect(12, 20, 190, 200),
        turned_deg=90,
        neighbours=neighbour,  # type: ignore[arg-type]  # mypy takes the keys for any text.
    )


HEAD = Area(left=0.4, top=0.1, width=0.2, height=0.3)
EYE = Area(left=0.42, top=0.2, width=0.05, height=0.02)


@pytest.fixture
def two_sheets() -> Plan:
    """Two pieces side by side, with one of everything."""
    return Plan(
        picture=Size(400, 190),
        sheet=Size(210, 297),
        crop=Area(left=0, top=0.1, width=1, height=0.8),
        rotate_deg=1 / 3,
        framing=Framing(faces=(FaceWithHead(face=EYE, head=HEAD),), whole=1, moved=True),
        sheet_count=2,
        rows=1,
        columns=2,
        run_through="both",
        protected_mm=(Rect(210, 20, 40, 30),),
        pieces=(
            _piece("1·1", 0, {"top": (), "right": ("1·2",), "bottom": (), "left": ()}),
            _piece("1·2", 1, {"top": (), "right": (), "bottom": (), "left": ("1·1",)}),
        ),
        seams=(
            Seam(
                between=("1·1", "1·2"),
                from_mm=(200, 0),
                to_mm=(200, 190),
                line_mm=41.5,
                register_marks_mm=((200, 30.5), (200, 160)),
            ),
        ),
        tape_spots=(
            TapeSpot(
                rect_mm=Rect(190, 10, 20, 15), joins=("1·1", "1·2"), at_junction=False, line_mm=0.1
            ),
        ),
        trim_stacks=(
            TrimStack(
                labels=("1·1", "1·2"),
                margin_mm={"right": 8, "bottom": 77, "left": 12},
            ),
        ),
        check_lengths=(
            CheckLength(
                name="diagonal",
                scope="joined",
                start="1·1 top left",
                end="1·2 bottom right",
                length_mm=442.8,
                tolerance_mm=1,
                seams=1,
            ),
        ),
        sheet_to_test=SheetToTest(label="1·2", page=5, tells=True),
        on_wall=False,
        passes=(Pass(number=1, labels=("1·1", "1·2")),),
        resolution=Resolution(
            reference_ppi=152.4,
            resolved_ppi=152.4,
            printed_ppi=152.4,
            finest_line_mm=1 / 3,
            advice="Fine.",
        ),
        mean_coverage=0.31,
        seam_line_chosen_mm=41.5,
        seam_line_even_mm=60.25,
        warnings=(PlanWarning(code="reference-too-small", detail="Small."),),
        suggestions=(
            Suggestion(
                code="fewer-sheets", change=Change(margin_mm=4.5), sheet_count=1, detail="Fewer."
            ),
            Suggestion(
                code="protect-face",
                change=Change(protect=(HEAD,)),
                sheet_count=None,
                detail="A face.",
                faces=(FaceAreas(face=HEAD, eyes=(EYE,)),),
            ),
        ),
        grid=PlanGrid(
            square_mm=50.0, columns=12, rows=8, enlargement=3.2, suggested_mm=(50.0, 100.0)
        ),
        language="en",
    )


def test_a_plan_comes_back_from_json_as_it_was(two_sheets: Plan) -> None:
    assert load_plan(json.loads(json.dumps(dump_plan(two_sheets)))) == two_sheets


def test_a_pack_keeps_no_face_that_nobody_took(two_sheets: Plan) -> None:
    kept = json.dumps(dump_plan(two_sheets.without_faces()))
    assert "protect-face" not in kept
    assert str(EYE.left) not in kept
    assert load_plan(json.loads(kept)).framing == Framing(faces=(), whole=1, moved=True)
    assert load_plan(json.loads(kept)).suggestions == two_sheets.suggestions[:1]


@pytest.mark.parametrize("support", [(150, 100), (600, 400), (900, 1200)])
def test_a_real_plan_comes_back_too(support: tuple[float, float]) -> None:
    level = DetailLevel(
        density=np.random.default_rng(1).random((60, 80), np.float32), pixel_size_px=10
    )
    thumb = np.full((60, 80), 128, np.uint8)
    study = ReferenceStudy(width_px=800, height_px=600, levels=(level,), thumb=thumb)
    spec = Spec(
        support=Support(width_mm=support[0], height_mm=support[1]),
        rotate_deg=7,
        seams=Seams(joint="lap", lap_mm=5, arrangement="staggered"),
    )
    plan = plan_sheets(spec, study)
    assert load_plan(json.loads(json.dumps(dump_plan(plan)))) == plan


@pytest.mark.parametrize(
    "change",
    [
        {"folds": []},
        {"sheet_count": 3},
        {"pieces": []},
        {"run_through": "both ways"},
        {"rows": "2"},
        {"grid": None},
    ],
)
def test_what_is_no_plan_of_this_version_is_said_so(
    two_sheets: Plan, change: dict[str, object]
) -> None:
    document = json.loads(json.dumps(dump_plan(two_sheets)))
    for other in (document | change, None, {}):
        with pytest.raises(PlanOutdated, match="ask for the pack again"):
            load_plan(other)


def test_a_plan_of_a_newer_version_is_told_from_one_that_nobody_can_draw(
    two_sheets: Plan,
) -> None:
    newer = {"version": PLAN_VERSION + 1}
    document = json.loads(json.dumps(dump_plan(two_sheets)))
    assert document["version"] == PLAN_VERSION
    # Whatever else it says: only its number can be read for certain.
    for other in (document | newer, document | newer | {"folds": []}, newer):
        with pytest.raises(PlanNewer, match="try again"):
            load_plan(other)
    for number in ("2", None, 2.5):
        with pytest.raises(PlanOutdated, match="ask for the pack again"):
            load_plan(document | {"version": number})


@pytest.mark.parametrize("label", ["A2", "1-2", "1·1"])
def test_a_label_is_that_of_its_place(two_sheets: Plan, label: str) -> None:
    document = json.loads(json.dumps(dump_plan(two_sheets)))
    document["pieces"][1]["label"] = label
    with pytest.raises(PlanOutdated):
        load_plan(document)


def test_the_keys_are_those_of_the_contract(two_sheets: Plan) -> None:
    document = json.loads(json.dumps(dump_plan(two_sheets)))
    contract = {
        "picture", "crop", "sheet_count", "rows", "columns", "pieces", "seams", "tape_spots",
        "trim_stacks", "check_lengths", "resolution", "ink", "seam_line_mm", "warnings",
    }  # fmt: skip
    contract |= {"suggestions"}
    ours = {"sheet", "rotate_deg", "run_through", "passes", "protected_mm", "grid", "framing"}
    ours |= {"sheet_to_test", "on_wall", "language", "version"}
    assert contract | ours == set(document)
    assert document["pieces"][0]["sheet_rect_mm"] == {
        "left": 12, "top": 20, "width": 190, "height": 200,
    }  # fmt: skip
    assert document["seams"] == [
        {
            "between": ["1·1", "1·2"], "from_mm": [200, 0], "to_mm": [200, 190], "line_mm": 41.5,
            "register_marks_mm": [[200, 30.5], [200, 160]],
        }
    ]  # fmt: skip
    # The flap has no cut.
    assert document["trim_stacks"][0]["margin_mm"] == {"right": 8, "bottom": 77, "left": 12}
    assert document["check_lengths"][0]["from"] == "1·1 top left"
    assert document["check_lengths"][0]["to"] == "1·2 bottom right"
    assert document["sheet_to_test"] == {"label": "1·2", "page": 5, "tells": True}
    assert document["ink"] == {"mean_coverage": 0.31}
    assert document["seam_line_mm"] == {"chosen": 41.5, "even": 60.25}
    assert document["suggestions"] == [
        {
            "code": "fewer-sheets", "change": {"margin_mm": 4.5}, "sheet_count": 1,
            "detail": "Fewer.",
        },
        {
            "code": "protect-face", "change": {"protect": [vars(HEAD)]}, "sheet_count": None,
            "detail": "A face.", "faces": [{"face": vars(HEAD), "eyes": [vars(EYE)]}],
        },
    ]  # fmt: skip
