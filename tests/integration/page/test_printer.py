"""The printer: its test page, what was measured on it, and a profile that packs are made for."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import pikepdf
import pytest
import requests
from playwright.sync_api import Page, Response, expect

from tests.integration.page.conftest import Phone
from tests.integration.page.steps import Words, choose_photo, heading, open_tool
from tests.integration.service.conftest import Running

WORDS = Words()
NAME = "The grey one in the studio"
STEPS = {"top": "4", "right": "3", "bottom": "12", "left": "3"}


@pytest.fixture
def printers(running: Running, phone: Phone) -> Phone:
    """A phone at the printer's screen of a service that knows no printer."""
    for one in kept(running):
        requests.delete(running.url + one["links"]["self"], timeout=30)
    page = phone.open("printer")
    heading(page, WORDS("printer.title")).wait_for()
    page.locator(".test-leaf").wait_for()
    return phone


def kept(service: Running) -> Any:
    """The printers that the service knows."""
    return requests.get(f"{service.url}/v1/printers", timeout=30).json()["items"]


def judged(page: Page, way: str, length: str) -> str:
    """Type what a bar measured; gives what the page says once the service has judged it."""

    def is_it(answer: Response) -> bool:
        asked = answer.request.post_data_json if answer.url.endswith("/v1/readings") else {}
        return bool(asked.get(f"{way}_mm"))

    open_tool(page, "bars")
    field = page.get_by_label(WORDS(f"printer.{way}"))
    with page.expect_response(is_it):
        field.fill(length)
    verdict = page.locator(".measured", has=field).locator(".verdict")
    verdict.and_(page.locator(":not(:empty)")).wait_for()
    return verdict.text_content() or ""


def save(page: Page) -> Any:
    """Keep the printer, which is asked for its name; gives the request's body."""
    page.get_by_role("button", name=WORDS("printer.make")).click()
    name = page.get_by_label(WORDS("printer.name"), exact=True)
    expect(name).to_be_focused()
    name.fill(NAME)
    with page.expect_request(lambda asked: "/v1/printers" in asked.url) as sent:
        page.get_by_role("button", name=WORDS("printer.make")).click()
    page.get_by_role("main").get_by_text(WORDS("printer.is-kept", name=NAME)).wait_for()
    return sent.value.post_data_json


def test_the_test_page_of_the_chosen_sheet_is_fetched(printers: Phone) -> None:
    page = printers.page
    open_tool(page, "page")
    page.get_by_label(WORDS("paper.sheet")).select_option("iso_a3_297x420mm")
    link = page.get_by_role("link", name=WORDS("printer.download"))
    answer = page.request.get(link.evaluate("(a) => a.href"))
    with pikepdf.open(io.BytesIO(answer.body())) as pdf:
        width_mm = float(pdf.pages[0].mediabox[2]) / 72 * 25.4
    assert width_mm == pytest.approx(297, abs=0.1)


def test_page_fitting_is_named_and_not_kept(printers: Phone) -> None:
    """191 of 200 mm are 95.5 %: what fitting a page does, and no printer (common practice)."""
    page = printers.page
    says = judged(page, "across", "191")
    assert "95.5" in says
    assert WORDS("printer.fitting", percent="95.5") == says
    button = page.get_by_role("button", name=WORDS("printer.make"))
    assert button.get_attribute("aria-disabled") == "true"
    open_tool(page, "keep")
    page.get_by_label(WORDS("printer.name"), exact=True).fill(NAME)
    button.click(force=True)
    # What is wrong is shown instead of saved.
    expect(page.locator(".verdict.wrong")).to_be_visible()
    assert kept(printers.service) == []
    assert judged(page, "across", "199.8") == WORDS("printer.exact")
    assert button.get_attribute("aria-disabled") == "false"


def test_an_inch_is_not_taken_for_a_millimetre(printers: Phone) -> None:
    page = printers.page
    assert judged(page, "down", "7.87") == WORDS("problem.reading-implausible")
    page.get_by_text(WORDS("unit.in"), exact=True).click()
    assert judged(page, "down", "7 7/8") == WORDS("printer.exact")


def test_a_printer_is_kept_and_packs_are_made_for_it(printers: Phone, photo: Path) -> None:
    """Nominal through measured, as the README has it: 200 / 199.2 across, 200 / 201 down."""
    page = printers.page
    assert "1.004" in judged(page, "across", "199.2")
    assert "0.995" in judged(page, "down", "201")
    assert page.locator(".test-bars.lit text").all_text_contents() == [
        "199.2\u00a0mm",
        "201\u00a0mm",
    ]
    open_tool(page, "edges")
    page.get_by_label(WORDS("printer.with-margins")).check()
    for edge, step in STEPS.items():
        page.get_by_label(WORDS(f"paper.{edge}"), exact=True).fill(step)
    body = save(page)
    assert body["margin_mm"] == {edge: float(step) for edge, step in STEPS.items()}
    choose_photo(printers.open("photo"), photo, WORDS)
    printers.open("paper")
    open_tool(page, "printer")
    chosen = page.get_by_label(WORDS("printer.choose"), exact=True)
    chosen.locator("option:checked", has_text=NAME).wait_for(state="attached")
    printers.open("pack")
    with page.expect_request("**/v1/packs") as asked:
        page.get_by_role("button", name=WORDS("pack.make")).click()
    spec = asked.value.post_data_json["spec"]
    assert spec["print"]["across_correction"] == pytest.approx(200 / 199.2, abs=1e-5)
    assert spec["print"]["down_correction"] == pytest.approx(200 / 201, abs=1e-5)
    assert spec["print"]["printer"] == NAME
    assert spec["sheet"]["margin_mm"] == body["margin_mm"]
    page.get_by_role("link", name=WORDS("pack.download")).wait_for()


def test_what_was_measured_in_the_studio_stands_in_the_form(printers: Phone) -> None:
    """One correction, wherever it was measured: 99 of 100 mm are 198 of 200."""
    page = printers.page
    state = page.evaluate("JSON.parse(localStorage.getItem('ricalco.state.1') ?? '{}')")
    state["sheets"] = {**state.get("sheets", {}), "acrossCorrection": 1.0101}
    # Before the page reads it: what is left keeps its own state last.
    text = json.dumps(json.dumps(state))
    page.add_init_script(f"localStorage.setItem('ricalco.state.1', {text})")
    page.reload()
    page.locator(".test-leaf").wait_for()
    open_tool(page, "bars")
    field = page.get_by_label(WORDS("printer.across"))
    field.wait_for()
    assert field.input_value() == "198"
    assert page.get_by_label(WORDS("printer.down")).input_value() == ""


def test_a_printer_is_changed_and_deleted(printers: Phone) -> None:
    page = printers.page
    judged(page, "across", "199")
    save(page)
    judged(page, "across", "200.2")
    with page.expect_request(lambda asked: asked.method == "PATCH") as sent:
        page.get_by_role("button", name=WORDS("printer.save")).click()
    assert sent.value.post_data_json["across_mm"] == 200.2
    open_tool(page, "kept")
    page.get_by_role("button", name=WORDS("printer.forget", name=NAME)).click()
    page.get_by_text(WORDS("printer.nothing-kept")).wait_for()
    assert kept(printers.service) == []
    assert printers.state()["sheets"]["acrossCorrection"] == 1
