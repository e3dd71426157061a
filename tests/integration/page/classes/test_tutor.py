"""What a tutor does for others from the page: photos, order, keys, several supports, settings."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import numpy as np
import pillow_heif
import pytest
import requests
from PIL import Image
from playwright.sync_api import Locator, Page, expect
from skimage import data

from tests.integration.page.classes.test_classes import (
    TABLET,
    become_tutor,
    join,
    make_class,
    open_joining,
    set_support,
    shown_key,
)
from tests.integration.page.conftest import Phone
from tests.integration.page.line import Line
from tests.integration.page.steps import (
    Words,
    choose_photo,
    go_on,
    heading,
    open_tool,
    set_paper,
)
from tests.integration.service.conftest import Running
from worker.store.ledger import Ledger

WORDS = Words()
NAMES = ["Ann Lee", "Zoë Müller", "نور الدين", "Ådne Vik"]


@pytest.fixture
def tutor(own_service: Running, phone_at: Callable[..., Phone]) -> Phone:
    """A tutor's tablet on the roster of their class."""
    tablet = phone_at(own_service, **TABLET)
    page = tablet.open()
    become_tutor(page)
    page.get_by_role("button", name=WORDS("teach.on")).click()
    make_class(page, "Thursday 7b", "\n".join(NAMES))
    return tablet


def class_id(page: Page) -> str:
    """The class whose screen this is."""
    return re.split(r"[/#]", page.url)[-2 if page.url.endswith(VIEWS) else -1]


VIEWS = ("/roster", "/packs", "/settings", "/code")


def asked(phone: Phone, path: str) -> Any:
    """What the service says to the tutor's own browser."""
    return phone.page.request.get(f"{phone.service.url}{path}").json()


def go_to(page: Page, way: str) -> None:
    """One of the ways of a class."""
    ways = page.get_by_role("navigation", name=WORDS("room.ways"))
    ways.get_by_role("link", name=WORDS(f"room.way-{way}")).click()
    expect(ways.locator("[aria-current]")).to_have_text(WORDS(f"room.way-{way}"))


def photo_of(page: Page, name: str) -> Locator:
    """The dialog with a student's photo, opened from the board."""
    page.get_by_role("button", name=WORDS("class.photo-send-for", name=name)).click()
    return page.get_by_role("dialog", name=name)


def heic() -> bytes:
    """The astronaut as a phone of these years writes it (ISO/IEC 23008-12)."""
    file = io.BytesIO()
    pillow_heif.from_pillow(Image.fromarray(data.astronaut())).save(file)
    return file.getvalue()


def put(dialog: Locator, name: str, content: bytes) -> None:
    """Choose a file where the dialog asks for one."""
    files = [{"name": name, "mimeType": "", "buffer": content}]
    dialog.locator("input[type=file]").first.set_input_files(files)


def test_a_tutor_sends_a_students_photo_whatever_it_is(tutor: Phone) -> None:
    page = tutor.page
    tutor.expected = ("415", "422", "400", "413")
    class_ = class_id(page)
    go_to(page, "board")
    dialog = photo_of(page, NAMES[1])
    put(dialog, "notes.txt", b"no photo at all")
    dialog.get_by_text(WORDS("photo.refused")).wait_for()
    put(dialog, "IMG_0042.HEIC", heic())
    dialog.get_by_text(WORDS("photo.sent")).wait_for()
    expect(dialog.get_by_role("img")).to_have_js_property("naturalWidth", 512)
    dialog.get_by_role("button", name=WORDS("settings.close")).click()
    line = page.locator(".board-line", has_text=NAMES[1])
    expect(line.get_by_role("button", name=WORDS("class.photo-of", name=NAMES[1]))).to_be_visible()
    expect(page.locator(".count-photo .figure")).to_have_text("1")
    # It is the student's, not the tutor's.
    found = {
        one["name"]: one["photo"] for one in asked(tutor, f"/v1/classes/{class_}/board")["students"]
    }
    assert [name for name, photo in found.items() if photo] == [NAMES[1]]

    line.get_by_role("button", name=WORDS("class.photo-of", name=NAMES[1])).click()
    page.get_by_role("dialog").get_by_role("button", name=WORDS("photo.forget")).click()
    question = page.get_by_role("dialog", name=WORDS("class.photo-delete", name=NAMES[1]))
    question.get_by_role("button", name=WORDS("photo.forget")).click()
    line.get_by_text(WORDS("class.no-photo")).wait_for()
    assert page.get_by_role("dialog").count() == 0


