"""A service without a socket: an adapter of requests that the test fills with answers."""

from __future__ import annotations

import io
import json
from collections.abc import Callable, Iterator
from typing import Any

import pytest
import requests
from requests.adapters import BaseAdapter

from ricalco_client.api import Ricalco

BASE = "http://ricalco.test"


class Service(BaseAdapter):
    """Answers requests from a list, and records them.

    An answer is a status, a body (JSON or bytes) and headers, or an exception to raise.
    """

    def __init__(self) -> None:
        super().__init__()
        self.answers: list[Any] = []
        self.asked: list[requests.PreparedRequest] = []
        self.bodies: list[bytes] = []

    def answer(self, body: Any = None, status: int = 200, **headers: str) -> None:
        """Append an answer."""
        names = {name.replace("_", "-"): value for name, value in headers.items()}
        self.answers.append((status, body, names))

    def send(self, request: requests.PreparedRequest, **_: Any) -> requests.Response:
        """Called by the session for each request."""
        self.asked.append(request)
        self.bodies.append(_content(request.body))
        answer = self.answers.pop(0)
        if isinstance(answer, Exception):
            raise answer
        status, body, headers = answer
        response = requests.Response()
        response.status_code = status
        response.headers.update(headers)
        response.request, response.url = request, str(request.url)
        response.raw = io.BytesIO(body if isinstance(body, bytes) else json.dumps(body).encode())
        return response

    def close(self) -> None:
        """Nothing is open."""


def _content(body: Any) -> bytes:
    if body is None:
        return b""
    if hasattr(body, "read"):
        return b"".join(iter(lambda: body.read(1000), b""))
    return body if isinstance(body, bytes) else str(body).encode()


@pytest.fixture
def service() -> Service:
    """The service that `ricalco` talks to."""
    return Service()


@pytest.fixture
def ricalco(service: Service, monkeypatch: pytest.MonkeyPatch) -> Iterator[Ricalco]:
    """A client of it that does not sleep; its attribute `naps` lists the seconds instead."""
    session = requests.Session()
    session.mount(BASE, service)
    client = Ricalco(BASE, session=session)
    naps: list[float] = []
    monkeypatch.setattr(client._transport, "sleep", naps.append)
    monkeypatch.setattr(client, "naps", naps, raising=False)
    yield client
    session.close()


@pytest.fixture
def problem() -> Callable[..., dict[str, Any]]:
    """Makes problem documents (RFC 9457) as the service sends them."""

    def make(code: str, **more: Any) -> dict[str, Any]:
        return {
            "type": "about:blank",
            "title": code,
            "code": code,
            "detail": f"About {code}.",
            **more,
        }

    return make
