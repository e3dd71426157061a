"""Asks for packs as a page or a program does: with a key, and again until there is an answer."""

from __future__ import annotations

import hashlib
import io
import time
from collections import Counter
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import requests
from PIL import Image

from service.http.answers.problems import MEDIA_TYPE, WORDS

#: Seconds to connect and to wait for bytes, and between two attempts.
_TIMEOUT_S, _PAUSE_S = (2.0, 15.0), 0.25
#: Codes that tell nobody what to do; the fault is the program's.
_NO_ADVICE = {"error", "internal-error"}


def advised(code: object) -> bool:
    """Whether a code is one whose words say what a person can do."""
    return code not in _NO_ADVICE and bool(WORDS.get(str(code), {}).get("advice"))


@dataclass
class Asker:
    """One person who asks a service for packs of one photo.

    Attributes:
        url: The service.
        support_mm: How large the picture is to be.
        refusals: How often each code was answered, or that nobody answered.
        unadvised: Answers that nobody could act on.
    """

    url: str
    support_mm: tuple[int, int]
    refusals: Counter[str] = field(default_factory=Counter)
    unadvised: list[str] = field(default_factory=list)
    _reference: str = ""

    def send_photo(self, key: str, within_s: float) -> str | None:
        """Send the photo, again until it is taken; its id."""
        files = {"file": ("photo.png", photo(), "image/png")}
        found = self._until("POST", "/v1/references", within_s, key=key, files=files)
        if found is not None:
            self._reference = str(found.json()["id"])
        return self._reference or None

    def ask(self, key: str, within_s: float) -> str | None:
        """Ask for a pack, again until there is an answer; its id, None where none came."""
        width_mm, height_mm = self.support_mm
        spec = {"support": {"width_mm": width_mm, "height_mm": height_mm}}
        body = {"reference_id": self._reference, "spec": spec, "title": "Faults"}
        found = self._until("POST", "/v1/packs", within_s, key=key, json=body)
        return None if found is None else str(found.json()["id"])

    def digest(self, pack_id: str, within_s: float) -> str | None:
        """SHA-256 of a pack's PDF as it is downloaded; None where it cannot be had."""
        found = self._until("GET", f"/v1/packs/{pack_id}/pack.pdf", within_s)
        return None if found is None else hashlib.sha256(found.content).hexdigest()

    def _until(
        self, method: str, path: str, within_s: float, *, key: str | None = None, **more: Any
    ) -> requests.Response | None:
        """Send a request again until it is answered with a status below 300."""
        headers = {} if key is None else {"Idempotency-Key": key}
        deadline = time.monotonic() + within_s
        while time.monotonic() < deadline:
            try:
                answer = requests.request(
                    method, self.url + path, headers=headers, timeout=_TIMEOUT_S, **more
                )
            except requests.RequestException as error:
                self.refusals[type(error).__name__] += 1
            else:
                if answer.ok:
                    return answer
                self._note(answer)
            time.sleep(_PAUSE_S)
        return None

    def _note(self, answer: requests.Response) -> None:
        kind = answer.headers.get("Content-Type", "")
        code = answer.json().get("code") if kind.startswith(MEDIA_TYPE) else None
        self.refusals[f"{answer.status_code} {code}"] += 1
        if not advised(code):
            self.unadvised.append(f"{answer.status_code} {code}: {answer.text[:200]}")


def photo() -> bytes:
    """A small picture: bands from dark to light."""
    bands = np.linspace(0, 255, 160, dtype=np.uint8)[None, :].repeat(96, axis=0)
    file = io.BytesIO()
    Image.fromarray(bands).save(file, "PNG")
    return file.getvalue()