def test_the_board_says_that_a_students_photo_was_enlarged(tutor: Phone) -> None:
    """By its 2048 pixels it would do for twice this width; it holds 512."""
    page = tutor.page
    set_support(page, class_id(page), 360)
    go_to(page, "board")
    large, file = Image.fromarray(data.astronaut()).resize((2048, 2048)), io.BytesIO()
    large.save(file, "JPEG", quality=85)
    dialog = photo_of(page, NAMES[1])
    put(dialog, "large.jpg", file.getvalue())
    dialog.get_by_text(WORDS("photo.sent")).wait_for()
    dialog.get_by_role("button", name=WORDS("settings.close")).click()
    line = page.locator(".board-line", has_text=NAMES[1])
    line.get_by_text(WORDS("batch.warning.reference-blurred")).wait_for()
    line.get_by_text(re.compile(f"^{WORDS('class.too-small').partition('{')[0]}")).wait_for()


def test_a_students_photo_that_did_not_get_through_takes_one_tap(
    tutor: Phone, phone_at: Callable[..., Phone]
) -> None:
    class_ = class_id(tutor.page)
    line = Line(urlsplit(tutor.service.url).port or 0)
    service = Running(line.url, tutor.service.process, tutor.service.data_dir, tutor.service.log)
    away = phone_at(service, **TABLET)
    away.expected = ("ERR_", "Failed to load resource", "401")
    cookie = tutor.context.cookies()[0]
    away.context.add_cookies([{"name": cookie["name"], "value": cookie["value"], "url": line.url}])
    page = away.open(f"class/{class_}")
    dialog = photo_of(page, NAMES[0])
    noise = np.random.default_rng(3).integers(0, 255, (700, 700, 3), dtype=np.uint8)
    file = io.BytesIO()
    Image.fromarray(noise).save(file, "JPEG", quality=92)
    line.cut_after = 100_000
    put(dialog, "IMG_1.jpg", file.getvalue())
    again = dialog.get_by_role("button", name=WORDS("photo.again"))
    again.wait_for()
    line.cut_after = None
    again.click()
    dialog.get_by_text(WORDS("photo.sent")).wait_for()
    (one,) = [
        one for one in asked(tutor, f"/v1/classes/{class_}/board")["students"] if one["photos"]
    ]
    assert (one["name"], one["photos"]) == (NAMES[0], 1)
    line.close()


def test_the_roster_is_put_in_order_by_step_by_place_and_by_name(tutor: Phone) -> None:
    page = tutor.page
    class_ = class_id(page)

    def order() -> list[str]:
        return [one["name"] for one in asked(tutor, f"/v1/classes/{class_}/students")["items"]]

    page.get_by_role("button", name=WORDS("roster.order")).click()
    up = page.get_by_role("button", name=WORDS("roster.up", name=NAMES[1]))
    up.focus()
    page.keyboard.press("Enter")
    # The focus stays with who moves, so that the next press moves the same.
    expect(up).to_be_focused()
    place = page.get_by_label(WORDS("roster.place-of", name=NAMES[0]), exact=True)
    place.fill("4")
    place.press("Enter")
    expect(place).to_have_value("4")
    place.fill("none")
    place.press("Enter")
    expect(place).to_have_value("4")
    page.get_by_role("button", name=WORDS("roster.order-done")).click()
    names = page.locator(".roster .line-name")
    expect(names).to_have_text([NAMES[1], NAMES[2], NAMES[3], NAMES[0]])
    assert order() == [NAMES[1], NAMES[2], NAMES[3], NAMES[0]]
    page.get_by_role("button", name=WORDS("roster.order")).click()
    page.get_by_role("button", name=WORDS("roster.by-name")).click()
    page.get_by_role("button", name=WORDS("roster.order-done")).click()
    # Unicode Collation Algorithm, root order: Å beside A, Latin before Arabic.
    by_name = [NAMES[3], NAMES[0], NAMES[1], NAMES[2]]
    expect(names).to_have_text(by_name)
    assert order() == by_name
    go_to(page, "board")
    expect(page.locator(".board-name")).to_have_text(by_name)


