"""The page's own sums, in the browser that does them, against those of worker and command.

The page draws crop and seams before the service has answered, so both must mean the same.
"""

from __future__ import annotations

import math
import random
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from client.command.job.sizes import read_size
from tests.integration.service.conftest import Running
from tests.pictures.planted_faces import planted_face
from worker.layout.crop.crop import resolve_crop
from worker.spec.json import load_spec
from worker.spec.spec import Focus, Spec, Support

CASES = 300


@pytest.fixture(scope="module")
def page(browser: Browser, running: Running) -> Page:
    """A window that only reckons."""
    page = browser.new_page()
    page.goto(f"{running.url}/js/lib/geometry/crop.js")
    return page


def reckon(page: Page, module: str, body: str, given: Any) -> Any:
    """What `body` makes of `given`; `m` is the module."""
    loading = f"import('/js/{module}.js').then((m) => given.map((one) => {{ {body} }}))"
    return page.evaluate(f"(given) => {loading}", given)


def jobs(seed: int) -> list[dict[str, Any]]:
    """Photos, supports and turns as they come."""
    chance = random.Random(seed)  # noqa: S311 -- No secret.
    return [
        {
            "photo": {"widthPx": chance.randint(300, 8000), "heightPx": chance.randint(300, 8000)},
            "support": [chance.uniform(80, 3000), chance.uniform(80, 2000)],
            "deg": chance.choice([0, 0, chance.uniform(-45, 45)]),
            "asked": {name: chance.uniform(-0.2, 1.2) for name in ("cx", "cy", "width")},
        }
        for _ in range(CASES)
    ]


def test_the_largest_frame_is_the_workers(page: Page) -> None:
    given = jobs(1)
    body = "return m.largestFrame(one.photo, one.support[0] / one.support[1], one.deg);"
    for job, frame in zip(given, reckon(page, "lib/geometry/crop", body, given), strict=True):
        support = Support(width_mm=job["support"][0], height_mm=job["support"][1])
        spec = Spec(support=support, crop=Focus(x=0.5, y=0.5), rotate_deg=job["deg"])
        crop = resolve_crop(spec, job["photo"]["widthPx"], job["photo"]["heightPx"])
        assert frame["width"] == pytest.approx(crop.width, rel=1e-9)
        assert frame["height"] == pytest.approx(crop.height, rel=1e-9)


def test_the_default_frame_is_the_workers(page: Page) -> None:
    """With up to three faces, of all sizes, wherever they are."""
    chance = random.Random(5)  # noqa: S311 -- No secret.
    given, found = jobs(4), []
    for job in given:
        faces = [
            planted_face(chance.random(), chance.random(), chance.uniform(0.02, 0.5))
            for _ in range(chance.randint(0, 3))
        ]
        found.append(faces)
        job["faces"] = [{"face": vars(one.box), "head": vars(one.head)} for one in faces]
    body = """
      return m.defaultFrame(one.photo, one.support[0] / one.support[1], one.deg, one.faces);
    """
    frames = reckon(page, "lib/geometry/heads", body, given)
    for job, faces, frame in zip(given, found, frames, strict=True):
        support = Support(width_mm=job["support"][0], height_mm=job["support"][1])
        spec = Spec(support=support, rotate_deg=job["deg"])
        crop = resolve_crop(spec, job["photo"]["widthPx"], job["photo"]["heightPx"], faces)
        middle = (crop.left + crop.width / 2, crop.top + crop.height / 2)
        assert (frame["cx"], frame["cy"]) == pytest.approx(middle, abs=1e-6)
        assert frame["width"] == pytest.approx(crop.width, rel=1e-9)


def test_the_worker_takes_every_frame_that_the_page_can_end_with(page: Page) -> None:
    given = jobs(2)
    body = """
      const state = {
        photo: one.photo,
        paper: { widthMm: one.support[0], heightMm: one.support[1], borderMm: 0, tone: "light",
                 medium: "other",
                 sheetFormat: "iso_a3_297x420mm",
                 margin: { top: 5, right: 5, bottom: 5, left: 5 } },
        frame: { ...one.asked, rotateDeg: one.deg },
        sheets: { ...m.freshState("en").sheets },
      };
      return m.specOf(state);
    """
    for job, document in zip(given, reckon(page, "state/state", body, given), strict=True):
        spec = load_spec(document)
        crop = resolve_crop(spec, job["photo"]["widthPx"], job["photo"]["heightPx"])
        width_px = crop.width * job["photo"]["widthPx"]
        height_px = crop.height * job["photo"]["heightPx"]
        proportion = job["support"][0] / job["support"][1]
        assert width_px / height_px == pytest.approx(proportion, rel=1e-6)
        assert document["crop"]["left"] == pytest.approx(crop.left, abs=1e-6)


