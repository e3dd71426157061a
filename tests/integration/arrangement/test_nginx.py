"""nginx with our configuration: what it passes on and when, what it sends itself, what it logs."""

from __future__ import annotations

import json
import re
import shutil
import socket
import subprocess
import threading
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
import requests
from waitress.server import create_server

from deploy.arrangement import program
from deploy.arrangement.parts import Part, answers, free_port
from service.app import create_app
from service.http.answers.problems import WORDS
from service.web import _PROXY_HEADERS
from tests.waiting import HANG_S, wait_until
from worker.settings import Settings
from worker.store.files import open_storage
from worker.store.ledger import NewPack, PackResult, ReferenceRow, open_ledger

FILES = Path(__file__).resolve().parents[3] / "deploy" / "nginx"
CONTENT = bytes(range(256)) * 40


def running(folder: Path, web_port: int) -> tuple[Part, int]:
    """Start nginx in front of what listens at this port."""
    part, port = program.nginx(folder, web_port)
    part.ready = lambda: answers(port)
    part.start()
    part.wait_ready()
    return part, port


@pytest.fixture
def web() -> Iterator[socket.socket]:
    """In place of the service, what listens and does as the test says."""
    with socket.create_server(("127.0.0.1", 0)) as listener:
        listener.settimeout(HANG_S)
        yield listener


@pytest.fixture
def front(tmp_path: Path, web: socket.socket) -> Iterator[int]:
    """The port of nginx in front of it."""
    part, port = running(tmp_path, web.getsockname()[1])
    yield port
    part.ask_to_stop()
    part.wait_stopped()


def read_until(connection: socket.socket, end: bytes) -> bytes:
    read = b""
    connection.settimeout(HANG_S)
    while end not in read:
        block = connection.recv(65536)
        assert block, read
        read += block
    return read


def test_a_photo_is_passed_on_while_it_comes(front: int, web: socket.socket) -> None:
    head = b"POST /v1/references HTTP/1.1\r\nHost: localhost\r\nContent-Length: 1000000\r\n\r\n"
    with socket.create_connection(("127.0.0.1", front)) as client:
        client.sendall(head + b"the first part")
        # A proxy that keeps a body until it is whole would not even have connected.
        behind, _ = web.accept()
        with behind:
            assert b"the first part" in read_until(behind, b"the first part")


def test_events_are_passed_on_at_once(front: int, web: socket.socket) -> None:
    with socket.create_connection(("127.0.0.1", front)) as client:
        client.sendall(b"GET /v1/packs/pck_x/events HTTP/1.1\r\nHost: localhost\r\n\r\n")
        behind, _ = web.accept()
        with behind:
            read_until(behind, b"\r\n\r\n")
            head = b"HTTP/1.1 200 OK\r\nContent-Type: text/event-stream\r\n\r\n"
            behind.sendall(head + b"data: one\n\n")
            assert b"data: one" in read_until(client, b"data: one")


def answer_with(listener: socket.socket, *lines: str) -> None:
    """Answer one request with these lines of a head, and no body."""
    behind, _ = listener.accept()
    with behind:
        read_until(behind, b"\r\n\r\n")
        behind.sendall("\r\n".join([*lines, "Content-Length: 0", "", ""]).encode())


@pytest.mark.parametrize(
    ("bucket", "status", "code"),
    [
        ("is not there", 503, "storage-unavailable"),
        ("HTTP/1.1 503 Slow Down", 503, "storage-unavailable"),
        # What was deleted a moment ago; 403 is said to whoever may not list.
        ("HTTP/1.1 404 Not Found", 404, "not-found"),
        ("HTTP/1.1 403 Forbidden", 404, "not-found"),
    ],
)
def test_a_bucket_that_fails_is_told_as_ours_and_its_address_to_nobody(
    front: int, web: socket.socket, tmp_path: Path, bucket: str, status: int, code: str
) -> None:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        port = listener.getsockname()[1]
        if bucket == "is not there":
            listener.close()
        presigned = f"http://127.0.0.1:{port}/files/pack.pdf?X-Amz-Signature=secret"
        handed = ("X-Accel-Redirect: /stored-in-bucket", f"X-Ricalco-Presigned: {presigned}")
        threads = [threading.Thread(target=answer_with, args=(web, "HTTP/1.1 200 OK", *handed))]
        if bucket != "is not there":
            threads.append(threading.Thread(target=answer_with, args=(listener, bucket)))
        for thread in threads:
            thread.start()
        told = requests.get(f"http://127.0.0.1:{front}/v1/packs/p/pack.pdf", timeout=HANG_S)
        for thread in threads:
            thread.join()
    assert (told.status_code, told.json()["code"]) == (status, code)
    assert "Amz" not in str(told.headers) + told.text
    logs = [*tmp_path.rglob("*.log")]
    assert len(logs) >= 2
    for log in logs:
        assert "secret" not in log.read_text(), log