def test_a_roster_that_changed_meanwhile_is_told(tutor: Phone) -> None:
    page = tutor.page
    tutor.expected = ("409",)
    class_ = class_id(page)
    page.get_by_role("button", name=WORDS("roster.order")).click()
    page.request.post(f"{tutor.service.url}/v1/classes/{class_}/students", data={"names": ["Late"]})
    page.get_by_role("button", name=WORDS("roster.down", name=NAMES[0])).click()
    page.get_by_role("main").get_by_text(WORDS("problem.roster-changed")).wait_for()
    page.get_by_role("button", name=WORDS("roster.order-done")).click()
    expect(page.locator(".roster .line-name")).to_have_text([*NAMES, "Late"])


def test_a_class_of_three_hundred_is_found_in(tutor: Phone) -> None:
    """Each list is some screens long, and whoever is far down is found by some letters."""
    page, class_ = tutor.page, class_id(tutor.page)
    names = [f"Pupil {number:03}" for number in range(296)]
    page.request.post(f"{tutor.service.url}/v1/classes/{class_}/students", data={"names": names})
    tutor.page.set_viewport_size({"width": 390, "height": 844})
    for way, line in (
        ("", ".board-line"),
        ("/roster", ".roster li"),
        ("/packs", ".batch-lines li"),
    ):
        tutor.open(f"class/{class_}{way}")
        expect(page.locator(line)).to_have_count(30)
        assert page.evaluate("document.documentElement.scrollHeight") < 5000
        page.get_by_label(WORDS("find.label"), exact=True).fill("PUPIL 27")
        expect(page.locator(line)).to_have_count(10)
        page.get_by_label(WORDS("find.label"), exact=True).fill("pupil 295")
        expect(page.locator(line)).to_have_count(1)
        page.get_by_label(WORDS("find.label"), exact=True).fill("")
        page.get_by_role("button", name=WORDS("find.more", count=30)).click()
        expect(page.locator(line)).to_have_count(60)


def test_the_class_s_picture_is_taken_up_as_its_tutor_framed_it(
    tutor: Phone, phone_at: Callable[..., Phone], photo: Path
) -> None:
    """On a student's first screen, and in a batch on another support."""
    page, class_ = tutor.page, class_id(tutor.page)
    code = open_joining(page, class_)
    tutor.open("photo")
    choose_photo(page, photo, WORDS)
    tutor.open("frame")
    page.get_by_role("button", name=WORDS("frame.closer")).click()
    tutor.open(f"class/{class_}/settings")
    with page.expect_request("**/picture") as lent:
        page.get_by_role("button", name=WORDS("class-picture.use")).click()
    framing = lent.value.post_data_json["spec"]
    page.get_by_role("main").get_by_text(WORDS("class-picture.used")).wait_for()

    student = join(phone_at(tutor.service), code, NAMES[0])
    card = student.get_by_role("region", name=WORDS("class-picture.title"))
    with student.expect_request("**/v1/plans") as planned:
        card.get_by_role("button", name=WORDS("class-picture.take")).click()
    assert planned.value.post_data_json["spec"]["crop"] == pytest.approx(framing["crop"], abs=1e-6)
    student.evaluate("location.hash = '#photo'")
    card.wait_for()
    # It is the class's: there is nothing of theirs to delete.
    assert student.get_by_role("button", name=WORDS("photo.forget")).count() == 0

    go_to(page, "packs")
    page.get_by_text(WORDS("batch.photo-class"), exact=True).click()
    page.get_by_role("img", name=WORDS("batch.photo-alt")).wait_for()
    page.get_by_label(WORDS("batch.support"), exact=True).fill("40 x 40")
    with page.expect_request("**/estimate") as estimated:
        page.get_by_role("button", name=WORDS("batch.work-out")).click()
    crop = estimated.value.post_data_json["spec"]["crop"]
    centres = [one["left"] + one["width"] / 2 for one in (crop, framing["crop"])]
    assert centres[0] == pytest.approx(centres[1], abs=0.01)
    page.get_by_role("region", name=WORDS("batch.takes")).wait_for()
    expect(page.get_by_text(re.compile("cannot be made"))).to_have_count(0)


