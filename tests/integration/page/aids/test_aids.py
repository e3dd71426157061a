"""Lines, values and the photo beside them: chosen on the page, drawn by the service, printed."""

from __future__ import annotations

import io
import re
from base64 import b64decode
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pytest
from PIL import Image
from playwright.sync_api import Page, Request, Response, expect

from tests.integration.page.conftest import Phone, at_sheets
from tests.integration.page.steps import Words, choose_photo, heading, open_tool, set_paper, tab_to
from tests.integration.page.test_first_load import NOTE_SHIFTS
from tests.integration.page.test_way import downloaded

WORDS = Words()
#: The width of the small pictures of the styles (draw/style-pictures.js).
SMALL_PX = 320
TABLET = {"width": 1024, "height": 768}


def is_large(asked: Request) -> bool:
    """Whether the print is asked for, and not a style's small picture."""
    return asked.url.endswith("/v1/previews") and asked.post_data_json["width_px"] > SMALL_PX


def preview_of(**wanted: Any) -> Callable[[Response], bool]:
    """Whether an answer is the preview of these tones."""

    def is_it(answer: Response) -> bool:
        if not is_large(answer.request):
            return False
        tone = answer.request.post_data_json["spec"]["tone"]
        flat = {**tone, **tone.get("outline", {}), **tone.get("values", {})}
        return wanted.items() <= flat.items()

    return is_it


def drawn(page: Page) -> np.ndarray[Any, Any]:
    """The print as it is shown, once nothing is being drawn: its greys."""
    expect(page.locator(".plan-easel").last).to_have_attribute("aria-busy", "false")
    packed: str = page.locator(".plan-print img").evaluate(
        """(image) => {
          const canvas = document.createElement("canvas");
          canvas.width = image.naturalWidth;
          canvas.height = image.naturalHeight;
          canvas.getContext("2d").drawImage(image, 0, 0);
          return canvas.toDataURL("image/png").split(",")[1];
        }"""
    )
    with Image.open(io.BytesIO(b64decode(packed))) as picture:
        return np.asarray(picture.convert("L"))


def test_lifted_blacks_are_drawn_by_the_service(sheets: Phone) -> None:
    """The page has no reading of the photo, so it asks, and stops asking at nothing."""
    page = sheets.page
    open_tool(page, "settings")
    more = page.get_by_role("button", name=WORDS("sheets.lift-more"), exact=True)
    less = page.get_by_role("button", name=WORDS("sheets.lift-less"), exact=True)
    with page.expect_response(preview_of(style="grey", lift=0.1)):
        more.tap()
    expect(page.locator(".plan-print")).to_be_visible()
    assert drawn(page).size
    less.tap()
    expect(page.locator(".plan-print")).to_be_hidden()


def choose_style(page: Page, style: str) -> np.ndarray[Any, Any]:
    """Choose a style by its name; gives what is shown then."""
    open_tool(page, "style")
    with page.expect_response(preview_of(style=style)):
        page.get_by_text(WORDS(f"style.{style}"), exact=True).tap()
    page.locator(".plan-print img").wait_for()
    return drawn(page)


def test_line_under_tape_is_told_of_what_is_traced_in_each_style(phone: Phone, photo: Path) -> None:
    """Of a photo, of strokes and of flat tones it is the length of something else."""
    at_sheets(phone, photo)
    page = phone.page
    shape, costs = page.locator(".outcome-sum .facts"), page.locator(".seam-choices .cost")
    before = ""
    for style in ("grey", "outline", "values"):
        if before:
            choose_style(page, style)
            expect(shape).not_to_have_text(before)
        expect(shape).to_contain_text("cm of line to trace")
        open_tool(page, "seams")
        expect(costs.last).to_have_text(re.compile(r"\d+\scm"))
        before = shape.text_content() or ""


