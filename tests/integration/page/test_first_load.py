"""What a first visit costs, and that a large photo does not freeze the page.

Bytes are asserted; times are told at the end of the run, since no test is timed.
"""

from __future__ import annotations

import gzip
import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from skimage import data

from client.web import FOLDER
from service.page import Page as PageFiles
from tests.integration.page.conftest import Phone
from tests.integration.page.steps import Words, choose_photo, heading
from tests.unit.client.web.test_modules import FIRST, JS, SCREENS, Screen, loaded_by
from tests.unit.client.web.test_screens import asked_late

#: It measures time.
pytestmark = pytest.mark.alone

MOST_BYTES = 150_000
#: Each later screen, beyond what the first visit and the screens before it have brought; and the
#: texts of a language that come with the first.
MOST_BYTES_OF_SCREEN, MOST_BYTES_OF_LANGUAGE = 40_000, 5_000
#: What the frame of a course page loads besides; no visit of the page itself loads any of it.
MOST_BYTES_OF_FRAME = 9_000
#: When the page says that it is ready, by the browser's own clock.
NOTE_READY = """
  new MutationObserver((_, self) => {
    if (!document.documentElement?.dataset.ready) return;
    window.readyAtMs = performance.now();
    self.disconnect();
  }).observe(document, { attributes: true, childList: true, subtree: true });
"""
#: Tasks that kept the page from answering for more than 50 ms (W3C Long Tasks).
NOTE_LONG_TASKS = """
  window.longTasksMs = [];
  new PerformanceObserver((list) => {
    window.longTasksMs.push(...list.getEntries().map((entry) => entry.duration));
  }).observe({ type: "longtask" });
"""
#: How much of what is shown has moved by itself (W3C Layout Instability).
NOTE_SHIFTS = """
  window.shifted = 0;
  new PerformanceObserver((list) => {
    for (const { value, hadRecentInput } of list.getEntries()) {
      if (!hadRecentInput) window.shifted += value;
    }
  }).observe({ type: "layout-shift", buffered: true });
"""


def test_a_first_visit_transfers_little(phone: Phone, tell: Callable[[str], None]) -> None:
    talk = phone.context.new_cdp_session(phone.page)
    talk.send("Network.enable")
    talk.send("Emulation.setCPUThrottlingRate", {"rate": 4})
    sizes: list[int] = []
    talk.on("Network.loadingFinished", lambda event: sizes.append(int(event["encodedDataLength"])))
    addresses: list[str] = []
    phone.page.on("request", lambda request: addresses.append(request.url))
    phone.page.add_init_script(NOTE_READY)
    phone.open()
    ready_ms = phone.page.evaluate("window.readyAtMs")
    phone.page.wait_for_load_state("networkidle")
    tell(f"first load: {sum(sizes) / 1e3:.1f} kB in {len(sizes)} answers")
    tell(f"ready after {ready_ms:.0f} ms with the processor slowed four times")
    assert 10_000 < sum(sizes) < MOST_BYTES
    assert [one for one in addresses if "embed" in one] == []


#: The screens that somebody has come through before each of these.
WAY = {
    "steps/frame": ("steps/paper/paper",),
    "steps/sheets": ("steps/paper/paper", "steps/frame"),
    "steps/pack/pack": ("steps/paper/paper", "steps/frame", "steps/sheets"),
    "studio/studio": ("steps/paper/paper", "steps/frame", "steps/sheets", "steps/pack/pack"),
    "classes/packs": ("classes/board/board",),
    "classes/settings/settings": ("classes/board/board",),
}


def needed(screen: Screen, language: str, *, late: bool) -> set[str]:
    """Names of the files that a screen needs beyond those of the first visit."""
    modules = loaded_by(JS / f"{screen.module}.js", late=late) - FIRST
    names = {one.relative_to(FOLDER).as_posix() for one in modules}
    names |= {f"css/{one}.css" for one in screen.styles | (asked_late(modules) if late else set())}
    return names | {f"words/{language}/{one}.json" for one in screen.subjects}


