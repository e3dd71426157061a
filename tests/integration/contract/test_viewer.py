"""The page that shows the document works in a real Chromium, within its content policy."""

from __future__ import annotations

from playwright.sync_api import Browser, expect

from tests.integration.contract.conftest import Described

PATIENCE_MS = 120_000


def test_the_page_shows_every_call_and_asks_no_other_host(
    described: Described, browser: Browser
) -> None:
    url, asked, refused = described.running.url, [], []
    page = browser.new_page(viewport={"width": 390, "height": 844})
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda said: refused.append(said.text) if "Policy" in said.text else 0)
    page.goto(f"{url}/v1/docs")
    expect(page.locator("#operations-packs-create_pack")).to_be_visible(timeout=PATIENCE_MS)
    shown = page.locator(".opblock").count()
    page.locator("#operations-packs-create_pack .opblock-summary-control").click()
    expect(page.get_by_text("too-many-unfinished").first).to_be_visible(timeout=PATIENCE_MS)
    page.close()
    # What the service asks of receivers is shown beside what it is asked.
    told = (described.contract["paths"] | described.contract["webhooks"]).values()
    assert shown == sum(method != "parameters" for ones in told for method in ones)
    assert [one for one in asked if not one.startswith((f"{url}/", "data:"))] == []
    assert refused == []