def test_the_bucket_does_not_learn_who_asks(front: int, web: socket.socket) -> None:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        presigned = f"http://127.0.0.1:{listener.getsockname()[1]}/files/pack.pdf?a=b%2Fc"
        handed = ("X-Accel-Redirect: /stored-in-bucket", f"X-Ricalco-Presigned: {presigned}")
        answering = threading.Thread(target=answer_with, args=(web, "HTTP/1.1 200 OK", *handed))
        answering.start()
        with socket.create_connection(("127.0.0.1", front)) as client:
            own = "Authorization: Bearer rck_x\r\nCookie: key=x\r\nRange: bytes=0-3\r\n"
            line = "HEAD /v1/packs/p/pack.pdf HTTP/1.1\r\nHost: localhost\r\n"
            client.sendall(f"{line}{own}\r\n".encode())
            answering.join()
            behind, _ = listener.accept()
            with behind:
                asked = read_until(behind, b"\r\n\r\n").decode()
    # The address is signed for GET, with these bytes.
    assert asked.startswith("GET /files/pack.pdf?a=b%2Fc HTTP/1.1\r\n")
    assert "Range: bytes=0-3\r\n" in asked
    assert not re.search("authorization|cookie|forwarded|rck_x", asked, re.IGNORECASE)


def test_what_a_client_says_of_itself_is_overwritten(front: int, web: socket.socket) -> None:
    said = "X-Forwarded-For: 192.0.2.9\r\nX-Forwarded-Proto: https\r\nForwarded: for=192.0.2.9\r\n"
    with socket.create_connection(("127.0.0.1", front)) as client:
        client.sendall(f"GET / HTTP/1.1\r\nHost: localhost:80\r\n{said}\r\n".encode())
        behind, _ = web.accept()
        with behind:
            passed = read_until(behind, b"\r\n\r\n").decode()
    assert "192.0.2.9" not in passed
    assert "X-Forwarded-For: 127.0.0.1\r\n" in passed
    assert "X-Forwarded-Proto: http\r\n" in passed
    assert "X-Forwarded-Host: localhost:80\r\n" in passed


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, str, str, Path]]:
    """A service whose packs nginx sends: address, key, a pack's id, and nginx's folder."""
    folder = tmp_path_factory.mktemp("front")
    settings = Settings(
        data_dir=folder / "web",
        storage_url=(folder / "files").as_uri(),
        trusted_proxy="127.0.0.1",
        downloads="proxy",
    )
    with closing(open_ledger(settings)) as ledger:
        ledger.migrate()
        row = ReferenceRow(width_px=40, height_px=30, format="jpeg", sha256="0" * 64)
        pack_id = ledger.enqueue(NewPack(reference_id=ledger.add_reference(row).id, spec={})).id
        claim = ledger.claim("tests")
        assert claim is not None
        storage = open_storage(settings)
        with storage.workspace() as work:
            for name in ("pack.pdf", "map.png", "picture.jpg"):
                (work / name).write_bytes(CONTENT)
            storage.publish(work, claim.files_key)
        ledger.finish(claim, PackResult(number="7K3F-Q2ZD", files_key=claim.files_key, total=1))
        # The first tutor takes over what the machine's user made.
        _, issued = ledger.people.add_tutor("Tutor", "first")
    server = create_server(
        create_app(settings),
        host="127.0.0.1",
        port=0,
        trusted_proxy=settings.trusted_proxy,
        trusted_proxy_headers=set(_PROXY_HEADERS),
        clear_untrusted_proxy_headers=True,
    )
    threading.Thread(target=server.run, daemon=True).start()
    part, port = running(folder, server.effective_port)
    yield f"http://127.0.0.1:{port}", issued.key, pack_id, folder
    part.ask_to_stop()
    part.wait_stopped()
    server.close()


