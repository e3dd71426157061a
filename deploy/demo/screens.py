"""Takes the README's pictures of the page: it is used as an artist uses it, on a phone and a desk.

    python deploy/demo/screens.py [--reference photo.jpg]

Without a photograph it renders the demo's own first. It needs what the tests need (Playwright
and Chromium: `bash deploy/test.sh` installs both), a service of its own, and half a minute.
"""

from __future__ import annotations

import io
import json
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.error import URLError
from urllib.request import urlopen

from pictures import LETTERING, TITLE, run
from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

from client.web import FOLDER as PAGE

#: A phone of these years and a desk, in CSS pixels.
_PHONE: Any = {
    "viewport": {"width": 390, "height": 844},
    "device_scale_factor": 1.5,
    "is_mobile": True,
    "has_touch": True,
}
_DESK: Any = {"viewport": {"width": 1280, "height": 800}}
_QUALITY = 78
_START_S = 60


@contextmanager
def _service(folder: Path) -> Iterator[str]:
    """Address of a service with its data in `folder`."""
    with socket.socket() as door:
        door.bind(("127.0.0.1", 0))
        port = door.getsockname()[1]
    command = [sys.executable, "-m", "client.command", "serve", "--port", str(port)]
    kept = {name: value for name, value in os.environ.items() if not name.startswith("RICALCO_")}
    process = subprocess.Popen(  # noqa: S603 -- Our own command.
        command,
        env={**kept, "RICALCO_DATA_DIR": str(folder), "RICALCO_LOG_LEVEL": "ERROR"},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    address = f"http://127.0.0.1:{port}"
    try:
        _wait(address)
        yield address
    finally:
        process.terminate()
        process.wait()


def _wait(address: str) -> None:
    until = time.monotonic() + _START_S
    while True:
        try:
            with urlopen(f"{address}/healthz") as answer:  # noqa: S310 -- The address is ours.
                answer.read()
                return
        except URLError:
            if time.monotonic() > until:
                raise
            time.sleep(0.1)


class Sitting:
    """One phone or desk before the page; pictures are taken on the way."""

    def __init__(self, page: Page, address: str, folder: Path) -> None:
        self._page = page
        self._address = address
        self._folder = folder
        self.taken: list[Path] = []
        self._texts: dict[str, Any] = {}
        for path in sorted((PAGE / "words" / "en").glob("*.json")):
            for section, texts in json.loads(path.read_text(encoding="utf-8")).items():
                self._texts.setdefault(section, {}).update(texts)

    def words(self, key: str) -> str:
        """A text of the page."""
        found: Any = self._texts
        for name in key.split("."):
            found = found[name]
        return str(found)

    def go(self, step: str) -> None:
        """Show a step."""
        self._page.goto(f"{self._address}/#{step}")
        title = "common.shelf" if step == "shelf" else f"{step}.title"
        self._page.get_by_role("heading", level=1, name=self.words(title)).wait_for()
        # A step that is there already stays where a tap has scrolled it to.
        self._page.evaluate("window.scrollTo(0, 0)")

    def take(self, name: str) -> None:
        """Take a picture once nothing moves."""
        self._page.evaluate("document.activeElement?.blur()")
        # A button under a resting mouse looks as on no phone.
        self._page.mouse.move(0, 0)
        self._page.wait_for_load_state("networkidle")
        self._page.wait_for_timeout(400)
        path = self._folder / f"{name}.jpg"
        with Image.open(io.BytesIO(self._page.screenshot())) as shot:
            shot.convert("RGB").save(path, quality=_QUALITY, optimize=True)
        self.taken.append(path)

    def choose(self, reference: Path) -> None:
        """Send the photo, of a support of 60 × 40 cm, which the page proposes."""
        self.go("photo")
        self._page.get_by_label(self.words("photo.file")).set_input_files(reference)
        self._page.get_by_role("link", name=self.words("photo.next")).wait_for(timeout=60_000)

    def protect(self) -> None:
        """Draw out the lettering with the finger."""
        self.go("sheets")
        self._page.locator(".plan-board .label").first.wait_for()
        self.open("protect")
        board = self._page.locator(".plan-board")
        box = board.bounding_box()
        if box is None:
            message = "the plan is not on the screen"
            raise RuntimeError(message)
        area, mouse = LETTERING, self._page.mouse
        left, top = box["x"] + area.left * box["width"], box["y"] + area.top * box["height"]
        mouse.move(left, top)
        mouse.down()
        mouse.move(left + area.width * box["width"], top + area.height * box["height"], steps=5)
        mouse.up()
        self._page.locator("g.area").wait_for()

    def open(self, tool: str) -> None:
        """Open the panel of a tool."""
        one = self._page.locator(f'.tool[data-tool="{tool}"]')
        if one.get_attribute("aria-expanded") != "true":
            one.click()

    def magnify(self) -> None:
        """Look at a place at print scale, with the seams and labels around it."""
        box = self._page.locator(".plan-board").bounding_box()
        if box is None:
            message = "the plan is not on the screen"
            raise RuntimeError(message)
        self._page.mouse.click(box["x"] + 0.55 * box["width"], box["y"] + 0.72 * box["height"])
        self._page.locator('.loupe-glass[aria-busy="false"]').wait_for(timeout=60_000)

    def draw_as(self, style: str) -> None:
        """Choose a style, and wait until the print is shown in it."""
        self.go("sheets")
        self.open("style")
        with self._page.expect_response("**/v1/previews", timeout=60_000):
            self._page.locator(f'input[name="style"][value="{style}"]').check(force=True)
        self._page.locator('.plan-easel[aria-busy="false"] .plan-print img').wait_for()
        # The small pictures of the styles follow the large one.
        self._page.wait_for_function(
            "() => !document.querySelector('.style-picture .waiting')", timeout=60_000
        )

    def make(self) -> None:
        """Press the button, and wait for the pack."""
        self.go("pack")
        self._page.get_by_label(self.words("pack.name")).fill(TITLE)
        self._page.get_by_role("button", name=self.words("pack.make")).click()
        self._page.get_by_role("link", name=self.words("pack.download")).wait_for(timeout=60_000)
        self._page.locator(".sheet-stack canvas, .sheet-stack img").nth(1).wait_for()

    def follow(self) -> None:
        """Go on in the studio to a step with a sheet lit on the map."""
        self._page.goto(f"{self._address}/#studio")
        self._page.locator(".studio-foot .primary").click()
        self._page.locator(".studio-head", has_text=" 2 ").wait_for()


def _page(browser: Browser, window: dict[str, Any], address: str) -> Page:
    """A page whose fonts are there: those that come late are not used on a first visit."""
    page = browser.new_context(**window, locale="en-GB").new_page()
    page.goto(address)
    page.wait_for_load_state("networkidle")
    page.reload()
    return page


def draw(reference: Path, folder: Path) -> list[Path]:
    """Write the pictures into `folder`.

    Args:
        reference: The photograph.
        folder: Made if it is not there.

    Returns:
        The files, in the order in which they were taken.
    """
    folder.mkdir(parents=True, exist_ok=True)
    with (
        tempfile.TemporaryDirectory() as place,
        _service(Path(place)) as address,
        sync_playwright() as playwright,
    ):
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox"]
        )
        phone = Sitting(_page(browser, _PHONE, address), address, folder)
        phone.choose(reference)
        phone.go("frame")
        phone.take("page-frame")
        phone.protect()
        phone.take("page-sheets")
        phone.draw_as("outline")
        phone.take("page-outline")
        phone.make()
        phone.take("page-pack")
        phone.follow()
        phone.take("page-studio")
        desk = Sitting(_page(browser, _DESK, address), address, folder)
        desk.choose(reference)
        desk.draw_as("outline")
        desk.magnify()
        desk.take("page-desk-sheets")
        desk.go("shelf")
        desk.take("page-desk-shelf")
        browser.close()
    return phone.taken + desk.taken


if __name__ == "__main__":
    raise SystemExit(run("Take the README's pictures of the page.", draw))