def test_a_place_of_the_picture_comes_back_to_itself(page: Page) -> None:
    given = [{**job, "at": [0.3, 0.8]} for job in jobs(3)]
    body = """
      const frame = m.resolveFrame({ ...one.asked, rotateDeg: one.deg }, one.photo, 1.4);
      const there = m.pictureToReference(frame, one.photo, ...one.at);
      const back = m.referenceToPicture(frame, one.photo, there.x, there.y);
      return [back.x, back.y];
    """
    for back in reckon(page, "lib/geometry/crop", body, given):
        assert back == pytest.approx([0.3, 0.8], abs=1e-9)


@pytest.mark.parametrize(
    "text",
    [
        "60x40cm",
        "60 × 40 cm",
        "594x420mm",
        "59,4 × 42 cm",
        "22x30in",
        "22 1/2 x 30 in",
        "22½ × 30 in",
        '22-1/2" x 30"',
        "1.5 x 1 m",
        "420mm x 59.4cm",
    ],
)
def test_sizes_are_read_as_the_command_reads_them(page: Page, text: str) -> None:
    (found,) = reckon(page, "lib/texts/units", "return m.readSize(one, 'cm');", [text])
    size = read_size(text)
    assert found["widthMm"] == pytest.approx(size.width_mm)
    assert found["heightMm"] == pytest.approx(size.height_mm)


def test_a_length_that_was_written_is_read_again(page: Page) -> None:
    given = [
        {"mm": mm, "unit": unit, "language": language}
        for mm in (5, 12.7, 100, 254, 594, 609.6, 1234.5, 19.05)
        for unit in ("cm", "mm", "in")
        for language in ("en", "it")
    ]
    body = "return m.readLength(m.writeLength(one.mm, one.unit, one.language), one.unit);"
    for one, mm in zip(given, reckon(page, "lib/texts/units", body, given), strict=True):
        # Inches are written to a sixteenth or to a hundredth.
        assert mm == pytest.approx(one["mm"], abs=0.13 if one["unit"] == "in" else 0.051)


@pytest.mark.parametrize("text", ["", "wide", "40x", "1/0", "4..2", "-5", "5 km"])
def test_what_is_no_length_is_none(page: Page, text: str) -> None:
    assert reckon(page, "lib/texts/units", "return m.readLength(one, 'cm');", [text]) == [None]


@pytest.mark.parametrize(
    ("measured_mm", "verdict", "factor"),
    [
        (100.0, "fine", None),
        # As the plan allows, and no more.
        (100.2, "fine", None),
        (100.4, "correct", 100 / 100.4),
        (99.0, "correct", 100 / 99),
        (101.5, "correct", 100 / 101.5),
        # README, "Printing, in short": 94 to 97 mm means that page fitting is on.
        (94.0, "fitted", None),
        (96.9, "fitted", None),
        (80.0, "again", None),
        (3.94, "unit", None),
    ],
)
def test_a_length_on_a_sheet_says_what_the_readme_says(
    page: Page, measured_mm: float, verdict: str, factor: float | None
) -> None:
    body = "return m.readSheet({ nominalMm: 100, measuredMm: one, toleranceMm: 0.25 });"
    (found,) = reckon(page, "lib/paper/measured-length", body, [measured_mm])
    assert found["verdict"] == verdict
    # Four decimals: a twentieth of a millimetre on a metre.
    assert found.get("factor") == (pytest.approx(factor, abs=5e-5) if factor else None)


def test_diagonals_tell_which_way_a_sheared_picture_leans(page: Page) -> None:
    """The corners of a real parallelogram, measured by Pythagoras."""
    width, height, shift = 600.0, 400.0, 3.0
    given = {
        "fallingMm": math.hypot(width - shift, height),
        "risingMm": math.hypot(width + shift, height),
        "widthMm": width,
        "toleranceMm": 1,
    }
    (found,) = reckon(page, "lib/paper/measured-length", "return m.readDiagonals(one);", [given])
    assert (found["verdict"], found["toward"]) == ("leans", "right")
    assert found["shiftMm"] == pytest.approx(shift)