def test_a_class_is_copied_and_shared(tutor: Phone) -> None:
    page, class_ = tutor.page, class_id(tutor.page)
    tutor.expected = ("404", "422")
    ledger_url = f"sqlite:///{(tutor.service.data_dir / 'ledger.db').as_posix()}"
    with closing(Ledger.open(ledger_url)) as ledger:
        other, _ = ledger.people.add_tutor("Bea Cole")
    go_to(page, "settings")
    part = page.get_by_role("region", name=WORDS("tutors.title"))
    number = part.get_by_label(WORDS("tutors.number"), exact=True)
    number.fill("tut_nobody")
    number.press("Enter")
    part.get_by_text(WORDS("tutors.unknown")).wait_for()
    number.fill(other.id)
    number.press("Enter")
    part.get_by_text(WORDS("tutors.added", name="Bea Cole")).wait_for()
    # What went wrong in one part leaves no good news of another beside it.
    number.fill("tut_nobody")
    number.press("Enter")
    part.get_by_text(WORDS("tutors.unknown")).wait_for()
    expect(page.locator(".notice.good")).to_have_count(0)
    part.get_by_role("button", name=WORDS("tutors.remove"), exact=True).click()
    page.get_by_role("dialog").get_by_role("button", name=WORDS("tutors.remove")).click()
    expect(part.get_by_role("listitem")).to_have_count(1)

    day = page.get_by_label(WORDS("class.closes"), exact=True)
    day.fill("2026-12-31")
    day.blur()
    page.get_by_text(re.compile("^(31 December|December 31,) 2026$")).wait_for()
    day.fill("31 of May")
    day.blur()
    expect(day).to_have_attribute("aria-invalid", "true")
    page.get_by_role("region", name=WORDS("copy.title")).get_by_label(
        WORDS("class.name"), exact=True
    ).fill("Next term")
    page.get_by_role("button", name=WORDS("copy.make")).click()
    heading(page, WORDS("roster.of", name="Next term")).wait_for()
    assert class_ not in page.url
    expect(page.locator(".roster li")).to_have_count(0)


def test_a_course_site_gets_a_key_once_and_loses_it(tutor: Phone) -> None:
    page = tutor.open("me")
    part = page.get_by_role("region", name=WORDS("me.sites"))
    part.get_by_role("button", name=WORDS("me.site-make")).click()
    part.get_by_text(WORDS("me.site-missing")).wait_for()
    part.get_by_label(WORDS("me.site-label")).fill("Evening school")
    part.get_by_role("button", name=WORDS("me.site-make")).click()
    key = {"Authorization": f"Bearer {shown_key(page)}"}
    me = f"{tutor.service.url}/v1/me"
    assert requests.get(me, headers=key, timeout=30).json()["person"]["role"] == "site"
    page.reload()
    part.get_by_role("listitem").wait_for()
    assert page.locator(".key-shown").count() == 0
    part = page.get_by_role("region", name=WORDS("me.sites"))
    part.get_by_role("listitem").get_by_role("button", name=WORDS("me.withdraw")).click()
    question = page.get_by_role("dialog", name=WORDS("me.site-withdraw", label="Evening school"))
    question.get_by_role("button", name=WORDS("me.withdraw")).click()
    expect(part.get_by_role("listitem")).to_have_count(0)
    assert requests.get(me, headers=key, timeout=30).status_code == 401


