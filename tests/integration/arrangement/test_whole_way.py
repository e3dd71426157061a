"""What a school runs: nginx, web processes, workers, Redis, PostgreSQL and a bucket, all real."""

from __future__ import annotations

import io
import signal
import threading
from collections import Counter
from typing import Any

import pikepdf
import psutil
import pytest
import requests

from deploy.arrangement.arrangement import Arrangement
from tests.integration.conftest import photo
from tests.waiting import wait_until

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
    first = psutil.Process(arrangement.parts["web"].pid)
    return {one.pid for one in first.children() if "gunicorn" in " ".join(one.cmdline())}


def test_a_photo_becomes_a_pack(arrangement: Arrangement, tutor: requests.Session) -> None:
    pack = ask(arrangement, tutor)
    address = f"{arrangement.address}/v1/packs/{pack['id']}"
    with tutor.get(f"{address}/events", stream=True) as events:
        # nginx passes each event on when it comes; the stream ends with the pack.
        told = [line for line in events.iter_lines() if line.startswith(b"data:")]
    assert b'"state":"ready"' in told[-1]
    whole = tutor.get(f"{address}/pack.pdf")
    assert whole.status_code == 200
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
