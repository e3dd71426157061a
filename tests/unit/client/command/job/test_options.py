"""The options of the command line become the spec, and nothing more is in it."""

from __future__ import annotations

from typing import Any

import click
import pytest
from click.testing import CliRunner

from client.command.job.option_values import MARGINS
from client.command.job.options import spec_options
from client.command.job.specs import OPTION_OF, build_spec, option_of, with_faces
from worker.spec.json import dump_spec, load_spec


def _spec(*words: str) -> dict[str, Any]:
    """The spec of these arguments after `--support 60x40cm`."""
    found: dict[str, Any] = {}

    @click.command()
    @spec_options
    def command(**options: Any) -> None:
        found.update(build_spec(options))

    runner = CliRunner()
    result = runner.invoke(command, ["--support", "60x40cm", *words], standalone_mode=False)
    if result.exception:
        raise result.exception
    return found


def test_only_what_was_said_is_in_the_spec() -> None:
    assert _spec() == {"support": {"width_mm": 600, "height_mm": 400}}


@pytest.mark.parametrize(
    ("words", "room", "value"),
    [
        (["--portrait"], "support", {"width_mm": 400, "height_mm": 600}),
        (["--border", "2cm"], "support", {"width_mm": 600, "height_mm": 400, "border_mm": 20}),
        (["--medium", "paint"], "support", {"width_mm": 600, "height_mm": 400, "medium": "paint"}),
        (["--crop", "0,10%,1,0.8"], "crop", {"left": 0, "top": 0.1, "width": 1, "height": 0.8}),
        (["--focus", "50%,0.25"], "crop", {"focus": [0.5, 0.25]}),
        (["--rotate", "-2.5"], "rotate_deg", -2.5),
        (["--language", "it-CH"], "language", "it"),
        (["--lift", "60%"], "tone", {"lift": 0.6}),
        (["--style", "colour", "--lighten", "30%"], "tone", {"style": "colour", "lighten": 0.3}),
        (["--full-strength"], "tone", {"full_strength": True}),
        (["--within", "1.5mm"], "seams", {"within_mm": 1.5}),
        (["--black-only"], "print", {"black_only": True}),
        (["--contrast", "-0.5"], "tone", {"contrast": -0.5}),
        (["--sheet", "letter"], "sheet", {"format": "na_letter_8.5x11in"}),
        (["--lap", "8mm"], "seams", {"joint": "lap", "lap_mm": 8}),
        (["--joint", "lap"], "seams", {"joint": "lap", "lap_mm": 10}),
        (["--joint", "butt"], "seams", {"joint": "butt"}),
        (["--mirror", "--ppi", "150"], "print", {"mirror": True, "resolution_ppi": 150}),
        (["--across-correction", "1.005"], "print", {"across_correction": 1.005}),
        (["--printer", "Studio laser"], "print", {"printer": "Studio laser"}),
        (["--line", "0.5mm"], "tone", {"style": "outline", "outline": {"line_mm": 0.5}}),
        (
            ["--style", "mixed", "--detail", "70%", "--shortest", "3mm"],
            "tone",
            {"style": "mixed", "outline": {"detail": 0.7, "shortest_mm": 3.0}},
        ),
        (["--tones", "4"], "tone", {"style": "values", "values": {"count": 4}}),
        (
            ["--thresholds", "20%,0.5"],
            "tone",
            {"style": "values", "values": {"count": 3, "thresholds": [0.2, 0.5]}},
        ),
        (["--grid", "5cm"], "grid", {"square_mm": 50.0}),
        (["--no-register-marks"], "seams", {"register_marks": False}),
        (
            ["--grid", "2in", "--diagonals", "--grid-line", "0.25"],
            "grid",
            {"square_mm": 50.8, "diagonals": True, "line_mm": 0.25},
        ),
    ],
)
def test_an_option_sets_its_field(words: list[str], room: str, value: Any) -> None:
    spec = _spec(*words)
    assert spec[room] == (pytest.approx(value) if isinstance(value, float) else value)
    load_spec(spec)


