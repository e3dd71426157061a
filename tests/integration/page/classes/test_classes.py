"""The tutor's way from the first run to a print run, and the way in on a student's phone.

One service is taken through a lesson, in the order in which a lesson goes; a barrier on any
of its screens, a script error or a request to another host fails the test that meets it.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable
from pathlib import Path

import pypdfium2 as pdfium
import pytest
import requests
from playwright.sync_api import Page, expect

from tests.integration.classes.studio import photo as studio_photo
from tests.integration.page.conftest import Phone
from tests.integration.page.steps import Words, choose_photo, go_on, heading, open_tool
from tests.integration.page.test_barriers import AXE, LOCALES, Looks
from tests.integration.service.conftest import Running

pytestmark = pytest.mark.slow

TABLET = {"viewport": {"width": 1024, "height": 768}, "is_mobile": False, "device_scale_factor": 1}
NAMES = "Ann Lee\nZoë Müller\nنور الدين\n李小龍"
WORDS = Words()
#: A browser notes in its console that who has no key yet was asked for one.
KEYLESS = ("401",)


def become_tutor(page: Page, words: Words = WORDS) -> str:
    """The first run: the quiet way, a name, and the key that is shown once."""
    page.get_by_role("link", name=words("person.teach")).click()
    heading(page, words("teach.title")).wait_for()
    page.get_by_label(words("teach.name")).fill("Ada Bell")
    page.get_by_role("button", name=words("teach.make")).click()
    page.get_by_role("dialog").get_by_role("button", name=words("teach.yes")).click()
    heading(page, words("teach.done")).wait_for()
    key = shown_key(page, words)
    assert re.fullmatch(r"rck_[\w-]{43}", key)
    return key


def shown_key(page: Page, words: Words = WORDS) -> str:
    """A key that is hidden until it is asked for."""
    code = page.locator(".key-shown code.key").last
    assert set(code.inner_text()) == {"•"}
    page.get_by_role("button", name=words("key.show"), exact=True).last.click()
    return code.inner_text()


def make_class(page: Page, name: str, names: str = NAMES) -> str:
    """A class with a roster that was pasted; its id."""
    page.get_by_label(WORDS("class.name")).fill(name)
    page.get_by_role("button", name=WORDS("class.make")).click()
    heading(page, WORDS("roster.of", name=name)).wait_for()
    page.get_by_label(WORDS("roster.names"), exact=True).fill(names)
    page.get_by_role("button", name=WORDS("roster.put")).click()
    expect(page.locator(".roster li")).to_have_count(len(names.split("\n")))
    return page.url.split("/")[-2]


def open_joining(page: Page, class_id: str) -> str:
    """Let students join; the class code."""
    page.evaluate(f"location.hash = '#class/{class_id}'")
    page.get_by_role("button", name=WORDS("class.open-hour")).click()
    page.locator(".open-now").wait_for()
    code = page.locator(".code-shown").inner_text()
    assert re.fullmatch(r"[0-9A-Z]{4}-[0-9A-Z]{4}", code)
    return code


def set_support(page: Page, class_id: str, width_mm: int | None) -> None:
    """Settle what the class draws on, three as wide as two high; None: nothing."""
    support = {"support": {"width_mm": width_mm, "height_mm": width_mm / 1.5}} if width_mm else {}
    page.evaluate(
        """([id, defaults]) => fetch(`/v1/classes/${id}`, {
          method: "PATCH", headers: { "Content-Type": "application/json" },
          body: JSON.stringify({ settings: { defaults } }),
        })""",
        [class_id, support],
    )


@pytest.fixture
def tutor(own_service: Running, phone_at: Callable[..., Phone]) -> Phone:
    """A tutor's tablet, past the first run."""
    tablet = phone_at(own_service, **TABLET)
    page = tablet.open()
    become_tutor(page)
    page.get_by_role("button", name=WORDS("teach.on")).click()
    heading(page, WORDS("common.classes")).wait_for()
    return tablet


