"""Whatever is sent, the answer is a reason and a 4xx, and the service goes on."""

from __future__ import annotations

import io
import json
import socket
import struct
import time
import zlib
from collections.abc import Callable
from contextlib import suppress
from typing import Any
from urllib.parse import urlsplit

import pytest
import requests
from PIL import Image


def png(width: int, height: int, rows: bytes) -> bytes:
    """A PNG (ISO/IEC 15948) that claims this size, whatever its rows say."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        check = struct.pack(">I", zlib.crc32(kind + body))
        return struct.pack(">I", len(body)) + kind + body + check

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(rows, 9)) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + body


def picture(kind: str, size: tuple[int, int] = (64, 64)) -> bytes:
    """A small, sound picture."""
    file = io.BytesIO()
    Image.effect_noise(size, 60).save(file, kind)
    return file.getvalue()


HOSTILE = {
    "nothing": b"",
    "text": b"This is no picture at all.\n" * 50,
    "script": b"#!/bin/sh\nexit 1\n",
    "html": b"<!doctype html><script>1</script>",
    "vector drawing": b'<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"/>',
    "pdf": b"%PDF-1.7\n1 0 obj<<>>endobj\n",
    "postscript": b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 99 99\n(%pipe%id) (w) file\n",
    "truncated jpeg": picture("JPEG")[:900],
    "truncated png": picture("PNG")[:900],
    "jpeg of two bytes": b"\xff\xd8",
    "jpeg header alone": picture("JPEG")[:30],
    "png that lies of its size": png(900, 900, b"\0" * 100),
    "bomb of a png": png(50_000, 50_000, b"\0" * 30_000_000),
    "png of no size": png(0, 0, b""),
    "png of size beyond all": png(2**31 - 1, 2**31 - 1, b"\0"),
    "too small": picture("PNG", (8, 8)),
    "gif": picture("GIF"),
    "bmp": picture("BMP"),
    "heic that is none": b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + b"\0" * 200,
    "avif that is none": b"\0\0\0\x18ftypavif\0\0\0\0mif1avif" + b"\0" * 200,
    "webp that is none": b"RIFF\xff\xff\xff\xffWEBPVP8 \xff\xff\xff\xff" + b"\0" * 99,
    "tiff that points at itself": b"II*\0\x08\0\0\0\x01\0\0\x01\x03\0\x01\0\0\0\1\0\0\0\x08\0\0\0",
    "noise": bytes(range(256)) * 400,
    "too large": b"\xff\xd8\xff" + b"\0" * 6_000_001,
    "far too large": b"\xff\xd8\xff" + b"\0" * 9_000_000,
}


def is_a_reason(answer: requests.Response) -> None:
    """A problem that a person can read, of the caller's making."""
    assert 400 <= answer.status_code < 500, answer.text
    assert answer.headers["Content-Type"] == "application/problem+json"
    problem = answer.json()
    assert problem["status"] == answer.status_code
    assert problem["code"]
    assert len(problem["detail"]) > 10
    assert "Traceback" not in answer.text
    assert "/site-packages/" not in answer.text


@pytest.mark.parametrize("name", HOSTILE)
def test_a_photo_that_is_none(api: Any, name: str) -> None:
    answer = api.upload(HOSTILE[name])
    is_a_reason(answer)
    assert answer.json()["code"].startswith("reference-")
    assert api.get("/healthz").status_code == 200


FORMS: dict[str, dict[str, Any]] = {
    "wrong field": {"files": {"photo": ("a.jpg", b"x")}},
    "two photos": {"files": [("file", ("a.jpg", b"x")), ("file", ("b.jpg", b"x"))]},
    "one more field": {"files": {"file": ("a.jpg", b"x")}, "data": {"title": "x"}},
    "no file name": {"files": {"file": (None, b"x")}},
    "a hundred parts": {"files": [(f"file{n}", ("a.jpg", b"x")) for n in range(100)]},
    "a huge field": {"files": {"file": ("a.jpg", b"x")}, "data": {"file": "x" * 1_000_000}},
    "plain form": {"data": {"file": "x"}},
    "no body": {},
    "json": {"json": {"file": "x"}},
    "bare bytes": {"data": b"\xff\xd8\xff", "headers": {"Content-Type": "image/jpeg"}},
    "no boundary": {"data": b"x", "headers": {"Content-Type": "multipart/form-data"}},
    "empty form": {
        "data": b"--x--\r\n",
        "headers": {"Content-Type": "multipart/form-data; boundary=x"},
    },
    "form that breaks off": {
        "data": b'--x\r\nContent-Disposition: form-data; name="file"; filename="a.jpg"\r\n\r\nabc',
        "headers": {"Content-Type": "multipart/form-data; boundary=x"},
    },
    "form without headers": {
        "data": b"--x\r\n\r\nabc\r\n--x--\r\n",
        "headers": {"Content-Type": "multipart/form-data; boundary=x"},
    },
    "odd key": {"files": {"file": ("a.jpg", b"x")}, "headers": {"Idempotency-Key": "é ü"}},
}


