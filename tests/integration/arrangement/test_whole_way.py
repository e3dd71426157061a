"""What a school runs: nginx, web processes, workers, Redis, PostgreSQL and a bucket, all real."""

from __future__ import annotations

import io
import signal
import threading
from collections import Counter
from contextlib import suppress
from pathlib import Path
from typing import Any

import pikepdf
import psutil
import pytest
import requests

from deploy.arrangement.arrangement import Arrangement
from deploy.arrangement.servers import BUCKET_LOGIN
from tests.integration.conftest import photo
from tests.waiting import wait_until
from worker.settings import Settings
from worker.store.files import ShownFile, open_storage, s3

pytestmark = pytest.mark.slow
SPEC = {"support": {"width_mm": 300, "height_mm": 200}}


def ask(arrangement: Arrangement, tutor: requests.Session) -> dict[str, Any]:
    """Send a photo and ask for a pack, through nginx."""
    form = {"file": ("photo.jpg", photo(), "image/jpeg")}
    sent = tutor.post(f"{arrangement.address}/v1/references", files=form)
    assert sent.status_code == 201, sent.text
    wanted = {"reference_id": sent.json()["id"], "spec": SPEC}
    asked = tutor.post(f"{arrangement.address}/v1/packs", json=wanted)
    assert asked.status_code == 202, asked.text
    return dict(asked.json())


def web_processes(arrangement: Arrangement) -> set[int]:
    """The process numbers of those that answer."""
    first, found = psutil.Process(arrangement.parts["web"].pid), set[int]()
    for one in first.children():
        # One that has ended, waited for or not, has no command line any more.
        with suppress(psutil.NoSuchProcess):
            if "gunicorn" in " ".join(one.cmdline()):
                found.add(one.pid)
    return found


def test_a_photo_becomes_a_pack(arrangement: Arrangement, tutor: requests.Session) -> None:
    pack = ask(arrangement, tutor)
    address = f"{arrangement.address}/v1/packs/{pack['id']}"
    with tutor.get(f"{address}/events", stream=True) as events:
        # nginx passes each event on when it comes; the stream ends with the pack.
        told = [line for line in events.iter_lines() if line.startswith(b"data:")]
    assert b'"state":"ready"' in told[-1]
    whole = tutor.get(f"{address}/pack.pdf")
    assert whole.status_code == 200
    check_sent_from_the_bucket(whole)
    assert tutor.get(f"{address}/pack.pdf", headers={"Range": "bytes=0-3"}).content == b"%PDF"
    assert tutor.head(f"{address}/pack.pdf").headers["Content-Length"] == str(len(whole.content))
    with pikepdf.open(io.BytesIO(whole.content)) as pdf:
        # Map, two pages of guide, and the sheets.
        assert len(pdf.pages) == 3 + pack["progress"]["total"]
    assert len(web_processes(arrangement)) == 2
    # One worker made it in its own folder, and nothing but the bucket is shared.
    made = [
        name
        for name, part in arrangement.parts.items()
        if f"Pack {pack['id']} is ready" in part.log.read_text()
    ]
    assert len(made) == 1
    assert made[0].startswith("worker-")
    assert not (arrangement.folder / "web" / "files").exists()


def check_sent_from_the_bucket(told: requests.Response) -> None:
    """It was fetched there, and says of it what the service says."""
    names = Counter(name.lower() for name, _ in told.raw.headers.iteritems())
    assert max(names.values()) == 1, names
    assert told.headers["Content-Type"] == "application/pdf"
    assert told.headers["Content-Disposition"].startswith('inline; filename="pack ')
    assert told.headers["Cache-Control"] == "private, no-cache"
    assert told.headers["Content-Security-Policy"] == "frame-ancestors 'none'"
    # The service's tag has 32 digits, and its answers have a checksum.
    assert "repr-digest" not in names
    assert not [name for name in names if name.startswith(("x-accel", "x-amz", "x-ricalco"))]


def test_no_log_has_a_presigned_address(arrangement: Arrangement) -> None:
    for log in arrangement.folder.rglob("*.log"):
        assert "X-Amz-Signature" not in log.read_text(errors="replace"), log


def test_a_presigned_address_opens_one_file_and_not_for_long(
    arrangement: Arrangement, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, value in BUCKET_LOGIN.items():
        monkeypatch.setenv(name, value)
    web = arrangement.parts["web"].environment
    url = web["RICALCO_STORAGE_URL"]
    storage = open_storage(Settings(data_dir=tmp_path, storage_url=url))
    with storage.workspace() as folder:
        for name in ("pack.pdf", "map.png"):
            (folder / name).write_bytes(name.encode())
        storage.publish(folder, "packs/p1/a1")
    shown = ShownFile(content_type="application/pdf", disposition="inline", caching="no-cache")
    monkeypatch.setattr(s3, "PRESIGNED_S", 2)
    address = storage.presigned("packs/p1/a1/pack.pdf", shown, outside=False)
    assert address is not None
    assert requests.get(address.replace("pack.pdf", "map.png"), timeout=60).status_code == 403
    wait_until(lambda: requests.get(address, timeout=60).status_code == 403)


def test_a_reload_replaces_the_web_and_nobody_notices(
    arrangement: Arrangement, tutor: requests.Session
) -> None:
    before, over, statuses = web_processes(arrangement), threading.Event(), Counter[int]()

    def keep_asking() -> None:
        while not over.is_set():
            statuses[requests.get(f"{arrangement.address}/healthz", timeout=60).status_code] += 1

    asking = threading.Thread(target=keep_asking)
    asking.start()
    try:
        arrangement.parts["web"].send(signal.SIGHUP)
        pack = ask(arrangement, tutor)
        wait_until(lambda: len(web_processes(arrangement) - before) == 2)
        wait_until(lambda: not web_processes(arrangement) & before)
        address = f"{arrangement.address}/v1/packs/{pack['id']}"
        wait_until(lambda: tutor.get(address).json()["state"] == "ready", every_s=0.2)
    finally:
        over.set()
        asking.join()
    assert set(statuses) == {200}, statuses


def test_a_name_that_is_not_ours_is_refused(arrangement: Arrangement) -> None:
    other = {"Host": "other.example"}
    told = requests.get(f"{arrangement.address}/readyz", headers=other, timeout=60)
    assert (told.status_code, told.json()["code"]) == (421, "host-refused")


def test_no_header_of_security_is_doubled(arrangement: Arrangement) -> None:
    packed = {"Accept-Encoding": "gzip"}
    front = requests.get(f"{arrangement.address}/", headers=packed, stream=True, timeout=60)
    # As they came: `front.headers` would join what is there twice.
    names = Counter(name.lower() for name, _ in front.raw.headers.iteritems())
    assert names["content-security-policy"] == names["x-content-type-options"] == 1
    assert names["content-encoding"] == names["etag"] == 1
    assert front.headers["Content-Encoding"] == "gzip"
