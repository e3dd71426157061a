"""The sums of the drawing aids, in the browser that does them, against those of the worker.

What is shown while a finger moves must be what the service makes of it.
"""

from __future__ import annotations

import itertools
import random
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Browser, Page

from tests.integration.page.test_sums import reckon
from tests.integration.service.conftest import Running
from worker.errors import CornersUnusable
from worker.layout.grid import column_name
from worker.layout.measuring.printer_readings import bars_of
from worker.reference.square_up.corners import quad_of
from worker.reference.square_up.homography import homography, mapped
from worker.reference.square_up.proportion import true_proportion
from worker.spec.formats import SHEET_FORMATS
from worker.spec.json import load_spec
from worker.spec.spec import Tone
from worker.spec.strokes import PEN_WIDTHS_MM
from worker.spec.tone_curve import lightening

CASES = 300
CORNERS = "lib/geometry/quadrilateral"


@pytest.fixture(scope="module")
def page(browser: Browser, running: Running) -> Page:
    """A window that only reckons."""
    page = browser.new_page()
    page.goto(f"{running.url}/js/lib/geometry/quadrilateral.js")
    return page


def slants(seed: int) -> list[dict[str, Any]]:
    """Pages photographed at a slant, their corners in any order; some are no pages at all."""
    chance = random.Random(seed)  # noqa: S311 -- No secret.
    found = []
    for number in range(CASES):
        spread = 0.5 if number % 5 == 0 else 0.18
        corners = [
            [min(max(x + chance.uniform(-spread, spread), 0.0), 1.0) for x in place]
            for place in ((0.2, 0.2), (0.8, 0.2), (0.8, 0.8), (0.2, 0.8))
        ]
        chance.shuffle(corners)
        size = (chance.randint(400, 6000), chance.randint(400, 6000))
        found.append({"corners": corners, "photo": {"widthPx": size[0], "heightPx": size[1]}})
    return found


SQUARED = """
  const corners = m.orderedCorners(one.corners, one.photo);
  const usable = m.isUsable(corners, one.photo);
  return { corners, usable, proportion: usable ? m.trueProportion(corners, one.photo) : null };
"""


def test_corners_and_proportion_are_the_workers(page: Page) -> None:
    given = slants(11)
    taken = 0
    for case, found in zip(given, reckon(page, CORNERS, SQUARED, given), strict=True):
        photo = (case["photo"]["widthPx"], case["photo"]["heightPx"])
        try:
            quad = quad_of(case["corners"], photo)
            proportion = true_proportion(quad)
        except CornersUnusable:
            assert not found["usable"] or found["proportion"] is None
            continue
        taken += 1
        assert np.array(found["corners"]) * photo == pytest.approx(quad.corners_px, abs=1e-6)
        assert found["proportion"] == pytest.approx(proportion, rel=1e-6)
    assert CASES // 2 < taken < CASES


def test_a_place_of_the_square_lies_where_the_worker_has_it(page: Page) -> None:
    given = [case for case in slants(12) if _usable(case)]
    body = """
      const place = m.squareToCorners(m.orderedCorners(one.corners, one.photo));
      return [[0.5, 0.5], [0.1, 0.9], [1, 0.3]].map(([u, v]) => place(u, v));
    """
    places = np.array([[0.5, 0.5], [0.1, 0.9], [1.0, 0.3]])
    for case, found in zip(given, reckon(page, CORNERS, body, given), strict=True):
        photo = (case["photo"]["widthPx"], case["photo"]["heightPx"])
        matrix = homography(quad_of(case["corners"], photo).corners_px, (1.0, 1.0))
        assert np.array(found) * photo == pytest.approx(mapped(matrix, places), abs=1e-4)


def _usable(case: dict[str, Any]) -> bool:
    try:
        quad_of(case["corners"], (case["photo"]["widthPx"], case["photo"]["heightPx"]))
    except CornersUnusable:
        return False
    return True


def test_the_bars_of_a_test_page_are_as_long_as_they_are_drawn(page: Page) -> None:
    formats = list(SHEET_FORMATS.values())
    given = [
        {"name": one.name, "width_mm": one.width_mm, "height_mm": one.height_mm} for one in formats
    ]
    found = reckon(page, "printers/printer-reading", "return m.barsOf(one);", given)
    for one, bars in zip(formats, found, strict=True):
        right = bars_of(one)
        assert (bars["across"], bars["down"]) == pytest.approx((right.across_mm, right.down_mm))