def test_every_later_screen_is_small(tell: Callable[[str], None]) -> None:
    """Modules, style sheets and texts that a screen brings; what its tools load later is told."""
    files = PageFiles(FOLDER)
    known = {screen.module: screen for screen in SCREENS}

    def sent(module: str, *, late: bool) -> int:
        def of(language: str) -> int:
            before = [needed(known[one], language, late=late) for one in WAY.get(module, ())]
            new = needed(known[module], language, late=late).difference(*before)
            return sum(len(files.file(one).sent(packed=True)[0]) for one in new)

        return max(map(of, files.languages))

    at_once = {module: sent(module, late=False) for module in known}
    heaviest = max(at_once, key=lambda module: at_once[module])
    tell(
        f"the heaviest of {len(known)} screens, {heaviest}: {at_once[heaviest] / 1e3:.1f} kB, "
        f"with its tools {sent(heaviest, late=True) / 1e3:.1f} kB"
    )
    assert {module: size for module, size in at_once.items() if size >= MOST_BYTES_OF_SCREEN} == {}
    assert at_once["steps/frame"] > at_once["steps/photo"] == 0


def test_each_language_and_the_frame_of_a_course_page_are_small(
    tell: Callable[[str], None],
) -> None:
    files = PageFiles(FOLDER)
    sent = {
        name: len(files.file(name).sent(packed=True)[0])
        for name in files.names
        if name.startswith("words/") or "embed" in name
    }
    told = {
        language: sum(size for name, size in sent.items() if name == f"words/{language}/page.json")
        for language in files.languages
    }
    frame = sum(size for name, size in sent.items() if not name.startswith("words/"))
    longest = max(told.values())
    tell(f"a frame {frame / 1e3:.1f} kB; the longest language {longest / 1e3:.1f} kB")
    assert 0 < longest < MOST_BYTES_OF_LANGUAGE
    assert 0 < frame < MOST_BYTES_OF_FRAME
    # What the service sends is what any gzip reader reads back.
    packed = files.file("index.html").packed
    assert packed is not None
    assert gzip.decompress(packed) == (FOLDER / "index.html").read_bytes()


@pytest.fixture
def large(tmp_path: Path) -> Path:
    """A photograph of 24 megapixels, as a phone takes it."""
    small = Image.fromarray(data.chelsea()).resize((6000, 4000), Image.Resampling.BICUBIC)
    file = io.BytesIO()
    small.save(file, "JPEG", quality=90)
    path = tmp_path / "large.jpg"
    path.write_bytes(file.getvalue())
    return path


def test_a_large_photo_is_shown_at_once(
    phone: Phone, large: Path, tell: Callable[[str], None]
) -> None:
    page = phone.open()
    page.evaluate(NOTE_LONG_TASKS)
    page.locator("input[type=file]").first.set_input_files(large)
    page.locator(".easel canvas, .easel img").first.wait_for()
    page.locator(".plate-foot a.primary").wait_for()
    page.wait_for_timeout(500)
    long_ms: list[Any] = page.evaluate("window.longTasksMs")
    tell(f"24 megapixels: longest task {max(long_ms, default=0):.0f} ms of {len(long_ms)} above 50")


def test_nothing_jumps_about(phone: Phone, photo: Path, tell: Callable[[str], None]) -> None:
    """What is read stays where it is while pictures, plans and figures come in.

    The measure is Cumulative Layout Shift; up to 0.1 is called good (web.dev, "Core Web Vitals").
    """
    words = Words()
    phone.page.add_init_script(NOTE_SHIFTS)
    page = phone.open()
    choose_photo(page, photo, words)
    shifts = {}
    for step in ("photo", "paper", "frame", "sheets", "pack", "studio"):
        page.goto("about:blank")
        phone.open(step)
        heading(page, words(f"{step}.title")).wait_for()
        page.wait_for_timeout(900)
        shifts[step] = round(float(page.evaluate("window.shifted")), 3)
    page.evaluate("document.querySelector('main').prepend(document.createElement('hr'))")
    page.evaluate("document.querySelector('main hr').style.height = '300px'")
    page.wait_for_timeout(300)
    assert page.evaluate("window.shifted") > 0, "what measures it does not see a shift"
    tell(f"layout shift by screen: {shifts}")
    assert max(shifts.values()) <= 0.1