@pytest.mark.parametrize("name", FORMS)
def test_a_form_that_is_none(api: Any, name: str) -> None:
    is_a_reason(requests.post(f"{api.url}/v1/references", timeout=30, **FORMS[name]))
    assert api.get("/healthz").status_code == 200


def test_odd_file_names_do_no_harm(api: Any, photo: bytes) -> None:
    for name in ("../../x.jpg", "C:\\x.jpg", "x" * 5000 + ".jpg", "\u202egpj.x", "con", ".."):
        files = {"file": (name, photo)}
        answer = requests.post(f"{api.url}/v1/references", files=files, timeout=30)
        assert answer.status_code == 201, answer.text


BODIES: dict[str, bytes] = {
    "nothing": b"",
    "half": b'{"reference_id": ',
    "list": b"[]",
    "text": b'"x"',
    "null": b"null",
    "deep": b'{"spec":' * 20_000 + b"1" + b"}" * 20_000,
    "deep list": b"[" * 90_000,
    "large": b'{"spec": "' + b"x" * 200_000 + b'"}',
    "NaN": b'{"reference_id": "x", "spec": {"support": {"width_mm": NaN, "height_mm": 1}}}',
    "many digits": b'{"spec": ' + b"9" * 20_000 + b"}",
    "great exponent": b'{"spec": {"support": {"width_mm": 1e999, "height_mm": 9}}}',
    "twice": b'{"spec": 1, "spec": 2}',
    "no utf-8": b'{"reference_id": "\xff"}',
    "half a letter": b'{"reference_id": "\\ud800", "spec": {"\\ud800": "\\udfff"}}',
    "nul": b'{"reference_id": "ref_\\u0000", "spec": {"support": {}}}',
    "prototype": b'{"__proto__": {"x": 1}, "constructor": 1}',
}


@pytest.mark.parametrize("path", ["/v1/plans", "/v1/packs"])
@pytest.mark.parametrize("name", BODIES)
def test_a_body_that_is_none(api: Any, path: str, name: str) -> None:
    headers = {"Content-Type": "application/json"}
    is_a_reason(requests.post(api.url + path, data=BODIES[name], headers=headers, timeout=30))
    assert api.get("/healthz").status_code == 200


@pytest.mark.parametrize("kind", ["", "text/plain", "application/xml", "multipart/form-data"])
def test_a_body_of_another_type(api: Any, kind: str) -> None:
    answer = requests.post(
        f"{api.url}/v1/plans", data=b"{}", headers={"Content-Type": kind}, timeout=30
    )
    is_a_reason(answer)
    assert answer.status_code == 415


@pytest.mark.parametrize(
    "title", ["x" * 201, "a\nb", "a\n", "a\x00b", "\ud800", 5, None, ["a"]], ids=ascii
)
def test_a_title_that_is_none(api: Any, reference: dict[str, Any], title: Any) -> None:
    body = json.dumps({"reference_id": reference["id"], "title": title, "spec": {"support": {}}})
    headers = {"Content-Type": "application/json"}
    answer = requests.post(f"{api.url}/v1/packs", data=body, headers=headers, timeout=30)
    is_a_reason(answer)
    assert "title" in answer.json()["fields"]


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [
        ("GET", "/", 404),
        ("GET", "/v1/references/ref_%00%ff%2e%2e%2f", 404),
        ("GET", "/v1/packs/pck_' or 1=1 --", 404),
        ("GET", "/v1/packs/" + "x" * 5000, 404),
        ("GET", "/../../etc/passwd", 404),
        ("GET", "/v1//supports", 404),
        ("GET", "/v1/supports/", 404),
        ("PUT", "/v1/plans", 405),
        ("GET", "/v1/plans", 405),
        ("TRACE", "/healthz", 405),
        ("PUT", "/v1/packs/pck_AAAAAAAAAAAAAAAAAAAAAA", 405),
    ],
)
def test_an_address_that_is_none(api: Any, method: str, path: str, status: int) -> None:
    answer = requests.request(method, api.url + path, timeout=30)
    is_a_reason(answer)
    assert answer.status_code == status
    if status == 405:
        assert answer.headers["Allow"]