def test_one_photo_on_several_supports_for_one_student(tutor: Phone, photo: Path) -> None:
    page = tutor.page
    go_to(page, "packs")
    page.get_by_text(WORDS("batch.photo-one"), exact=True).click()
    page.locator(".batch-photo input[type=file]").set_input_files(photo)
    page.get_by_role("img", name=WORDS("batch.photo-alt")).wait_for()
    page.get_by_label(WORDS("batch.support"), exact=True).fill("30 x 20")
    # All that are ticked or left out at once are those that were found.
    page.get_by_role("button", name=WORDS("find.none")).click()
    expect(page.locator(".batch-lines input:checked")).to_have_count(0)
    for name in (*NAMES[:2], WORDS("batch.own-copy")):
        page.get_by_label(name, exact=True).check()
    page.get_by_role("button", name=WORDS("batch.differs-of", name=NAMES[1])).click()
    more = page.get_by_role("button", name=WORDS("batch.more-of", name=NAMES[1]))
    more.click()
    more.click()
    sizes = page.get_by_label(WORDS("batch.size-of", name=NAMES[1], example="60 × 40"))
    expect(sizes).to_have_count(3)
    expect(sizes.nth(2)).to_be_focused()
    sizes.nth(1).fill("60 x 40")
    sizes.nth(2).fill("many")
    page.get_by_role("button", name=WORDS("batch.work-out")).click()
    expect(sizes.nth(2)).to_have_attribute("aria-invalid", "true")
    page.get_by_role("button", name=WORDS("batch.less-of", name=NAMES[1])).last.click()
    expect(sizes).to_have_count(2)
    page.get_by_role("button", name=WORDS("batch.work-out")).click()
    takes = page.get_by_role("region", name=WORDS("batch.takes"))
    names = [*NAMES[:2], NAMES[1], WORDS("batch.own-copy")]
    expect(takes.locator(".line-name")).to_have_count(4)
    assert sorted(takes.locator(".line-name").all_inner_texts()) == sorted(names)
    # What tells two packs of one student apart.
    expect(takes.locator(".lines li", has_text="60 × 40 cm")).to_have_count(1)
    page.get_by_role("button", name=re.compile("^Make 4 packs")).click()

    # The batch leads back to where it was asked for, and its packs are marked here too.
    page.locator(".lead", has_text="Thursday 7b").wait_for()
    page.get_by_role("link", name=re.compile("^Print run")).wait_for()
    marks = page.get_by_label(f"{WORDS('class.mark-printed')} {NAMES[1]}")
    expect(marks).to_have_count(2)
    marks.first.check()
    page.reload()
    expect(marks.first).to_be_checked()
    expect(marks.last).not_to_be_checked()
    page.get_by_role("button", name=WORDS("batch.mark-all")).click()
    expect(page.get_by_role("button", name=WORDS("batch.mark-all"))).to_have_count(0)
    expect(marks.last).to_be_checked()
    go_to(page, "packs")
    earlier = page.get_by_role("region", name=WORDS("batch.earlier"))
    earlier.get_by_text(WORDS("batch.packs.other", count=4)).wait_for()
    page.go_back()
    page.get_by_role("link", name=re.compile("^Print run")).wait_for()


