"""A real browser at phone size before the real service and its worker."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
import requests
from playwright.sync_api import Page

from client.web import FOLDER
from tests.integration.page.steps import Words, choose_photo, set_paper
from tests.integration.service.conftest import Running, start
from tests.integration.window import Window
from worker.store.ledger import Ledger
from worker.store.ledger.tables import METADATA

ROOT = Path(__file__).resolve().parents[3]


@dataclass(kw_only=True)
class Phone(Window):
    """A browser window on a phone, before a service."""

    service: Running

    def check(self) -> None:
        """Nothing was wrong, and nobody else was asked."""
        super().check()
        assert self.hosts == {urlsplit(self.service.url).netloc}

    def open(self, step: str = "photo") -> Page:
        """The page at one of its steps; the first screen of an address without one has a test."""
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
def phone_at(window_of: Callable[..., Phone]) -> Callable[..., Phone]:
    """Opens phones before a service."""

    def unpack(service: Running, **more: Any) -> Phone:
        return window_of(Phone, {"service": service}, **{"device_scale_factor": 2, **more})

    return unpack


@pytest.fixture
def phone(phone_at: Callable[..., Phone], running: Running) -> Phone:
    """A phone before the shared service."""
    return phone_at(running)


@pytest.fixture
def photo(portrait_file: Path) -> Path:
    """The photo that is traced."""
    return portrait_file


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