def join(phone: Phone, code: str, name: str) -> Page:
    """Join as the QR code leads: the code is filled in, the name is typed."""
    phone.expected = KEYLESS
    page = phone.page
    page.goto(f"{phone.service.url}/#join={code}")
    page.get_by_label(WORDS("join.name"), exact=True).fill(name)
    page.get_by_role("button", name=WORDS("join.go"), exact=True).click()
    heading(page, WORDS("photo.title")).wait_for()
    return page


def download(page: Page, name: str | re.Pattern[str]) -> bytes:
    """What a link downloads."""
    with page.expect_download() as coming:
        page.get_by_role("link", name=name).click()
    return Path(coming.value.path()).read_bytes()


def test_from_the_first_run_to_a_print_run(
    tutor: Phone, phone_at: Callable[..., Phone], own_service: Running, photo: Path
) -> None:
    page = tutor.page
    class_id = make_class(page, "Portraits")
    code = open_joining(page, class_id)

    student = join(phone_at(own_service), code, "Ann Lee")
    student.get_by_text(WORDS("photo.privacy-days.other", count=30)).wait_for()
    choose_photo(student, photo, WORDS)
    line = page.locator(".board-line", has_text="Ann Lee")
    # Nothing is said to fit before there is a support to compare it with.
    line.get_by_text(WORDS("class.photo-uncompared")).wait_for()
    for width_mm, told in ((600, "class.too-small"), (90, "class.has-photo"), (None, "")):
        set_support(page, class_id, width_mm)
        begins = WORDS(told or "class.photo-uncompared").partition("{")[0]
        line.get_by_text(re.compile(f"^{begins}")).wait_for()
    expect(page.locator(".count-photo .figure")).to_have_text("1")

    page.get_by_role("link", name=WORDS("room.way-packs")).first.click()
    heading(page, WORDS("batch.for", name="Portraits")).wait_for()
    page.get_by_label(WORDS("batch.support"), exact=True).fill("30 x 20")
    page.get_by_text(WORDS("batch.photo-one"), exact=True).click()
    page.locator(".batch-photo input").set_input_files(photo)
    page.locator(".batch-photo .framed-photo").wait_for()
    page.get_by_role("button", name=WORDS("batch.differs-of", name="Zoë Müller")).click()
    page.get_by_label(WORDS("batch.size-of", name="Zoë Müller", example="60 × 40")).fill("42 x 30")
    page.get_by_label(WORDS("batch.title"), exact=True).fill("Self-portrait")
    page.get_by_role("button", name=WORDS("batch.work-out")).click()
    takes = page.get_by_role("region", name=WORDS("batch.takes"))
    expect(takes.locator(".lines li")).to_have_count(4)
    assert int(takes.locator(".figure").inner_text()) > 4
    page.get_by_role("button", name=re.compile("^Make 4 packs")).click()

    heading(page, "Self-portrait").wait_for()
    print_run = page.get_by_role("link", name=re.compile("^Print run"))
    print_run.wait_for()
    run = pdfium.PdfDocument(download(page, re.compile("^Print run")))
    texts = [run[at].get_textpage().get_text_range() for at in range(len(run))]
    assert any("Ann Lee" in text for text in texts)
    assert any("Zoë Müller" in text for text in texts)
    archive = zipfile.ZipFile(io.BytesIO(download(page, WORDS("batch.archive"))))
    assert sum(name.endswith(".pdf") for name in archive.namelist()) >= 4
    table = download(page, WORDS("batch.csv")).decode("utf-8-sig")
    assert "نور الدين" in table

    # The batch is on the board too, where it is marked as printed.
    page.get_by_role("link", name=WORDS("room.way-board")).click()
    line.get_by_label(f"{WORDS('class.mark-printed')} Ann Lee").check()
    expect(page.locator(".count-printed .figure")).to_have_text("1")
    find_a_lost_sheet(page, texts)


