"""A real browser at phone size before the real service and its worker."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
import requests
from PIL import Image
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Page,
    Request,
)
from skimage import data

from client.web import FOLDER
from tests.integration.page.steps import Words, choose_photo, set_paper
from tests.integration.service.conftest import Running, start
from tests.waiting import HANG_S
from worker.store.ledger import Ledger
from worker.store.ledger.tables import METADATA

ROOT = Path(__file__).resolve().parents[3]
#: A phone of these years, in CSS pixels.
PHONE = {"width": 390, "height": 844}
PATIENCE_MS = 1000 * HANG_S


@dataclass
class Phone:
    """A browser window on a phone, and all that it asked for and complained of."""

    page: Page
    context: BrowserContext
    service: Running
    complaints: list[str] = field(default_factory=list)
    hosts: set[str] = field(default_factory=set)
    #: Complaints that a test brings about itself, such as a cut line.
    expected: tuple[str, ...] = ()

    def listen(self) -> None:
        """Note every error in the console and every host that is asked."""

        def console(message: ConsoleMessage) -> None:
            if message.type in {"error", "warning"}:
                self.complaints.append(f"{message.text} ({message.location.get('url')})")

        def asked(request: Request) -> None:
            parts = urlsplit(request.url)
            if parts.scheme not in {"data", "blob"}:
                self.hosts.add(parts.netloc)

        self.page.on("console", console)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.context.on("request", asked)

    def check(self) -> None:
        """Nothing was wrong, and nobody else was asked."""
        odd = [one for one in self.complaints if not any(word in one for word in self.expected)]
        assert odd == []
        assert self.hosts == {urlsplit(self.service.url).netloc}

    def open(self, step: str = "") -> Page:
        """The page at one of its steps."""
        # The page says itself when it is ready; a picture may be on its way much longer.
        self.page.goto(f"{self.service.url}/{step and '#' + step}", wait_until="commit")
        self.page.locator("html[data-ready]").wait_for(state="attached")
        return self.page

    def state(self) -> dict[str, Any]:
        """What the page keeps on the device, with what it would write down in a moment."""
        self.page.evaluate("window.dispatchEvent(new Event('pagehide'))")
        return dict(self.page.evaluate("JSON.parse(localStorage.getItem('ricalco.state.1'))"))


@pytest.fixture(scope="session")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A service with the page, that most tests share."""
    service = start(tmp_path_factory.mktemp("page"), PAGE_DIR=FOLDER)
    yield service
    assert service.stop() == 0
    assert "Traceback" not in service.log.read_text()


@pytest.fixture(scope="session")
def slow_service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A service whose worker is made to stand still now and then."""
    service = start(tmp_path_factory.mktemp("slow"), PAGE_DIR=FOLDER, WORKERS=1)
    yield service
    assert service.stop() == 0


@pytest.fixture(scope="session")
def school(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """The service behind `own_service`, started once."""
    service = start(tmp_path_factory.mktemp("school"), PAGE_DIR=FOLDER, WORKERS=1)
    yield service
    assert service.stop() == 0
    assert "Traceback" not in service.log.read_text()


@pytest.fixture
def own_service(school: Running) -> Running:
    """A service as on its first day, without a tutor: what other tests made there is deleted."""
    url = f"sqlite:///{(school.data_dir / 'ledger.db').as_posix()}"
    with closing(Ledger.open(url)) as ledger, ledger.people._database.writing() as connection:
        # Owners and classes refer to each other; in the end all are gone.
        connection.exec_driver_sql("pragma defer_foreign_keys = on")
        for table in reversed(METADATA.sorted_tables):
            if table.name not in {"owners", "turns", "owed"}:
                connection.execute(table.delete())
        connection.exec_driver_sql("delete from owners where id != 'local'")
    return school


@pytest.fixture
def service_to_stop(tmp_path: Path) -> Iterator[Running]:
    """A service of the test's own, which it may stop."""
    service = start(tmp_path / "own", PAGE_DIR=FOLDER, WORKERS=1)
    yield service
    if service.process.poll() is None:
        service.stop()


@pytest.fixture
def phone_at(browser: Browser) -> Iterator[Callable[..., Phone]]:
    """Opens phones before a service; each is checked and closed at the end."""
    phones: list[Phone] = []

    def unpack(service: Running, **more: Any) -> Phone:
        usual = {"viewport": PHONE, "locale": "en-GB", "has_touch": True, "is_mobile": True}
        context = browser.new_context(**{**usual, "device_scale_factor": 2, **more})
        context.set_default_timeout(PATIENCE_MS)
        phone = Phone(context.new_page(), context, service)
        phone.listen()
        phones.append(phone)
        return phone

    yield unpack
    for phone in phones:
        phone.context.close()
    for phone in phones:
        phone.check()


@pytest.fixture
def phone(phone_at: Callable[..., Phone], running: Running) -> Phone:
    """A phone before the shared service."""
    return phone_at(running)


@pytest.fixture(scope="session")
def portrait() -> bytes:
    """The astronaut that ships with scikit-image (NASA, public domain), 512 × 512 px."""
    file = io.BytesIO()
    Image.fromarray(data.astronaut()).save(file, "JPEG", quality=92)
    return file.getvalue()


@pytest.fixture
def photo(portrait: bytes, tmp_path: Path) -> Path:
    """The same as a file, as a phone has it."""
    path = tmp_path / "portrait.jpg"
    path.write_bytes(portrait)
    return path


FIGURES = pytest.StashKey[list[str]]()


def at_sheets(phone: Phone, photo: Path, size: tuple[str, str] | None = None) -> Phone:
    """Go to the sheets step with a photo, and perhaps a size, and wait for its first plan."""
    page = phone.open()
    choose_photo(page, photo, Words())
    if size is not None:
        phone.open("paper")
        set_paper(page, Words(), *size)
    phone.open("sheets")
    page.locator(".plan-board .label").first.wait_for()
    return phone


@pytest.fixture
def sheets(phone: Phone, photo: Path) -> Phone:
    """A phone at the sheets step, with its first plan drawn."""
    return at_sheets(phone, photo)


def pytest_configure(config: pytest.Config) -> None:
    """Figures that are measured are told at the end, and not asserted: no test is timed."""
    config.stash.setdefault(FIGURES, [])


def pytest_terminal_summary(terminalreporter: Any, config: pytest.Config) -> None:
    """Tell the figures."""
    for line in config.stash.get(FIGURES, []):
        terminalreporter.write_line(f"measured: {line}")


@pytest.fixture
def tell(request: pytest.FixtureRequest) -> Callable[[str], None]:
    """Notes a figure for the end of the run."""
    return request.config.stash.setdefault(FIGURES, []).append


def uploaded(service: Running, photo: bytes) -> dict[str, Any]:
    """A photo that was sent past the page."""
    files = {"file": ("photo.jpg", photo, "image/jpeg")}
    answer = requests.post(f"{service.url}/v1/references", files=files, timeout=60)
    return dict(answer.json())