def fetch(served: tuple[str, str, str, Path], **headers: str) -> requests.Response:
    address, key, pack_id, _ = served
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    return requests.get(
        f"{address}/v1/packs/{pack_id}/pack.pdf",
        headers={"Authorization": f"Bearer {key}", **named},
        timeout=HANG_S,
    )


def test_nginx_sends_a_pack_from_the_folder(served: tuple[str, str, str, Path]) -> None:
    told = fetch(served)
    assert (told.status_code, told.content) == (200, CONTENT)
    names = Counter(name.lower() for name, _ in told.raw.headers.iteritems())
    assert max(names.values()) == 1
    # The service's headers are there, and none of what it says to nginx.
    assert told.headers["Content-Type"] == "application/pdf"
    assert told.headers["Content-Disposition"] == 'inline; filename="pack 7K3F-Q2ZD.pdf"'
    assert told.headers["Cache-Control"] == "private, no-cache"
    assert told.headers["Content-Security-Policy"] == "frame-ancestors 'none'"
    assert told.headers["X-Content-Type-Options"] == "nosniff"
    assert told.headers["Cross-Origin-Resource-Policy"] == "same-origin"
    assert told.headers["Referrer-Policy"] == "no-referrer"
    assert {"x-request-id", "vary", "etag"} <= set(names)
    assert not [name for name in names if name.startswith(("x-accel", "x-ricalco"))]


def test_it_answers_ranges_and_conditions(served: tuple[str, str, str, Path]) -> None:
    tag = fetch(served).headers["ETag"]
    part = fetch(served, Range="bytes=10-19")
    assert (part.status_code, part.content) == (206, CONTENT[10:20])
    assert part.headers["Content-Range"] == f"bytes 10-19/{len(CONTENT)}"
    # RFC 9110, 13.1.5 and 13.1.2.
    assert fetch(served, Range="bytes=10-19", If_Range=tag).status_code == 206
    assert fetch(served, Range="bytes=10-19", If_Range='"other"').status_code == 200
    same = fetch(served, If_None_Match=tag)
    assert (same.status_code, same.content) == (304, b"")


def test_nobody_gets_at_the_folder_past_the_service(served: tuple[str, str, str, Path]) -> None:
    address, key, pack_id, folder = served
    (path,) = (folder / "files").glob("packs/*/*/pack.pdf")
    for inside in (f"/stored/{path.relative_to(folder / 'files')}", "/stored-in-bucket"):
        assert requests.get(f"{address}{inside}", timeout=HANG_S).status_code == 404
    refused = requests.get(f"{address}/v1/packs/{pack_id}/pack.pdf", timeout=HANG_S)
    assert refused.status_code == 401
    assert key


def test_a_link_opens_its_file_with_headers_of_its_own(
    served: tuple[str, str, str, Path],
) -> None:
    address, key, pack_id, _ = served
    made = requests.post(
        f"{address}/v1/packs/{pack_id}/links",
        json={"file": "pack.pdf"},
        headers={"Authorization": f"Bearer {key}"},
        timeout=HANG_S,
    )
    told = requests.get(made.json()["url"], timeout=HANG_S)
    assert (told.status_code, told.content) == (200, CONTENT)
    assert told.headers["Cache-Control"] == "private, no-store"
    assert told.headers["Cross-Origin-Resource-Policy"] == "cross-origin"


def test_no_log_has_an_address_a_key_or_an_id(served: tuple[str, str, str, Path]) -> None:
    _, key, pack_id, folder = served
    fetch(served)
    logged = (folder / "nginx" / "access.log").read_text()
    line = json.loads(logged.splitlines()[-1])
    assert (line["method"], line["status"], line["sent"]) == ("GET", 200, len(CONTENT))
    assert line["request_id"]
    for secret in (key, pack_id, "/v1/", "secret=", "/stored", "127.0.0.1"):
        assert secret not in logged