def raw(url: str, sent: bytes) -> bytes:
    """The head of what comes back over a bare socket."""
    parts = urlsplit(url)
    assert parts.hostname
    assert parts.port
    answer = b""
    address = (parts.hostname, parts.port)
    # A server that does not read on to the end may also hang up.
    with socket.create_connection(address, timeout=10) as line, suppress(OSError):
        line.sendall(sent)
        while b"\r\n\r\n" not in answer and (block := line.recv(65536)):
            answer += block
    return answer


RAW = {
    "no host": b"GET /healthz HTTP/1.1\r\nConnection: close\r\n\r\n",
    "two hosts": b"GET / HTTP/1.1\r\nHost: localhost\r\nHost: rebound.example\r\n\r\n",
    "no http": b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\r\n\r\n",
    "lying length": b"POST /v1/plans HTTP/1.1\r\nHost: localhost\r\nContent-Length: -5\r\n\r\n",
    "two lengths": b"POST /v1/plans HTTP/1.1\r\nHost: localhost\r\nContent-Length: 1\r\n"
    b"Content-Length: 2\r\n\r\n{}",
    "huge headers": b"GET / HTTP/1.1\r\nHost: localhost\r\nX: " + b"x" * 400_000 + b"\r\n\r\n",
    "bad chunk": b"POST /v1/plans HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\n\r\n"
    b"zz\r\n",
}


@pytest.mark.parametrize("name", RAW)
def test_what_is_hardly_http(api: Any, name: str) -> None:
    answer = raw(api.url, RAW[name])
    assert answer.startswith(b"HTTP/1.") or (name == "huge headers" and not answer)
    assert answer[9:10] in b"4"
    assert api.get("/healthz").status_code == 200


def test_uploads_that_never_end_hold_nobody_up(api: Any) -> None:
    parts = urlsplit(api.url)
    head = (
        b"POST /v1/references HTTP/1.1\r\nHost: localhost\r\nContent-Length: 5000000\r\n"
        b"Content-Type: multipart/form-data; boundary=x\r\n\r\n--x\r\n"
    )
    lines = [socket.create_connection((parts.hostname, parts.port), timeout=10) for _ in range(40)]
    try:
        for line in lines:
            line.sendall(head)
        # Sooner than what is silent is hung up on.
        assert requests.get(f"{api.url}/healthz", timeout=30).status_code == 200
    finally:
        for line in lines:
            line.close()


def test_event_streams_are_bounded_and_places_come_free(
    start_service: Callable[..., Any], api_of: Callable[..., Any], photo: bytes
) -> None:
    # With a broker and no worker a pack waits for ever, and so do those who follow it.
    service = start_service(MAX_EVENT_STREAMS=1, BROKER_URL="redis://127.0.0.1:1/0")
    api = api_of(service)
    path = api.ask(api.upload(photo).json()["id"]).json()["links"]["events"]
    for _ in range(3):
        assert requests.head(api.url + path, timeout=10).status_code == 200
    with requests.get(api.url + path, stream=True, timeout=10) as first:
        assert first.raw.read(7) == b"retry: "
        answer = api.get(path)
        assert (answer.status_code, answer.json()["code"]) == (503, "busy")
        assert int(answer.headers["Retry-After"]) > 0
        assert api.get("/healthz").status_code == 200
    time.sleep(2)
    with requests.get(api.url + path, stream=True, timeout=10) as second:
        assert second.status_code == 200
        # An open stream does not hold up the end.
        assert service.stop() == 0
        assert "does not stop" not in service.log.read_text()
