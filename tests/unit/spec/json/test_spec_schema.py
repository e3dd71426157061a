"""The spec's door: what it takes, what it refuses, and which field it names."""

from __future__ import annotations

import json
from typing import Any

import pytest
from marshmallow import ValidationError

from tests.folded import fold
from worker.errors import SpecInvalid
from worker.spec.json import check_part, dump_spec, flatten, load_spec
from worker.spec.spec import Area, Focus, Seams, Spec, Support

SMALLEST = {"support": {"width_mm": 600, "height_mm": 400}}

#: The example of the contract, as it stands there.
EXAMPLE = json.loads("""
{
  "support": {"width_mm": 600, "height_mm": 400, "border_mm": 0, "tone": "light",
              "medium": "other"},
  "crop":    {"left": 0.0, "top": 0.1, "width": 1.0, "height": 0.8},
  "rotate_deg": 0,
  "tone":    {"style": "grey", "full_strength": true, "lighten": 0.0, "lift": 0.0, "contrast": 0.0,
              "outline": {"line_mm": 0.35, "detail": 0.5, "shortest_mm": 2.5, "shadows": "none"},
              "values": {"count": 5, "thresholds": null, "smallest_mm": 2.0}},
  "sheet":   {"format": "iso_a4_210x297mm",
              "margin_mm": {"top": 5, "right": 5, "bottom": 5, "left": 5}},
  "seams":   {"joint": "butt", "lap_mm": 0, "arrangement": "aligned", "placement": "quiet",
              "protect": [{"left": 0.4, "top": 0.2, "width": 0.2, "height": 0.1}],
              "register_marks": true, "within_mm": 1.5},
  "print":   {"resolution_ppi": 200, "mirror": false, "black_only": true,
              "across_correction": 1.0, "down_correction": 1.0, "printer": "Studio laser"},
  "grid":    {"square_mm": 50, "diagonals": true, "line_mm": 0.25},
  "language": "it"
}
""")


def changed(path: str, value: Any) -> dict[str, Any]:
    """The example with one field changed."""
    document: dict[str, Any] = json.loads(json.dumps(EXAMPLE))
    *groups, name = path.split(".")
    place = document
    for group in groups:
        place = place[group]
    place[name] = value
    return document


def test_everything_but_the_support_has_a_default() -> None:
    assert load_spec(SMALLEST) == Spec(support=Support(width_mm=600, height_mm=400))


def test_the_example_of_the_contract_is_read_and_written_back() -> None:
    spec = load_spec(EXAMPLE)
    assert spec.crop == Area(left=0, top=0.1, width=1, height=0.8)
    area = Area(left=0.4, top=0.2, width=0.2, height=0.1)
    assert spec.seams == Seams(protect=(area,), within_mm=1.5)
    assert dump_spec(spec) == EXAMPLE


def test_a_dumped_spec_is_the_same_job() -> None:
    spec = load_spec(changed("crop", {"focus": [0.25, 1]}))
    assert spec.crop == Focus(x=0.25, y=1.0)
    assert load_spec(json.loads(json.dumps(dump_spec(spec)))) == spec


@pytest.mark.parametrize("crop", [None, {"focus": [0, 0]}, EXAMPLE["crop"]])
def test_a_crop_is_an_area_a_focus_or_nothing(crop: Any) -> None:
    assert dump_spec(load_spec(changed("crop", crop)))["crop"] == crop


REFUSED = [
    ("support.width_mm", 19.9),
    ("support.width_mm", 10_001),
    ("support.width_mm", "600"),
    ("support.width_mm", True),
    ("support.width_mm", None),
    ("support.width_mm", float("nan")),
    ("support.width_mm", float("inf")),
    ("support.width_mm", 10**400),
    ("support.height_mm", [400]),
    ("support.border_mm", -1),
    ("support.border_mm", 5001),
    ("support.tone", "white"),
    ("support.tone", 3),
    ("support.medium", "crayon"),
    ("support.colour", "light"),
    ("rotate_deg", 45.1),
    ("rotate_deg", False),
    ("tone.style", "sketch"),
    ("tone.outline.line_mm", 0.4),
    ("tone.outline.detail", 1.1),
    ("tone.outline.shortest_mm", -1),
    ("tone.values.count", 2),
    ("tone.values.count", 4.5),
    ("tone.values.thresholds", [0.2, 0.4]),
    ("tone.values.thresholds", [0.2, 0.6, 0.4, 0.8]),
    ("tone.values.smallest_mm", 21),
    ("tone.lighten", 1.01),
    ("seams.within_mm", 0.2),
    ("tone.lift", 1.01),
    ("tone.lift", True),
    ("tone.contrast", -1.01),
    ("sheet.format", ""),
    ("sheet.format", "x" * 65),
    ("sheet.margin_mm.top", 61),
    ("sheet.margin_mm.left", -0.1),
    ("seams.joint", "glue"),
    ("seams.lap_mm", 5),
    ("seams.lap_mm", 31),
    ("seams.arrangement", "random"),
    ("seams.placement", "loud"),
    ("seams.protect", [EXAMPLE["crop"]] * 51),
    ("seams.protect", "eyes"),
    ("print.resolution_ppi", 71),
    ("print.resolution_ppi", 601),
    ("print.mirror", "false"),
    ("print.mirror", 0),
    ("print.across_correction", 0.979),
    ("print.down_correction", 1.021),
    ("print.printer", "x" * 61),
    ("print.printer", "Attic\nupstairs"),
    ("print.printer", "Attic\n"),
    ("print.printer", "Attic\0"),
    ("print.printer", "Attic \ud83d"),
    ("grid.square_mm", 4),
    ("grid.line_mm", 0.2),
    ("grid.spacing_mm", 10),
    ("crop.height", 0.95),
    ("crop.width", 0),
    ("crop.width", 101),
    ("crop.left", -0.1),
    ("colour", "red"),
]


