"""Nothing on the page moves by itself, however slow the device and the line are.

The measure is that of W3C Layout Instability; the processor is slowed and answers are held back
by the browser itself, so that a machine with much to do finds what an idle one does.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.integration.page.conftest import Phone
from tests.integration.page.steps import Words, choose_photo, open_tool
from tests.integration.window import PHONE

pytestmark = pytest.mark.slow

WORDS = Words()
#: A phone of the cheaper kind (common practice for this measure).
SLOWED = 4
HELD_BACK_MS = 700
STEPS = ("photo", "paper", "frame", "square", "sheets", "pack", "studio", "printer", "me")
#: Answers come late, and plans with the findings that a test gives them.
HOLD_BACK = f"""
  const answerOf = window.fetch.bind(window);
  window.fetch = async (...asked) => {{
    const answer = await answerOf(...asked);
    await new Promise((go) => {{ setTimeout(go, {HELD_BACK_MS}); }});
    const path = String(asked[0]?.url ?? asked[0]);
    if (!window.findings || !path.endsWith("/v1/plans")) return answer;
    const plan = {{ ...await answer.json(), warnings: window.findings }};
    return Response.json(plan);
  }};
  undefined;
"""
#: All that has moved though nobody had touched anything, and what it was.
NOTE_SHIFTS = """
  window.moved = [];
  const where = ({ node, previousRect: from, currentRect: to }) =>
    `${node?.className ?? "?"} ${(node?.textContent ?? "").slice(0, 40)}: ${from.y} to ${to.y}`;
  new PerformanceObserver((list) => {
    for (const { value, hadRecentInput, sources } of list.getEntries()) {
      if (!hadRecentInput) window.moved.push([value, sources.map(where)]);
    }
  }).observe({ type: "layout-shift", buffered: true });
"""


def slow_down(phone: Phone) -> None:
    """Slow the processor, and hold every answer of the API back."""
    talk = phone.context.new_cdp_session(phone.page)
    talk.send("Emulation.setCPUThrottlingRate", {"rate": SLOWED})
    phone.page.add_init_script(HOLD_BACK)


def moved(page: Page) -> list[Any]:
    """What has moved by itself since the page was loaded."""
    return list(page.evaluate("window.moved"))


def test_no_step_moves_while_it_comes_in(
    phone_at: Callable[..., Phone], running: Any, photo: Path
) -> None:
    """What comes late finds its place kept, or is above nothing that is shown yet.

    On a narrow phone and in Italian, whose texts are long: they run over most lines.
    """
    words = Words("it")
    phone = phone_at(running, locale="it-IT", viewport={**PHONE, "width": 340})
    page = phone.open()
    choose_photo(page, photo, words)
    page.add_init_script(NOTE_SHIFTS)
    slow_down(phone)
    found = {}
    for step in STEPS:
        page.goto("about:blank")
        phone.open(step)
        page.wait_for_load_state("networkidle")
        page.wait_for_timeout(HELD_BACK_MS)
        found[step] = moved(page)
    assert {step: what for step, what in found.items() if what} == {}


@pytest.mark.parametrize("findings_open", [False, True])
def test_a_finding_that_comes_or_goes_leaves_the_finger_where_it_is(
    sheets: Phone, *, findings_open: bool
) -> None:
    """What stands right below the findings stays under the finger, and so does the button."""
    page = sheets.page
    page.evaluate(HOLD_BACK)
    open_tool(page, "settings")
    if findings_open:
        page.locator(".outcome-sum summary").tap()
    lighten = page.get_by_label(WORDS("sheets.lighten"), exact=True)
    more = page.get_by_role("button", name=WORDS("sheets.lighten-more"))
    below = page.locator('.tool[data-tool="settings"]')
    held = [more, below] if findings_open else [more, below, page.locator(".bench-picture")]
    warned = [{"code": "much-ink", "detail": "Ink."}, {"code": "many-sheets", "detail": "Many."}]
    for place, expected in enumerate((warned, [], warned[:1], []), 1):
        page.evaluate("(told) => { window.findings = told; }", expected)
        before = [one.bounding_box() for one in held]
        # Without a finger the page has nothing to excuse a shift by.
        more.dispatch_event("click")
        expect(lighten).to_have_value(str(10 * place))
        expect(page.locator(".outcome-figures .notice")).to_have_count(len(expected))
        # Scrolling goes by whole dots of the screen.
        for one, its in zip(held, before, strict=True):
            assert one.bounding_box() == pytest.approx(its, abs=1)