@pytest.mark.parametrize("left", ["tone", "print"])
def test_what_is_settled_is_closed_on_the_students_page(
    tutor: Phone, phone_at: Callable[..., Phone], photo: Path, left: str
) -> None:
    """Margins in figures reach the student; mirroring is closed by itself, tones by themselves."""
    page = tutor.page
    class_ = class_id(page)
    go_to(page, "settings")
    page.get_by_text(WORDS("class.margin-own"), exact=True).click()
    for edge, length in (("top", "7,0"), ("bottom", "14")):
        page.get_by_label(WORDS(f"paper.{edge}"), exact=True).fill(length)
    page.get_by_label(WORDS("paper.left"), exact=True).fill("wide")
    page.get_by_role("button", name=WORDS("class.keep"), exact=True).click()
    page.get_by_role("main").get_by_text(WORDS("class.look-again")).wait_for()
    page.get_by_label(WORDS("paper.left"), exact=True).fill("6")
    other = {"tone": "print", "print": "tone"}[left]
    page.get_by_role("checkbox", name=WORDS(f"class.left-{other}")).uncheck()
    page.get_by_label(WORDS("class.language"), exact=True).select_option(label="Italiano")
    page.get_by_role("button", name=WORDS("class.keep"), exact=True).click()
    page.get_by_role("main").get_by_text(WORDS("class.kept"), exact=True).wait_for()
    margins = {"top": 7, "right": 5, "bottom": 14, "left": 6}
    settings = asked(tutor, f"/v1/classes/{class_}")["settings"]
    assert settings["defaults"]["sheet"]["margin_mm"] == margins
    assert settings["defaults"]["language"] == "it"
    page.reload()
    expect(page.get_by_label(WORDS("paper.bottom"), exact=True)).to_have_value("14")

    phone = phone_at(tutor.service)
    student = join(phone, open_joining(page, class_), NAMES[0])
    choose_photo(student, photo, WORDS)
    go_on(student, WORDS, "photo")
    open_tool(student, "printer")
    expect(student.get_by_label(WORDS("paper.top"), exact=True)).to_have_value("7")
    phone.open("sheets")
    open_tool(student, "more")
    mirror = student.get_by_role("checkbox", name=WORDS("sheets.mirror"))
    expect(mirror).to_be_enabled(enabled=left == "print")
    if left == "print":
        mirror.check()
    open_tool(student, "style")
    tone = student.get_by_role("radio", name=WORDS("style.colour"))
    expect(tone).to_be_enabled(enabled=left == "tone")
    if left == "tone":
        tone.check(force=True)
    phone.open("pack")
    student.get_by_role("button", name=WORDS("pack.make")).first.click()
    student.get_by_text(WORDS("pack.ready-title")).wait_for()


def test_what_was_settled_elsewhere_more_finely_stays_as_it_is(tutor: Phone) -> None:
    page = tutor.page
    class_ = class_id(page)
    path = f"{tutor.service.url}/v1/classes/{class_}"
    finely = {"settings": {"may_change": ["crop", "seams", "tone.outline", "support"]}}
    assert page.request.patch(path, data=finely).ok
    go_to(page, "settings")
    expect(page.get_by_role("checkbox", name=WORDS("class.left-seams"))).to_be_checked()
    expect(page.get_by_role("checkbox", name=WORDS("class.left-tone"))).not_to_be_checked()
    page.get_by_role("checkbox", name=WORDS("class.left-support")).uncheck()
    page.get_by_role("button", name=WORDS("class.keep"), exact=True).click()
    page.get_by_role("main").get_by_text(WORDS("class.kept"), exact=True).wait_for()
    left = set(asked(tutor, f"/v1/classes/{class_}")["settings"]["may_change"])
    assert {"crop", "seams", "tone.outline"} <= left
    assert not left & {"support", "tone", "grid", "sheet"}


def test_a_style_and_a_grid_reach_the_students_and_the_batch(
    tutor: Phone, phone_at: Callable[..., Phone], photo: Path
) -> None:
    """What the class starts from is there on a phone and in a batch, where it may be changed."""
    page = tutor.page
    class_ = class_id(page)
    go_to(page, "settings")
    page.get_by_label(WORDS("style.title"), exact=True).select_option("outline")
    grid = page.get_by_label(WORDS("squares.title"), exact=True)
    grid.fill("0.2")
    page.get_by_role("button", name=WORDS("class.keep"), exact=True).click()
    expect(grid).to_have_attribute("aria-invalid", "true")
    grid.fill("4")
    page.get_by_role("button", name=WORDS("class.keep"), exact=True).click()
    page.get_by_role("main").get_by_text(WORDS("class.kept"), exact=True).wait_for()
    defaults = asked(tutor, f"/v1/classes/{class_}")["settings"]["defaults"]
    assert (defaults["tone"]["style"], defaults["grid"]["square_mm"]) == ("outline", 40)

    phone = phone_at(tutor.service)
    student = join(phone, open_joining(page, class_), NAMES[0])
    choose_photo(student, photo, WORDS)
    phone.open("sheets")
    open_tool(student, "style")
    expect(student.get_by_role("radio", name=WORDS("style.outline"))).to_be_checked()
    open_tool(student, "more")
    expect(student.get_by_role("checkbox", name=WORDS("squares.show"))).to_be_checked()

    go_to(page, "packs")
    expect(page.get_by_label(WORDS("style.title"), exact=True)).to_have_value("outline")
    expect(grid).to_have_value("4")
    page.get_by_label(WORDS("style.title"), exact=True).select_option("values")
    grid.fill("")
    page.get_by_role("button", name=WORDS("batch.work-out")).click()
    page.get_by_role("button", name=re.compile("^Make 1 pack$")).click()
    page.get_by_role("link", name=re.compile("^Print run")).wait_for()
    (batch,) = asked(tutor, f"/v1/classes/{class_}/batches")["items"]
    (made,) = [one for one in batch["items"] if one.get("pack_id")]
    spec = asked(tutor, f"/v1/packs/{made['pack_id']}")["spec"]
    assert (spec["tone"]["style"], spec["grid"]) == ("values", None)
    # Going elsewhere with a dialog open leaves no dialog behind.
    go_to(page, "board")
    page.get_by_role("button", name=WORDS("class.photo-of", name=NAMES[0])).click()
    page.get_by_role("dialog", name=NAMES[0]).wait_for()
    page.go_back()
    expect(page.get_by_role("dialog")).to_have_count(0)