@fold(("path, value", REFUSED))
def test_a_field_that_makes_no_sense_is_named(path: str, value: Any) -> None:
    with pytest.raises(SpecInvalid) as caught:
        load_spec(changed(path, value))
    assert list(caught.value.fields) == [path]
    assert caught.value.field == path
    assert caught.value.detail.startswith(f"{path}: ")


def test_a_protected_area_is_named_by_its_place_in_the_list() -> None:
    areas = [EXAMPLE["crop"], {"left": 0.9, "top": 0, "width": 0.2, "height": 0.1}]
    with pytest.raises(SpecInvalid) as caught:
        load_spec(changed("seams.protect", areas))
    assert list(caught.value.fields) == ["seams.protect.1.width"]


def test_more_than_two_percent_means_that_page_fitting_is_on() -> None:
    with pytest.raises(SpecInvalid, match="page fitting is on"):
        load_spec(changed("print.down_correction", 0.95))


def test_a_turned_crop_may_begin_outside_since_it_ends_inside() -> None:
    """The layout judges it: it alone knows the photo's proportions."""
    document = changed("crop", {"left": -0.1, "top": 0.2, "width": 1.2, "height": 0.5})
    with pytest.raises(SpecInvalid) as caught:
        load_spec(document)
    assert caught.value.field == "crop.left"
    document["rotate_deg"] = 40
    assert load_spec(document).crop == Area(left=-0.1, top=0.2, width=1.2, height=0.5)


def test_a_crop_that_a_plan_gave_is_taken_back() -> None:
    """Whatever the last binary digit says."""
    load_spec(
        changed("crop", {"left": -1e-17, "top": 0.1, "width": 1 + 1e-16, "height": 0.9 + 1e-16})
    )


def test_a_lap_joint_needs_a_lap() -> None:
    document = changed("seams.joint", "lap")
    with pytest.raises(SpecInvalid) as caught:
        load_spec(document)
    assert caught.value.field == "seams.lap_mm"
    document["seams"]["lap_mm"] = 8
    assert load_spec(document).seams.lap_mm == 8


@pytest.mark.parametrize("focus", [[0.5], [0.5, 0.5, 0.5], [0.5, 1.5], [0.5, "0.5"], 0.5, None])
def test_a_focus_is_two_shares(focus: Any) -> None:
    with pytest.raises(SpecInvalid) as caught:
        load_spec(changed("crop", {"focus": focus}))
    assert caught.value.field is not None
    assert caught.value.field.startswith("crop.focus")


@pytest.mark.parametrize("document", [None, [], "spec", 5, True])
def test_a_spec_is_an_object(document: Any) -> None:
    with pytest.raises(SpecInvalid) as caught:
        load_spec(document)
    assert caught.value.field is None


def test_every_fault_is_told_at_once() -> None:
    with pytest.raises(SpecInvalid) as caught:
        load_spec({"tone": {"style": "x", "lighten": 9}})
    assert set(caught.value.fields) == {"support", "tone.style", "tone.lighten"}
    assert "2 more fields are at fault" in caught.value.detail


@pytest.mark.parametrize(
    ("part", "at_fault"),
    [
        ({}, []),
        ({"seams": {"lap_mm": 5}, "support": {"width_mm": 300}, "grid": None}, []),
        ({"tone": {"outline": {"detail": 0.3}}, "crop": {"focus": [0.5, 0.5]}}, []),
        ({"colour": 1}, ["colour"]),
        ({"support": {"widht_mm": 300}, "rotate_deg": 90}, ["rotate_deg", "support.widht_mm"]),
        ({"sheet": {"margin_mm": {"top": "3"}}}, ["sheet.margin_mm.top"]),
        ({"support": None, "tone": 7}, ["support", "tone"]),
        ({"grid": {"diagonals": True}}, ["grid.square_mm"]),
        ({"crop": {"left": 0}}, ["crop.height", "crop.top", "crop.width"]),
        ({"seams": {"protect": [{"left": 2, "top": 0, "width": 1, "height": 1}]}},
         ["seams.protect.0.left"]),
    ],
)  # fmt: skip
def test_a_part_of_a_spec_is_checked_by_itself(part: dict[str, Any], at_fault: list[str]) -> None:
    """Whatever it is laid over; what only the whole can tell is not asked of it."""
    found: dict[str, list[str]] = {}
    try:
        check_part(part)
    except ValidationError as error:
        found = flatten(error.messages)
    assert sorted(found) == at_fault