def test_columns_are_named_as_they_are_printed(page: Page) -> None:
    given = [*range(60), 701, 702, 703]
    found = reckon(page, "draw/plan/grid-layer", "return m.columnName(one);", given)
    assert found == [column_name(number) for number in given]


def test_line_weights_go_by_the_steps_of_pens(page: Page) -> None:
    """ISO 9175-1: what is asked for becomes a step, and a press of a button the next one."""
    assert reckon(page, "controls/line-weight-field", "return m.PEN_WIDTHS_MM;", [0]) == [
        list(PEN_WIDTHS_MM)
    ]
    up = reckon(
        page,
        "controls/line-weight-field",
        "return m.nearestPenWidth(one + 0.001, one);",
        list(PEN_WIDTHS_MM),
    )
    assert up == [*PEN_WIDTHS_MM[1:], PEN_WIDTHS_MM[-1]]
    down = reckon(
        page,
        "controls/line-weight-field",
        "return m.nearestPenWidth(one - 0.001, one);",
        list(PEN_WIDTHS_MM),
    )
    assert down == [PEN_WIDTHS_MM[0], *PEN_WIDTHS_MM[:-1]]
    asked = reckon(
        page,
        "controls/line-weight-field",
        "return m.nearestPenWidth(one, 2);",
        [0.3, 0.4, 0.55, 5.0, 0.0],
    )
    assert asked == [0.35, 0.35, 0.5, 2, 0.13]


def test_the_service_takes_every_parting_that_the_handles_can_end_with(page: Page) -> None:
    chance = random.Random(13)  # noqa: S311 -- No secret.
    given = [
        {
            "from": sorted(chance.sample(range(1, 99), chance.randint(2, 6))),
            "count": chance.randint(3, 7),
            "moves": [[chance.randrange(9), chance.uniform(-0.5, 1.5)] for _ in range(9)],
        }
        for _ in range(CASES)
    ]
    body = """
      let now = m.resampledThresholds(one.from.map((each) => each / 100), one.count);
      for (const [index, value] of one.moves) {
        now = m.movedThreshold(now, index % now.length, value);
      }
      return now;
    """
    for case, found in zip(given, reckon(page, "controls/choices/tone", body, given), strict=True):
        values = {"count": case["count"], "thresholds": found}
        support = {"width_mm": 300, "height_mm": 200}
        spec = load_spec({"support": support, "tone": {"style": "values", "values": values}})
        assert spec.tone.values.thresholds == tuple(found)
        assert all(low < high for low, high in itertools.pairwise(found))


def test_only_what_a_style_asks_for_is_sent(page: Page) -> None:
    """Another line weight makes no other pack in grey: the pack would be called stale."""
    body = """
      const state = { ...m.freshState("en"), photo: { widthPx: 600, heightPx: 400 } };
      state.sheets = { ...state.sheets, ...one };
      return m.specOf(state);
    """
    given = [
        {"style": "grey"},
        {"style": "outline", "lineMm": 0.5, "detail": 0.8, "shortestMm": 6, "gridMm": 50},
        {"style": "values", "tones": 3, "thresholds": [0.3, 0.7], "printer": "Grey one"},
    ]
    grey, outline, values = (
        (document, load_spec(document)) for document in reckon(page, "state/state", body, given)
    )
    assert set(grey[0]["tone"]) == {"style", "full_strength", "lighten", "contrast"}
    assert (outline[1].tone.outline.line_mm, outline[1].tone.outline.detail) == (0.5, 0.8)
    assert outline[1].grid is not None
    assert outline[1].grid.square_mm == 50
    assert values[1].tone.values.thresholds == (0.3, 0.7)
    assert values[1].print.printer == "Grey one"


def test_the_page_lightens_as_the_worker_does(page: Page) -> None:
    given = [
        {"style": style, "fullStrength": full, "lighten": lighten}
        for style in ("grey", "colour", "mixed", "values")
        for full in (False, True)
        for lighten in (0.0, 0.3, 1.0)
    ]
    found = reckon(page, "draw/print-tones", "return m.lightening(one);", given)
    expected = [
        lightening(
            Tone(style=each["style"], full_strength=each["fullStrength"], lighten=each["lighten"])
        )
        for each in given
    ]
    assert found == pytest.approx(expected)
