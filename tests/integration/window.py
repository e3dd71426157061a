"""A browser window in a test: what it asked for, and what it complained of."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from tests.waiting import HANG_S

if TYPE_CHECKING:
    # Most of the tests of this folder start no browser.
    from playwright.sync_api import BrowserContext, ConsoleMessage, Page, Request

#: A phone of these years, in CSS pixels.
PHONE = {"width": 390, "height": 844}
PATIENCE_MS = 1000 * HANG_S


@dataclass(kw_only=True)
class Window:
    """A browser window, which is listened to from the beginning."""

    page: Page
    context: BrowserContext
    complaints: list[str] = field(default_factory=list)
    addresses: list[str] = field(default_factory=list)
    #: Complaints that a test brings about itself, such as a cut line.
    expected: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Note every complaint in the console, and every address that is asked."""

        def console(message: ConsoleMessage) -> None:
            if message.type in {"error", "warning"}:
                self.complaints.append(f"{message.text} ({message.location.get('url')})")

        def asked(request: Request) -> None:
            if urlsplit(request.url).scheme not in {"data", "blob"}:
                self.addresses.append(request.url)

        self.page.on("console", console)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.context.on("request", asked)

    @property
    def hosts(self) -> set[str]:
        """The hosts that were asked, with their ports."""
        return {urlsplit(address).netloc for address in self.addresses}

    def check(self) -> None:
        """Nothing was wrong that the test did not expect."""
        odd = [one for one in self.complaints if not any(word in one for word in self.expected)]
        assert odd == [], odd
