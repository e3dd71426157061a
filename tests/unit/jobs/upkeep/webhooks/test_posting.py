"""One POST: to the address that was checked and no other, and within its bounds."""

from __future__ import annotations

import socket
import ssl
import subprocess
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from itertools import count
from pathlib import Path

import pytest

from tests.servers.webhook_receivers import LOOPBACK, OK, PATIENCE_S, Answer, Receiver
from worker.jobs.upkeep.webhooks.posting import Poster
from worker.outgoing import exchange
from worker.outgoing.addresses import resolve
from worker.store.ledger import Result

NAME = "hooks.example"
#: So short that a test is quick, in s; what it bounds would last for ever.
SHORT_S = 1.0


def post(poster: Poster, url: str) -> Result:
    return poster.post(url, '{"type":"x"}', {"webhook-id": "msg_1"})


def test_a_body_arrives_with_its_headers(poster: Poster, receiver: Receiver) -> None:
    found = post(poster, receiver.url)
    assert (found.outcome, found.status) == ("delivered", 204)
    (request,) = receiver.requests
    assert (request.body, request.headers["webhook-id"]) == (b'{"type":"x"}', "msg_1")


def test_without_the_operators_leave_loopback_is_not_reached(receiver: Receiver) -> None:
    for url in (receiver.url, receiver.url.replace("127.0.0.1", "localhost")):
        assert post(Poster(), url).outcome == "address-not-allowed"
    assert receiver.requests == []


def test_without_tls_only_networks_that_are_allowed_are_reached(receiver: Receiver) -> None:
    """A public name without TLS, registered while the operator allowed a network."""
    public = Poster(networks=("10.0.0.0/8",), resolver=lambda *_: ["8.8.8.8"])
    for url in (receiver.url, receiver.url.replace("http:", "HTTP:")):
        assert post(public, url).outcome == "address-not-allowed"