def find_a_lost_sheet(page: Page, texts: list[str]) -> None:
    """By the number on another sheet of the pack, which carries the student's name too."""
    on_sheet = re.compile(r"Zoë Müller · Self-portrait\s+pack (\w{4}-\w{4})")
    number = next(found[1] for text in texts if (found := on_sheet.search(text)))
    page.get_by_text(WORDS("sheet-again.title"), exact=True).click()
    field = page.get_by_label(WORDS("sheet-again.number"), exact=True)
    field.fill(number.lower().replace("-", ""))
    field.press("Enter")
    page.locator(".lost-sheet").get_by_text("Zoë Müller", exact=True).wait_for()
    page.get_by_role("button", name=WORDS("sheet-again.choose")).click()
    sheet = pdfium.PdfDocument(
        download(page, WORDS("sheet-again.fetch", label="1·2", number=number))
    )
    assert number in sheet[0].get_textpage().get_text_range()
    page.get_by_role("button", name=WORDS("settings.close")).click()


def test_a_student_makes_a_pack_from_what_the_class_settles(
    tutor: Phone, phone_at: Callable[..., Phone], own_service: Running, photo: Path
) -> None:
    page = tutor.page
    class_id = make_class(page, "Still life", "Ann Lee\nBo Ek")
    code = open_joining(page, class_id)
    page.get_by_role("link", name=WORDS("room.way-settings")).click()
    page.get_by_label(WORDS("class.support"), exact=True).fill("50 x 35")
    page.get_by_role("checkbox", name=WORDS("class.left-support")).uncheck()
    page.get_by_role("checkbox", name=WORDS("class.show-names")).check()
    page.get_by_role("button", name=WORDS("class.keep"), exact=True).click()
    page.get_by_text(WORDS("class.kept"), exact=True).last.wait_for()

    phone = phone_at(own_service)
    phone.expected = KEYLESS
    student = phone.page
    student.goto(f"{own_service.url}/#join={code}")
    student.get_by_role("radio", name="Bo Ek").check()
    student.get_by_role("button", name=WORDS("join.go"), exact=True).click()
    heading(student, WORDS("photo.title")).wait_for()
    choose_photo(student, photo, WORDS)
    go_on(student, WORDS, "photo")
    open_tool(student, "size")
    width = student.get_by_label(WORDS("paper.width"), exact=True)
    expect(width).to_be_disabled()
    expect(width).to_have_value("50")
    phone.open("pack")
    student.get_by_role("button", name=WORDS("pack.make")).first.click()
    student.get_by_text(WORDS("pack.ready-title")).wait_for()


def test_who_lost_the_key_finds_their_packs_again_on_another_device(
    tutor: Phone, phone_at: Callable[..., Phone], own_service: Running, photo: Path
) -> None:
    page = tutor.page
    class_id = make_class(page, "Hands", "Ann Lee")
    lost = phone_at(own_service)
    student = join(lost, open_joining(page, class_id), "Ann Lee")
    choose_photo(student, photo, WORDS)
    lost.open("pack")
    student.get_by_role("button", name=WORDS("pack.make")).first.click()
    student.get_by_text(WORDS("pack.ready-title")).wait_for()
    lost.open("me")
    # What came since the page was opened is counted.
    student.get_by_text(WORDS("me.has-photos-of", count=1, most=5)).wait_for()

    page.evaluate(f"location.hash = '#class/{class_id}/roster'")
    page.get_by_role("button", name=WORDS("roster.change-of", name="Ann Lee")).click()
    page.get_by_role("button", name=WORDS("roster.link"), exact=True).click()
    page.get_by_alt_text(WORDS("roster.link-code", name="Ann Lee")).wait_for()
    address = shown_key(page)
    other = phone_at(own_service)
    other.expected = KEYLESS
    student = other.page
    student.goto(address)
    student.get_by_role("button", name=WORDS("new-key.use")).click()
    heading(student, WORDS("common.shelf")).wait_for()
    student.locator(".shelf-card").get_by_role("button", name=WORDS("shelf.open")).click()
    student.get_by_text(WORDS("pack.ready-title")).wait_for()