def test_a_photo_that_has_it_is_printed_as_finely_as_an_eye_sees(
    phone: Phone, tmp_path: Path
) -> None:
    """3000 pixels on 30 cm are 254 to the inch: a line and its gap are 2 × 25.4 / 254 mm."""
    large = tmp_path / "large.jpg"
    # Blocks with crisp edges: an enlarged photograph does not have what its pixels promise.
    blocks = np.random.default_rng(1).integers(0, 256, (100, 150, 3), np.uint8)
    Image.fromarray(blocks.repeat(20, 0).repeat(20, 1)).save(large, quality=80)
    page = phone.open()
    choose_photo(page, large, WORDS)
    phone.open("paper")
    set_paper(page, WORDS, "30", "20")
    phone.open("sheets")
    facts, says = page.locator(".facts"), "sheets.sharp.says"
    expect(facts).to_contain_text(WORDS(says, mm="0.25"))
    open_tool(page, "more")
    fine = page.get_by_role("checkbox", name=WORDS("sheets.fine"))
    fine.check()
    expect(facts).to_contain_text(WORDS(says, mm="0.2"))
    expect(facts).not_to_contain_text("0.25")
    choose_style(page, "outline")
    open_tool(page, "more")
    page.get_by_role("checkbox", name=WORDS("sheets.mirror")).wait_for()
    expect(fine).to_be_hidden()


def test_more_detail_draws_more_lines(sheets: Phone) -> None:
    page = sheets.page
    plain = choose_style(page, "outline")
    # Lines on blank paper: most of it is white, and little of it is ink.
    assert 0.6 < (plain > 250).mean() < 0.995
    open_tool(page, "settings")
    detail = page.get_by_label(WORDS("style.detail-percent"))
    with page.expect_response(preview_of(detail=0.95)):
        detail.fill("95")
        detail.press("Enter")
    much = drawn(page)
    with page.expect_response(preview_of(detail=0.05)):
        detail.fill("5")
        detail.press("Enter")
    little = drawn(page)
    assert (255 - little.astype(int)).mean() < (255 - plain.astype(int)).mean()
    assert (255 - plain.astype(int)).mean() < (255 - much.astype(int)).mean()


def test_the_newest_choice_wins_and_none_is_asked_for_in_vain(sheets: Phone) -> None:
    """While one is drawn the last stays to be seen, and of those meanwhile one is asked for."""
    page = sheets.page
    choose_style(page, "outline")
    asked: list[float] = []
    page.on(
        "request",
        lambda one: (
            is_large(one) and asked.append(one.post_data_json["spec"]["tone"]["outline"]["detail"])
        ),
    )
    open_tool(page, "settings")
    slider = page.locator(".line-fields input[type=range]")
    slider.focus()
    before = page.locator(".plan-print img").get_attribute("src")
    for _ in range(9):
        page.keyboard.press("ArrowRight")
    # The old picture is there while the new one is drawn, and a quiet word says so.
    assert page.locator(".plan-print img").get_attribute("src") == before
    page.locator(".plan-sign").wait_for()
    drawn(page)
    assert asked[-1] == pytest.approx(0.95)
    assert len(asked) < 9
    assert page.locator(".plan-print img").get_attribute("src") != before
    page.locator(".plan-sign").wait_for(state="hidden")


def test_nothing_jumps_while_the_print_is_drawn(sheets: Phone) -> None:
    page = sheets.page
    choose_style(page, "outline")
    open_tool(page, "settings")
    page.evaluate(NOTE_SHIFTS)
    slider = page.locator(".line-fields input[type=range]")
    slider.evaluate("(one) => { one.value = 0.9; one.dispatchEvent(new Event('input')); }")
    page.locator(".plan-sign").wait_for()
    drawn(page)
    page.wait_for_timeout(600)
    assert page.evaluate("window.shifted") == 0


