"""Photos taken in by a real service: hostile ones, damaged ones, and ten at once."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import psutil
import pytest
import requests
from PIL import Image

from ricalco_client.api import Ricalco
from ricalco_client.errors import PhotoRefused
from tests.integration.service.conftest import Api, Running
from tests.pictures.photographs import as_jpeg
from tests.unit.reference.damaged import EOI, claiming, cut, scan_bomb, zeroed
from tests.waiting import wait_until

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def service(
    launch: Callable[..., Running], tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Running]:
    """A service of one's own: its processes are counted and killed."""
    service = launch(tmp_path_factory.mktemp("intake"))
    yield service
    assert service.stop() == 0
    assert "Traceback" not in service.log.read_text()


@pytest.fixture
def own(service: Running) -> Api:
    """Its API."""
    return Api(service.url)


def web(service: Running) -> psutil.Process:
    """The web process."""
    return service.children()[0]


def leftovers(service: Running) -> list[Path]:
    """Files in workspaces and spool, where nothing is under way."""
    places = (service.data_dir / "files", service.data_dir / "spool")
    found = [one for place in places for one in place.rglob("*") if one.is_file()]
    published = {"master.zip", "study.npz", "preview.jpg"}
    return [
        one
        for one in found
        if one.name not in published and one.suffix != ".lock" and "lock" not in one.name
    ]


def one_colour(width_px: int, height_px: int) -> bytes:
    """A file of some kilobytes with very many pixels."""
    file = io.BytesIO()
    Image.new("RGB", (width_px, height_px), "maroon").save(file, "WEBP", lossless=True)
    return file.getvalue()


def progressive(photo: bytes) -> bytes:
    """The photo in scans."""
    file = io.BytesIO()
    with Image.open(io.BytesIO(photo)) as image:
        image.save(file, "JPEG", progressive=True)
    return file.getvalue()


def test_bombs_of_scans_are_refused_and_the_next_photo_is_taken(own: Api, photo: bytes) -> None:
    for scans in (4_000, 100_000):
        answer = own.upload(scan_bomb(progressive(photo), scans))
        assert (answer.status_code, answer.json()["code"]) == (422, "reference-too-complex")
        assert answer.json()["field"] == "file"
    assert own.upload(photo).status_code == 201


def test_photos_that_take_too_long_stop_nothing_else(
    launch: Callable[..., Running], tmp_path: Path, photo: bytes
) -> None:
    """Each is stopped at its limit; sheets and previews go through another gate meanwhile."""
    service = launch(tmp_path / "slow", PHOTO_SECONDS=2)
    api = Api(service.url)
    reference = api.upload(photo).json()["id"]
    # As many scans as are let through, over as many pixels: twice what it may take here, and more.
    file = io.BytesIO()
    Image.new("RGB", (9400, 6300), "maroon").save(file, "JPEG", progressive=True)
    bomb = scan_bomb(file.getvalue(), 85)
    with ThreadPoolExecutor(4) as pool:
        bombs = [pool.submit(api.upload, bomb) for _ in range(4)]
        wish = {"reference_id": reference, "spec": {"support": {"width_mm": 300, "height_mm": 200}}}
        for path in ("/v1/plans", "/v1/previews"):
            answer = requests.post(service.url + path, json=wish, timeout=60)
            assert answer.status_code == 200, answer.text
        refusals = [sent.result() for sent in bombs]
    assert {answer.status_code for answer in refusals} == {422}
    assert {answer.json()["code"] for answer in refusals} == {"reference-too-slow"}
    assert api.upload(photo).status_code == 201
    assert leftovers(service) == []
    assert service.stop() == 0
    assert "Traceback" not in service.log.read_text()


