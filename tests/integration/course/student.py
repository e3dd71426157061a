"""A student's page at the course site, without a browser: what its scripts would ask."""

from __future__ import annotations

import time
from http import HTTPStatus
from typing import Any

import requests

from tests.servers.course_site import CourseSite
from tests.waiting import HANG_S

SPEC = {"support": {"width_mm": 180, "height_mm": 120}}


class Student:
    """A student's page at the course site, without a browser."""

    def __init__(self, course: CourseSite, user: str) -> None:
        self.course = course
        self.token = str(course.session_for(user)["token"])

    def ask(self, method: str, path: str, **how: Any) -> requests.Response:
        """One request as a browser sends it for a script of the course page."""
        headers = {
            "Authorization": f"Bearer {self.token}",
            "Origin": self.course.ties.origin,
            "Sec-Fetch-Site": "cross-site",
            "Sec-Fetch-Mode": "cors",
            **how.pop("headers", {}),
        }
        url = f"{self.course.ties.service}{path}"
        return requests.request(method, url, headers=headers, timeout=HANG_S, **how)

    def makes_a_pack(self, photo: bytes, title: str) -> dict[str, Any]:
        """Send a photo, and have a pack made of it."""
        sent = self._send(photo)
        wish = {"reference_id": sent.json()["id"], "spec": SPEC, "title": title}
        asked = self.ask("POST", "/v1/packs", json=wish)
        assert asked.status_code == 202, asked.text
        until = time.monotonic() + HANG_S
        while True:
            pack: dict[str, Any] = self.ask("GET", f"/v1/packs/{asked.json()['id']}").json()
            if pack["state"] == "ready":
                return pack
            assert time.monotonic() < until, pack
            time.sleep(0.2)

    def _send(self, photo: bytes) -> requests.Response:
        """Send a photo, and again while the service says that it has too many just now."""
        until = time.monotonic() + HANG_S
        while True:
            file = {"file": ("jug.jpg", photo, "image/jpeg")}
            sent = self.ask("POST", "/v1/references", files=file)
            if sent.status_code != HTTPStatus.SERVICE_UNAVAILABLE or time.monotonic() > until:
                assert sent.status_code == HTTPStatus.CREATED, sent.text
                return sent
            assert sent.headers["Retry-After"]
            assert "Retry-After" in sent.headers["Access-Control-Expose-Headers"]
            time.sleep(1)