def test_a_print_that_cannot_be_drawn_leaves_the_last_one(sheets: Phone) -> None:
    sheets.expected = ("Failed to load resource",)
    page = sheets.page
    choose_style(page, "outline")
    open_tool(page, "settings")
    before = page.locator(".plan-print img").get_attribute("src")
    page.route("**/v1/previews", lambda route: route.abort())
    page.get_by_role("button", name=WORDS("style.detail-more")).tap()
    page.locator(".plan-trouble", has_text=WORDS("problem.offline")).wait_for()
    assert page.locator(".plan-print img").get_attribute("src") == before
    page.unroute("**/v1/previews")
    page.get_by_role("button", name=WORDS("style.detail-more")).tap()
    expect(page.locator(".plan-print img")).not_to_have_attribute("src", before or "")
    expect(page.locator(".plan-trouble")).to_be_empty()


def test_a_pack_of_outlines_holds_strokes_and_no_picture(sheets: Phone, tmp_path: Path) -> None:
    page = sheets.page
    choose_style(page, "outline")
    sheets.open("pack")
    page.get_by_role("button", name=WORDS("pack.make")).tap()
    link = page.get_by_role("link", name=WORDS("pack.download"))
    link.wait_for()
    with pikepdf.open(downloaded(page, link, tmp_path)) as pdf:
        sheets_of = [one for one in pdf.pages if "1·1" in text_of(one) or curves_of(one) > 100]
        assert len(sheets_of) >= 4
        for sheet in pdf.pages[3:]:
            assert [name for name, kind in xobjects_of(sheet) if kind == "/Image"] == []
            assert curves_of(sheet) > 20


def xobjects_of(page: pikepdf.Page) -> list[tuple[str, str]]:
    """What a page draws by name, and of which kind each is."""
    found = page.resources.get("/XObject", {})
    return [(str(name), str(one.get("/Subtype"))) for name, one in found.items()]


def curves_of(page: pikepdf.Page) -> int:
    """How many Bézier curves a page draws (ISO 32000-1, 8.5.2.1: the operator c)."""
    return sum(str(one.operator) == "c" for one in pikepdf.parse_content_stream(page))


def text_of(page: pikepdf.Page) -> str:
    """The bytes of a page's content, as far as they are letters."""
    return page.contents_coalesce() or ""


def test_values_are_parted_by_keys_alone(sheets: Phone) -> None:
    """The handles are a slider each; what was found is where they begin."""
    page, keys = sheets.page, sheets.page.keyboard
    tab_to(page, page.locator('[data-tool="style"]'))
    keys.press("Enter")
    tab_to(page, page.locator("input[name=style]:checked"))
    with page.expect_response(preview_of(style="values")) as found:
        for _ in range(4):
            keys.press("ArrowRight")
    told = [float(one) for one in found.value.headers["ricalco-thresholds"].split(",")]
    tab_to(page, page.locator('[data-tool="settings"]'), back=True)
    keys.press("Enter")
    handles = page.get_by_role("slider", name=re.compile(r"^Between tones"))
    expect(handles).to_have_count(4)
    drawn(page)
    shown = [float(one.get_attribute("aria-valuenow") or "") for one in handles.all()]
    assert shown == pytest.approx([one * 100 for one in told], abs=0.51)
    tab_to(page, handles.nth(1))
    with page.expect_response(
        lambda answer: (
            preview_of()(answer)
            and answer.request.post_data_json["spec"]["tone"]["values"]["thresholds"] is not None
        )
    ):
        keys.press("ArrowRight")
    drawn(page)
    kept = sheets.state()["sheets"]["thresholds"]
    right = [*told]
    right[1] += 0.01
    assert kept == pytest.approx(right, abs=0.0006)
    assert page.locator("input[name=parting]:checked").get_attribute("value") == "hand"
    # As few tones as asked for, and never a handle beyond its neighbour.
    for _ in range(40):
        keys.press("PageUp")
    kept = sheets.state()["sheets"]["thresholds"]
    assert kept[1] == pytest.approx(kept[2] - 0.02, abs=0.001)
    tab_to(page, page.locator("input[name=tones]:checked"), back=True)
    with page.expect_response(preview_of(count=4)):
        keys.press("ArrowLeft")
    assert flat_share(drawn(page), 4) > 0.9
    expect(handles).to_have_count(3)