def test_damaged_photos_are_refused_and_taken_as_they_are_on_a_wish(
    own: Api, service: Running, photo: bytes
) -> None:
    with Image.open(io.BytesIO(photo)) as image:
        small = as_jpeg(image.resize((480, 360)))
    damaged = {
        "cut, with an end put after": cut(photo, end=EOI),
        "zeros in the middle": zeroed(photo),
        "cut": cut(progressive(photo)),
    }
    for told, content in damaged.items():
        refused = own.upload(content)
        assert (refused.status_code, refused.json()["code"]) == (422, "reference-damaged"), told
        assert 0.3 < refused.json()["readable_share"] < 1
        files = {"file": ("photo.jpg", content)}
        as_it_is = f"{own.url}/v1/references?accept_damaged=true"
        taken = requests.post(as_it_is, files=files, timeout=60)
        assert taken.status_code == 201, taken.text
        assert taken.json()["width_px"] == 512
    lie = own.upload(claiming(small, 7700, 7700)).json()
    assert lie["code"] == "reference-damaged"
    assert lie.get("readable_share", 0) < 0.02
    wrong = requests.post(
        f"{own.url}/v1/references?accept_damaged=perhaps", files={"file": photo}, timeout=60
    )
    assert (wrong.status_code, wrong.json()["code"]) == (422, "request-invalid")
    assert leftovers(service) == []


def test_the_same_key_does_not_take_a_refusal_for_a_wish(own: Api, photo: bytes) -> None:
    """Sent again as it is, under the same key: another request, since the first made nothing."""
    headers = {"Idempotency-Key": "one-and-the-same"}
    content = cut(photo, 0.7, end=EOI)
    assert own.upload(content, **headers).status_code == 422
    as_it_is = f"{own.url}/v1/references?accept_damaged=true"
    files = {"file": ("photo.jpg", content)}
    taken = requests.post(as_it_is, files=files, headers=headers, timeout=60)
    assert taken.status_code == 201
    assert own.upload(content, **headers).json()["code"] == "idempotency-key-reused"


def test_the_library_takes_a_damaged_photo_where_it_is_told_to(own: Api, photo: bytes) -> None:
    ricalco = Ricalco(own.url)
    content = cut(photo, 0.8, end=EOI)
    with pytest.raises(PhotoRefused) as refused:
        ricalco.references.upload(io.BytesIO(content))
    assert 0.6 < (refused.value.readable_share or 0) < 1
    assert ricalco.references.upload(io.BytesIO(content), accept_damaged=True).width_px == 512


def test_a_reader_that_is_killed_costs_nobody_a_photo(
    own: Api, service: Running, photo: bytes
) -> None:
    for _ in range(3):
        for reader in web(service).children():
            reader.kill()
        assert own.upload(photo).status_code == 201
    assert leftovers(service) == []


def test_readers_end_with_a_web_process_that_is_killed(
    launch: Callable[..., Running], tmp_path: Path, photo: bytes
) -> None:
    service = launch(tmp_path / "killed")
    api = Api(service.url)
    assert api.upload(photo).status_code == 201
    readers = web(service).children()
    assert readers
    web(service).kill()
    wait_until(lambda: not any(reader.is_running() for reader in readers))
    assert service.stop() == 0


def test_ten_photos_at_once_leave_the_web_process_small(
    own: Api, service: Running, photo: bytes
) -> None:
    """Files of some kilobytes with sixty million pixels, five of them, among sound photos."""
    large, process, peaks = one_colour(9400, 6300), web(service), list[int]()

    def upload(content: bytes) -> Any:
        # Who waits too long is told when to come again.
        while (answer := own.upload(content)).status_code == 503:
            assert answer.headers["Retry-After"]
        return answer

    with ThreadPoolExecutor(10) as pool:
        sent = [pool.submit(upload, one) for one in [large, photo] * 5]
        while not all(one.done() for one in sent):
            peaks.append(process.memory_info().rss)
            wait_until(lambda: True, every_s=0.05)
    assert {one.result().status_code for one in sent} == {201}
    assert max(peaks) < 400e6