@pytest.mark.parametrize("name", MARGINS)
def test_margins_have_presets(name: str) -> None:
    margin_mm = _spec("--margins", name)["sheet"]["margin_mm"]
    assert tuple(margin_mm.values()) == MARGINS[name]


def test_margins_are_said_clockwise_from_the_top() -> None:
    margin_mm = _spec("--margins", "3,4, 18mm,5")["sheet"]["margin_mm"]
    assert margin_mm == {"top": 3, "right": 4, "bottom": 18, "left": 5}


def test_one_figure_is_all_four_margins() -> None:
    margin_mm = _spec("--margins", "4.5")["sheet"]["margin_mm"]
    assert margin_mm == {"top": 4.5, "right": 4.5, "bottom": 4.5, "left": 4.5}


def test_areas_to_protect_add_up() -> None:
    protect = _spec("--protect", "0,0,.1,.1", "--protect", "50%,50%,10%,10%")["seams"]["protect"]
    assert [area["left"] for area in protect] == [0, 0.5]


def test_faces_and_areas_to_protect_are_told_apart() -> None:
    both = _spec("--protect", "0,0,.1,.1", "--protect", "Faces")
    assert len(both["seams"]["protect"]) == 1
    assert "seams" not in _spec("--protect", "faces")


def test_faces_that_a_plan_offers_are_added_to_the_areas(
    capsys: pytest.CaptureFixture[str],
) -> None:
    own, eye = {"left": 0.0}, {"left": 0.4}
    offer = {"code": "protect-face", "change": {"protect": [eye]}, "faces": [{}]}
    fewer = {"code": "fewer-sheets", "change": {"margin_mm": 4.5}}
    spec = {"support": {}, "seams": {"joint": "lap", "protect": [own]}}
    taken = with_faces(spec, {"suggestions": [offer, fewer]})
    assert taken == {"support": {}, "seams": {"joint": "lap", "protect": [own, eye]}}
    assert spec["seams"]["protect"] == [own]
    assert capsys.readouterr().err == "Protected: 1 face.\n"
    assert with_faces({"support": {}}, {"suggestions": [fewer]}) == {"support": {}}
    assert "No face is found" in capsys.readouterr().err


@pytest.mark.parametrize(
    "words",
    [
        ["--crop", "1,2"],
        ["--crop", "nan,0,1,1"],
        ["--focus", "inf,0"],
        ["--rotate", "nan"],
        ["--ppi", "fine"],
        ["--crop", "0,0,1,1", "--focus", "0,0"],
        ["--joint", "glue"],
        ["--protect", "eyes"],
        ["--line", "thin"],
        ["--thresholds", "dark,light"],
        ["--tones", "five"],
        ["--line", "0.5", "--tones", "5"],
        ["--style", "values", "--line", "0.5"],
        ["--style", "grey", "--detail", "0.3"],
        ["--style", "outline", "--tones", "4"],
        ["--diagonals"],
        ["--grid-line", "0.5"],
    ],
)
def test_what_cannot_be_meant_is_wrong_usage(words: list[str]) -> None:
    with pytest.raises(click.UsageError):
        _spec(*words)


def _paths(document: dict[str, Any], above: str = "") -> set[str]:
    paths = set()
    for name, value in document.items():
        path = f"{above}{name}"
        paths |= _paths(value, f"{path}.") if isinstance(value, dict) else {path}
    return paths


def test_every_field_of_the_contract_can_be_set_from_here() -> None:
    everything = dump_spec(load_spec({"support": {"width_mm": 600, "height_mm": 400}}))
    assert {path for path in _paths(everything) if option_of(path) is None} == set()


def test_a_field_is_told_by_the_nearest_option() -> None:
    assert option_of("sheet.margin_mm.top") == OPTION_OF["sheet.margin_mm"]
    assert option_of("support.width_mm") == "--support"
    assert option_of("nowhere") is None
    assert option_of(None) is None