def test_what_nginx_refuses_itself_is_a_problem_too(front: int, web: socket.socket) -> None:
    head = b"POST /v1/plans HTTP/1.1\r\nHost: localhost\r\nContent-Length: 1000000000\r\n\r\n"
    with socket.create_connection(("127.0.0.1", front)) as client:
        client.sendall(head)
        told = read_until(client, b"}").decode()
    assert " 413 " in told
    assert json.loads(told[told.index("{") :])["code"] == "reference-too-large"
    web.close()
    away = requests.get(f"http://127.0.0.1:{front}/v1/me", timeout=HANG_S)
    assert (away.status_code, away.headers["Content-Type"]) == (503, "application/problem+json")
    assert (away.json()["code"], away.headers["Retry-After"]) == ("busy", "5")


def test_figures_are_not_for_who_comes_through_nginx(front: int) -> None:
    told = requests.get(f"http://127.0.0.1:{front}/metrics", timeout=HANG_S)
    assert (told.status_code, told.json()["code"]) == (404, "not-found")


def test_a_request_has_one_id_in_both_logs(front: int, web: socket.socket, tmp_path: Path) -> None:
    """Whatever id the client gives it."""
    with socket.create_connection(("127.0.0.1", front)) as client:
        client.sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\nX-Request-ID: mine\r\n\r\n")
        behind, _ = web.accept()
        with behind:
            head = read_until(behind, b"\r\n\r\n").decode()
            behind.sendall(b"HTTP/1.1 200 OK\r\nContent-Length: 0\r\n\r\n")
        read_until(client, b"\r\n\r\n")
    (passed,) = re.findall(r"(?im)^x-request-id: (.+?)\r$", head)
    assert re.fullmatch(r"[0-9a-f]{32}", passed)
    log = tmp_path / "nginx" / "access.log"
    wait_until(lambda: passed in log.read_text())
    assert json.loads(log.read_text().splitlines()[-1])["request_id"] == passed


def test_its_problems_have_the_words_of_the_service() -> None:
    written = re.findall(r"return (\d+) '(\{.*\})';", (FILES / "locations.conf").read_text())
    assert len(written) >= 5
    for status, text in written:
        problem = json.loads(text)
        assert problem["status"] == int(status)
        assert problem["title"] == WORDS[problem["code"]]["title"]
        assert problem["type"] == f"/v1/problems/{problem['code']}"
        assert problem["detail"]


def test_the_site_is_one_that_nginx_takes(tmp_path: Path) -> None:
    """`nginx -t` reads the configuration that is installed, with a certificate made here."""
    key, certificate = tmp_path / "key.pem", tmp_path / "certificate.pem"
    made = f"req -x509 -newkey rsa:2048 -nodes -subj /CN=ricalco.example -keyout {key}"
    subprocess.run(
        ["openssl", *made.split(), "-out", str(certificate)], check=True, capture_output=True
    )
    (tmp_path / "ricalco").symlink_to(FILES)
    site = (FILES / "ricalco.conf").read_text()
    folder = "/etc/letsencrypt/live/ricalco.example"
    for name, here in (
        (f"{folder}/fullchain.pem", certificate),
        (f"{folder}/privkey.pem", key),
        ("/var/log/nginx", tmp_path),
    ):
        assert name in site
        site = site.replace(name, str(here))
    # Ports that everybody may listen at.
    for name in ("80", "443"):
        site = site.replace(f"listen {name}", f"listen {free_port()}")
    whole = tmp_path / "nginx.conf"
    whole.write_text(f"pid {tmp_path}/pid;\nevents {{ }}\nhttp {{\n{site}\n}}\n")
    nginx = shutil.which("nginx", path="/usr/sbin:/usr/bin")
    assert nginx
    tried = subprocess.run(
        [nginx, "-t", "-p", str(tmp_path), "-c", str(whole), "-e", "stderr"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert tried.returncode == 0, tried.stderr
    assert "warn" not in tried.stderr