def test_a_name_that_is_changed_between_check_and_connection_changes_nothing(
    receiver: Receiver, poster: Poster, monkeypatch: pytest.MonkeyPatch
) -> None:
    """DNS rebinding: the first answer is allowed, all later ones lead to another receiver."""
    inside = Receiver().start()
    asked = count()

    def rebind(_host: str, _port: int) -> list[str]:
        return ["127.0.0.1"] if next(asked) == 0 else ["127.0.0.2"]

    look = socket.getaddrinfo

    def only_figures(host: str, *rest: object, **named: object) -> object:
        assert host == "127.0.0.1", "the name was looked up again"
        return look(host, *rest, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(socket, "getaddrinfo", only_figures)
    url = f"http://{NAME}:{receiver.port}/hooks"
    assert post(replace(poster, resolver=rebind), url).outcome == "delivered"
    assert next(asked) == 1
    assert receiver.requests[0].headers["host"] == f"{NAME}:{receiver.port}"
    monkeypatch.undo()
    inside.stop()
    assert inside.requests == []


def test_of_mixed_answers_only_what_is_allowed_is_connected_to(
    receiver: Receiver, poster: Poster
) -> None:
    mixed = replace(poster, resolver=lambda *_: ["10.0.0.1", "::1", "169.254.169.254", "127.0.0.1"])
    assert post(mixed, f"http://{NAME}:{receiver.port}/").outcome == "delivered"
    none = replace(poster, resolver=lambda *_: ["10.0.0.1", "::ffff:127.0.0.1"])
    assert post(none, f"http://{NAME}:{receiver.port}/").outcome == "address-not-allowed"
    unknown = post(replace(poster, resolver=resolve), "https://hooks.invalid/")
    assert unknown.outcome == "name-unknown"


def test_a_redirect_is_not_followed(poster: Poster, receiver: Receiver) -> None:
    inside = Receiver().start()
    for status in (301, 302, 303, 307, 308):
        head = f"HTTP/1.1 {status} Moved\r\nLocation: {inside.url}\r\n\r\n"
        receiver.answers = [head.encode()]
        found = post(poster, receiver.url)
        assert (found.outcome, found.status) == ("redirect", status)
    inside.stop()
    assert inside.requests == []


def endless_body(channel: socket.socket) -> None:
    channel.sendall(b"HTTP/1.1 200 OK\r\n\r\n")
    while True:
        channel.sendall(bytes(65536))


def endless_head(channel: socket.socket) -> None:
    channel.sendall(b"HTTP/1.1 200 OK\r\nX-Long: ")
    while True:
        channel.sendall(b"a" * 65536)


def endless_fields(channel: socket.socket) -> None:
    channel.sendall(b"HTTP/1.1 200 OK\r\n")
    while True:
        channel.sendall(b"X-Long: a\r\n" * 1000)


def endless_interim(channel: socket.socket) -> None:
    while True:
        channel.sendall(b"HTTP/1.1 100 Continue\r\n\r\n" * 1000)


def drip(channel: socket.socket) -> None:
    channel.sendall(b"HTTP/1.1 200 OK\r\nX-Slow: ")
    while True:
        channel.sendall(b"a")
        time.sleep(SHORT_S / 10)


def silence(channel: socket.socket) -> None:
    channel.recv(1)


def hang_up(channel: socket.socket) -> None:
    channel.sendall(b"HTTP/1.1 2")


HOSTILE: dict[str, tuple[Answer | bytes, set[str]]] = {
    "an endless body is not read": (endless_body, {"delivered"}),
    "an endless line of the head": (endless_head, {"too-large"}),
    "endless fields": (endless_fields, {"too-large", "unreachable"}),
    "endless interim answers": (endless_interim, {"too-large"}),
    "an answer that drips": (drip, {"too-slow"}),
    "no answer": (silence, {"too-slow"}),
    "half an answer": (hang_up, {"unreachable"}),
    "nothing of HTTP": (b"220 mail.example ESMTP\r\n", {"unreachable"}),
    "an error": (b"HTTP/1.1 500 Oh\r\n\r\n", {"refused"}),
    "gone": (b"HTTP/1.1 410 Gone\r\n\r\n", {"gone"}),
}


@pytest.mark.parametrize("what", HOSTILE)
def test_no_answer_holds_it_up_or_fills_it(what: str, poster: Poster, receiver: Receiver) -> None:
    answer, outcomes = HOSTILE[what]
    receiver.answers = [answer, OK]
    assert post(replace(poster, limit_s=SHORT_S), receiver.url).outcome in outcomes
    # The next one is not held up by it.
    assert post(poster, receiver.url).outcome == "delivered"


def test_little_is_read_of_an_endless_head(poster: Poster, receiver: Receiver) -> None:
    read: list[int] = []

    class Counted(exchange._BoundedStream):
        def readinto(self, buffer: bytearray, /) -> int:
            read.append(super().readinto(buffer))
            return read[-1]

    receiver.answers = [endless_head]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(exchange, "_BoundedStream", Counted)
        assert post(poster, receiver.url).outcome == "too-large"
    assert sum(read) <= exchange.MOST_HEAD_BYTES


def test_a_receiver_that_is_down_is_told_as_that(poster: Poster) -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
    assert post(poster, f"http://127.0.0.1:{port}/").outcome == "unreachable"


@pytest.mark.parametrize(
    ("field", "seconds"), [("120", 120.0), ("soon", 0.0), ("-1", 0.0), ("٣", 0.0)]
)
def test_how_long_to_wait_is_read(
    field: str, seconds: float, poster: Poster, receiver: Receiver
) -> None:
    head = f"HTTP/1.1 503 Busy\r\nRetry-After: {field}\r\n\r\n"
    receiver.answers = [head.encode()]
    assert post(poster, receiver.url).retry_after_s == seconds


# TLS.


@pytest.fixture(scope="module")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A certificate of `NAME` that is its own authority, with its key in the same file."""
    folder = tmp_path_factory.mktemp("tls")
    words = ["req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes"]
    words += ["-days", "2", "-subj", f"/CN={NAME}", "-addext", f"subjectAltName=DNS:{NAME}"]
    words += ["-keyout", "key.pem", "-out", "cert.pem"]
    subprocess.run(["openssl", *words], cwd=folder, check=True, capture_output=True)
    both = folder / "both.pem"
    both.write_text((folder / "key.pem").read_text() + (folder / "cert.pem").read_text())
    return both


@pytest.fixture
def named() -> list[str | None]:
    return []


@pytest.fixture
def secured(certificate: Path, named: list[str | None]) -> Iterator[Receiver]:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificate)
    context.sni_callback = lambda _socket, name, _context: named.append(name)
    made = Receiver(wrap=lambda one: context.wrap_socket(one, server_side=True)).start()
    yield made
    made.stop()


@pytest.fixture
def trusting(certificate: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    exchange._tls.cache_clear()
    monkeypatch.setattr(exchange.certifi, "where", lambda: str(certificate))
    monkeypatch.setattr(exchange, "_tls", exchange._tls.__wrapped__)


@pytest.mark.usefixtures("trusting")
def test_with_tls_the_name_is_that_of_the_url(
    poster: Poster, secured: Receiver, named: list[str | None]
) -> None:
    there = replace(poster, resolver=lambda *_: ["127.0.0.1"])
    assert post(there, f"https://{NAME}:{secured.port}/hooks").outcome == "delivered"
    assert named == [NAME]
    assert secured.requests[0].headers["host"] == f"{NAME}:{secured.port}"
    other = post(there, f"https://other.example:{secured.port}/hooks")
    assert other.outcome == "certificate"
    assert len(secured.requests) == 1


def test_a_certificate_of_nobody_is_refused(poster: Poster, secured: Receiver) -> None:
    there = replace(poster, resolver=lambda *_: ["127.0.0.1"])
    assert post(there, f"https://{NAME}:{secured.port}/hooks").outcome == "certificate"
    assert secured.requests == []


def test_a_handshake_that_never_ends_is_bounded(poster: Poster) -> None:
    ended = threading.Event()

    def accept(server: socket.socket) -> None:
        with server.accept()[0]:
            ended.wait(PATIENCE_S)

    with socket.create_server(("127.0.0.1", 0)) as server:
        thread = threading.Thread(target=accept, args=(server,))
        thread.start()
        port = server.getsockname()[1]
        there = replace(poster, resolver=lambda *_: ["127.0.0.1"], limit_s=SHORT_S)
        assert post(there, f"https://{NAME}:{port}/").outcome == "too-slow"
        ended.set()
        thread.join()


def test_no_proxy_of_the_environment_is_used(
    receiver: Receiver, monkeypatch: pytest.MonkeyPatch
) -> None:
    proxy = Receiver().start()
    for name in ("http_proxy", "HTTP_PROXY", "ALL_PROXY"):
        monkeypatch.setenv(name, proxy.url)
    assert post(Poster(networks=LOOPBACK), receiver.url).outcome == "delivered"
    proxy.stop()
    assert proxy.requests == []