def flat_share(greys: np.ndarray[Any, Any], count: int) -> float:
    """The share of the picture that its most frequent greys take; the rest are soft borders."""
    return float(np.sort(np.bincount(greys.reshape(-1)))[-count:].sum() / greys.size)


def test_handles_come_to_the_finger(sheets: Phone) -> None:
    page = sheets.page
    assert flat_share(choose_style(page, "values"), 5) > 0.9
    open_tool(page, "settings")
    scale = page.locator(".scale")
    scale.scroll_into_view_if_needed()
    box = scale.bounding_box()
    assert box is not None
    page.mouse.click(box["x"] + box["width"] * 0.97, box["y"] + 20)
    assert sheets.state()["sheets"]["thresholds"][-1] == pytest.approx(0.97, abs=0.02)
    counts = np.bincount(drawn(page).reshape(-1), minlength=256)
    # The patches show the greys that are printed; the last is the paper's own white.
    colours = page.locator(".scale-tones span").evaluate_all(
        "(all) => all.map((one) => getComputedStyle(one).backgroundColor)"
    )
    greys = [int(colour.split(",")[1]) for colour in colours]
    assert colours == [f"rgb({grey}, {grey}, {grey})" for grey in sorted(greys)]
    # Between them are only the soft edges of a screen's pixels.
    assert counts[greys].sum() > 0.9 * counts.sum()
    assert (counts[greys] > 0).all()
    assert greys[-1] == 255


@pytest.mark.parametrize("stands", [False, True])
def test_two_pictures_are_as_large_as_a_tablet_has_room_for(
    phone_at: Callable[..., Phone], running: Any, photo: Path, *, stands: bool
) -> None:
    """Of 40 × 60 cm and of 60 × 40 cm, with the tablet upright and on its side."""
    phone = phone_at(running, viewport=TABLET, is_mobile=False)
    choose_photo(phone.open(), photo, WORDS)
    phone.open("paper")
    set_paper(phone.page, WORDS, *(("40", "60") if stands else ("60", "40")))
    page = phone.open("sheets")
    page.locator("input[name=view][value=both]").check(force=True)
    for width, height in ((1024, 768), (768, 1024)):
        page.set_viewport_size({"width": width, "height": height})
        page.wait_for_timeout(300)
        boxes = [board.bounding_box() for board in page.locator(".plan-board").all()]
        assert len(boxes) == 2
        # A tenth of the screen each, and both at once.
        assert all(box and box["width"] * box["height"] > width * height / 10 for box in boxes)
        assert all(box and box["y"] + box["height"] <= height for box in boxes)


def test_a_wide_screen_shows_the_photo_beside_the_print(
    phone_at: Callable[..., Phone], running: Any, photo: Path
) -> None:
    phone = phone_at(running, viewport=TABLET, is_mobile=False)
    page = at_sheets(phone, photo).page
    assert page.locator(".plan-board").count() == 1
    choose_style(page, "mixed")
    boards = page.locator(".plan-board")
    page.locator("input[name=view][value=both]").check(force=True)
    expect(boards).to_have_count(2)
    boxes = [boards.nth(number).bounding_box() for number in range(2)]
    assert all(box is not None and box["height"] > 150 for box in boxes)
    # Both are seen at once, with the same seams over them.
    assert all(box is not None and box["y"] + box["height"] <= TABLET["height"] for box in boxes)
    seams = page.locator(".plan path.seam")
    assert seams.count() == 2
    heading(page, WORDS("sheets.title")).wait_for()
    page.locator("input[name=view][value=photo]").check(force=True)
    expect(boards).to_have_count(1)
    assert page.locator(".plan-print").is_hidden()
    # Who then chooses another style wants to see it.
    choose_style(page, "outline")
    assert page.locator(".plan-print").is_visible()