def test_a_student_takes_a_copy_and_deletes_everything(
    tutor: Phone, phone_at: Callable[..., Phone], own_service: Running, photo: Path
) -> None:
    class_id = make_class(tutor.page, "Hands", "Ann Lee")
    phone = phone_at(own_service)
    student = join(phone, open_joining(tutor.page, class_id), "Ann Lee")
    choose_photo(student, photo, WORDS)
    phone.open("me")
    heading(student, "Ann Lee").wait_for()
    mine = zipfile.ZipFile(io.BytesIO(download(student, WORDS("me.export"))))
    assert mine.testzip() is None
    student.get_by_role("button", name=WORDS("me.delete")).click()
    student.get_by_role("button", name=WORDS("me.delete-yes")).click()
    heading(student, WORDS("common.join")).wait_for()
    student.wait_for_function(
        "() => (JSON.parse(localStorage.getItem('ricalco.state.1'))?.photo ?? null) === null"
    )
    expect(tutor.page.locator(".board-line")).to_have_count(0)


def test_a_key_signs_in_on_another_device(
    own_service: Running, phone_at: Callable[..., Phone]
) -> None:
    tablet = phone_at(own_service, **TABLET)
    key = become_tutor(tablet.open())
    phone = phone_at(own_service)
    phone.expected = KEYLESS
    page = phone.open("sign-in")
    page.get_by_label(WORDS("sign-in.key"), exact=True).fill("rck_wrong")
    page.get_by_role("button", name=WORDS("sign-in.go"), exact=True).click()
    page.get_by_text(WORDS("problem.key-unknown")).first.wait_for()
    page.get_by_label(WORDS("sign-in.key"), exact=True).fill(key)
    page.get_by_role("button", name=WORDS("sign-in.go"), exact=True).click()
    heading(page, WORDS("common.classes")).wait_for()
    cookie = phone.context.cookies()[0]
    assert cookie["httpOnly"]
    assert cookie["sameSite"] == "Strict"


def test_a_roster_comes_from_a_spreadsheet_and_keys_are_made_anew(tutor: Phone) -> None:
    page = tutor.page
    make_class(page, "Birds", "Ann Lee")
    table = 'Name;Group\r\n"Ann Lee";A\r\n"Şule Öz";B\r\n"अनु";B\r\n'.encode("utf-8-sig")
    page.locator("input[type=file]").set_input_files(
        {"name": "list.csv", "mimeType": "text/csv", "buffer": table}
    )
    expect(page.locator(".roster li")).to_have_count(3)
    page.get_by_role("button", name=WORDS("roster.change-of", name="Şule Öz")).click()
    page.get_by_role("button", name=WORDS("roster.key"), exact=True).click()
    key = shown_key(page)
    asked = requests.get(
        f"{tutor.service.url}/v1/me", headers={"Authorization": f"Bearer {key}"}, timeout=30
    )
    assert asked.json()["person"]["name"] == "Şule Öz"
    page.get_by_role("button", name=WORDS("settings.close")).click()
    page.get_by_role("button", name=WORDS("roster.change-of", name="Ann Lee")).click()
    page.get_by_role("button", name=WORDS("roster.remove"), exact=True).click()
    page.get_by_role("button", name=WORDS("roster.remove"), exact=True).click()
    expect(page.locator(".roster li")).to_have_count(2)