def test_packs_that_students_asked_for_are_printed_on_the_classs_printer(
    tutor: Phone, phone_at: Callable[..., Phone], photo: Path
) -> None:
    page = tutor.page
    class_ = class_id(page)
    printer = {"name": "Studio laser", "format": "iso_a3_297x420mm", "down_mm": 199.0}
    kept = page.request.post(
        f"{tutor.service.url}/v1/printers", data={**printer, "class_id": class_}
    )
    assert kept.ok, kept.text()
    phone = phone_at(tutor.service)
    student = join(phone, open_joining(page, class_), NAMES[0])
    choose_photo(student, photo, WORDS)
    phone.open("paper")
    set_paper(student, WORDS, "20", "15")
    phone.open("pack")
    student.get_by_role("button", name=WORDS("pack.make")).first.click()
    student.get_by_text(WORDS("pack.ready-title")).wait_for()

    go_to(page, "packs")
    expect(page.get_by_role("radio", name=WORDS("batch.photo-asked"))).to_be_checked()
    chosen = page.get_by_label(WORDS("printer.choose"), exact=True)
    expect(chosen.locator(":checked")).to_have_text("Studio laser")
    expect(page.get_by_label(WORDS("paper.sheet"), exact=True)).to_have_value(printer["format"])
    page.get_by_role("button", name=WORDS("batch.work-out")).click()
    takes = page.get_by_role("region", name=WORDS("batch.takes"))
    # Who is left out stands first.
    expect(takes.locator(".line-name")).to_have_text([*NAMES[1:], NAMES[0]])
    page.get_by_role("button", name=re.compile("^Make 1 pack$")).click()
    page.get_by_role("link", name=re.compile("^Print run A3")).wait_for()
    (batch,) = asked(tutor, f"/v1/classes/{class_}/batches")["items"]
    (made,) = [one for one in batch["items"] if one.get("pack_id")]
    spec = asked(tutor, f"/v1/packs/{made['pack_id']}")["spec"]
    assert (spec["support"]["width_mm"], spec["support"]["height_mm"]) == (200, 150)
    assert spec["print"]["printer"] == "Studio laser"
    assert spec["print"]["down_correction"] == pytest.approx(200 / 199, abs=1e-5)


def test_the_bar_says_where_one_is_and_leads_home(tutor: Phone) -> None:
    page = tutor.page
    bar = page.get_by_role("navigation", name=WORDS("person.nav"))
    expect(bar.get_by_role("link", name=WORDS("common.classes"))).to_have_attribute(
        "aria-current", "true"
    )
    bar.get_by_role("link", name=WORDS("common.classes")).click()
    heading(page, WORDS("common.classes")).wait_for()
    expect(bar.get_by_role("link", name=WORDS("common.classes"))).to_have_attribute(
        "aria-current", "page"
    )
    page.get_by_role("link", name="Ricalco").click()
    heading(page, WORDS("common.shelf")).wait_for()
