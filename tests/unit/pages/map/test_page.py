"""The assembly map."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pytest

from worker.pages.map.placement import place_map
from worker.pages.pack_content import PackContent, PackText
from worker.pdf.raster import rasterise
from worker.spec.plan import Rect
from worker.spec.spec import Seams, Sheet, Spec, Support

SPECS = {
    "one": Spec(support=Support(width_mm=180, height_mm=130, border_mm=10)),
    "six": Spec(support=Support(width_mm=600, height_mm=400)),
    "portrait": Spec(support=Support(width_mm=400, height_mm=600, border_mm=15)),
    "strip": Spec(support=Support(width_mm=2400, height_mm=200)),
    "mural": Spec(support=Support(width_mm=3000, height_mm=2000)),
    "letter": Spec(
        support=Support(width_mm=558.8, height_mm=762),
        sheet=Sheet(format="na_letter_8.5x11in"),
        seams=Seams(arrangement="staggered", joint="lap", lap_mm=6),
    ),
}


JOINED = {name: spec for name, spec in SPECS.items() if name != "one"}


@pytest.mark.parametrize("spec", JOINED.values(), ids=JOINED.keys())
def test_map_tells_pieces_lengths_and_stacks(
    make: Callable[..., Any], read: Callable[[Path, int], str], spec: Spec
) -> None:
    made = make(spec)
    words = read(made.path, 1)
    for piece in made.plan.pieces:
        assert piece.label in words
    for check in made.plan.check_lengths:
        assert f"{check.length_mm:.1f} mm" in words
        assert f"± {check.tolerance_mm:.1f}" in words
    assert "7K3F-Q2ZD" in words
    assert "Still life with a pear" in words
    assert f"{made.plan.trim_stacks[0].margin_mm['bottom']:.1f}" in words


@pytest.mark.parametrize("spec", SPECS.values(), ids=SPECS.keys())
def test_drawing_is_to_scale_and_on_the_page(pack: Callable[..., PackContent], spec: Spec) -> None:
    made = pack(spec)
    room = Rect(15, 50, 180, 190)
    placement = place_map(made, room)
    picture = made.plan.picture
    assert placement.picture.width / picture.width_mm == pytest.approx(placement.scale)
    assert placement.picture.height / picture.height_mm == pytest.approx(placement.scale)
    assert placement.support.left >= room.left
    assert placement.support.right <= room.right
    assert placement.support.top >= room.top
    assert placement.support.bottom <= room.bottom
    border = spec.support.border_mm * placement.scale
    assert placement.picture.left - placement.support.left == pytest.approx(border)


@pytest.mark.parametrize("spec", SPECS.values(), ids=SPECS.keys())
def test_ink_stays_inside_the_printers_margins(make: Callable[..., Any], spec: Spec) -> None:
    made = make(spec)
    for page in range(1, min(3, made.plan.page_count) + 1):
        seen = np.asarray(rasterise(made.path, page, 72).convert("L"))
        edge = int(5 / 25.4 * 72)
        for strip in (seen[:edge], seen[-edge:], seen[:, :edge], seen[:, -edge:]):
            assert strip.min() == 255


def test_map_is_vector_over_one_faint_picture(make: Callable[..., Any]) -> None:
    with pikepdf.open(make(SPECS["six"]).path) as pdf:
        steps = pikepdf.parse_content_stream(pdf.pages[0])
        assert sum(str(step.operator) == "Do" for step in steps) == 1


@pytest.mark.parametrize(
    "title",
    ["", " ", "x" * 300, "Very long words and many of them " * 9, "صورة العائلة " * 20, "\x00\x07"],
)
def test_any_title_finds_room(make: Callable[..., Any], title: str) -> None:
    made = make(SPECS["six"], text=PackText(title=title, number="7K3F-Q2ZD"))
    seen = np.asarray(rasterise(made.path, 1, 72).convert("L"))
    assert seen[:, -30:].min() == 255


def test_mirrored_is_said(make: Callable[..., Any], read: Callable[[Path, int], str]) -> None:
    spec = SPECS["six"]
    made = make(replace(spec, print=replace(spec.print, mirror=True)))
    assert "mirrored" in read(made.path, 1)