@pytest.fixture(scope="module")
def axe() -> str:
    """The script that looks for barriers."""
    assert AXE.exists(), "axe-core is missing: bash deploy/test.sh fetches it"
    return AXE.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("language", "looks"),
    [
        ("en", [("light", 1280), ("dark", 320)]),
        ("it", [("dark", 768), ("light", 390)]),
    ],
)
def test_no_screen_of_a_class_has_a_barrier(
    own_service: Running,
    phone_at: Callable[..., Phone],
    axe: str,
    language: str,
    looks: list[tuple[str, int]],
) -> None:
    words = Words(language)
    phone = phone_at(own_service, locale=LOCALES[language])
    phone.expected = KEYLESS
    page = phone.open("teach")
    windows = [(theme, {"width": width_px, "height": 800}) for theme, width_px in looks]
    look = Looks(page, axe, windows)
    heading(page, words("teach.title")).wait_for()
    look("teach")
    phone.open()
    become_tutor(page, words)
    look("key")
    page.get_by_role("button", name=words("teach.on")).click()
    heading(page, words("common.classes")).wait_for()
    class_ = page.request.post(
        f"{own_service.url}/v1/classes",
        data={"name": "Portraits", "joining_open": True, "settings": {"show_names": True}},
    ).json()
    at = class_["links"]["students"]
    page.request.post(f"{own_service.url}{at}", data={"names": NAMES.split("\n")})
    page.reload()
    for screen in ("classes", *(f"class/{class_['id']}{view}" for view in VIEWS), "me"):
        phone.open(screen)
        # A screen that leads elsewhere would be looked at in its place.
        landmark = LANDMARKS.get(screen.rpartition("/")[2], ".board-line")
        page.locator(landmark).first.wait_for()
        page.get_by_role("heading", level=1).wait_for()
        look(screen)
    look_closer(phone, words, class_["id"], look)
    page.request.delete(f"{own_service.url}/v1/sign-in")
    for screen in ("sign-in", "join", "new-key=rcn_none"):
        phone.open(screen)
        page.get_by_role("heading", level=1).wait_for()
        look(screen)
    page.goto(f"{own_service.url}/#join={class_['join_code']}")
    page.get_by_role("radio").first.wait_for()
    look("join: names")
    look.check()


def look_closer(phone: Phone, words: Words, class_id: str, look: Callable[[str], None]) -> None:
    """Dialogs, the roster in order, several supports, and a batch that was made."""
    page, close = phone.open(f"class/{class_id}"), words("settings.close")
    page.get_by_text(words("sheet-again.title"), exact=True).click()
    page.locator(".board-photo").first.click()
    look("a photo")
    page.get_by_role("dialog").get_by_role("button", name=close).click()
    phone.open(f"class/{class_id}/roster")
    page.get_by_role("button", name=words("roster.change-of", name="Ann Lee")).click()
    page.get_by_role("button", name=words("roster.link"), exact=True).click()
    page.locator("dialog .board-qr").wait_for()
    look("a link to a key")
    page.get_by_role("dialog").get_by_role("button", name=close).click()
    page.get_by_role("button", name=words("roster.order")).click()
    look("the order")
    phone.open(f"class/{class_id}/settings")
    page.get_by_text(words("class.margin-own"), exact=True).click()
    look("own margins")
    phone.open(f"class/{class_id}/packs")
    page.get_by_text(words("batch.photo-one"), exact=True).click()
    photo = {"name": "a.png", "mimeType": "image/png", "buffer": studio_photo(1)}
    page.locator(".batch-photo input[type=file]").set_input_files(photo)
    page.locator(".batch-photo .framed-photo").wait_for()
    page.get_by_label(words("batch.support"), exact=True).fill("30 x 20 cm")
    page.get_by_role("button", name=words("batch.differs-of", name="Zoë Müller")).click()
    page.get_by_role("button", name=words("batch.more-of", name="Zoë Müller")).click()
    page.get_by_role("button", name=words("batch.work-out")).click()
    page.locator(".outcome-part .button.primary").wait_for()
    look("what it takes")
    page.locator(".outcome-part .button.primary").click()
    page.locator(".batch-side a.button.primary").wait_for()
    look("a batch")


#: What each screen alone has; the board goes by its class's id.
LANDMARKS = {
    "classes": ".class-list a",
    "code": ".board-code",
    "roster": ".roster li",
    "packs": ".batch-lines li",
    "settings": ".form .group",
    "me": ".key-shown, .lines li",
}
VIEWS = ("", "/code", "/roster", "/packs", "/settings")
