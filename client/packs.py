"""Packs: asking for them, waiting for them, fetching their files."""

from __future__ import annotations

import secrets
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import quote

from client.downloads import download
from client.errors import WaitedTooLong, pack_failed
from client.transport import Call, Transport
from client.values import JsonObject, Pack

FIRST_POLL_S = 0.1
LONGEST_POLL_S = 2.0
POLL_GROWTH = 1.4


def _ignore(_: Pack) -> None:
    """The progress callback of those who want none."""


class Packs:
    """The packs of this service's owner."""

    def __init__(self, transport: Transport) -> None:
        self._transport = transport

    def create(
        self,
        reference_id: str,
        spec: JsonObject,
        *,
        title: str | None = None,
        key: str | None = None,
    ) -> Pack:
        """Ask for a pack; it is made while you wait or do something else.

        Args:
            reference_id: The photo.
            spec: The job, as DESIGN.md and `/v1/openapi.json` describe it.
            title: Printed on map and sheets.
            key: Idempotency key; made here when left out.

        Raises:
            SpecRefused: With the field at fault.
        """
        body: dict[str, Any] = {"reference_id": reference_id, "spec": spec}
        if title is not None:
            body["title"] = title
        key = key or secrets.token_urlsafe(24)
        call = Call(method="POST", path="/v1/packs", json=body, key=key)
        return Pack.read(self._transport.json(call))

    def get(self, pack_id: str) -> Pack:
        """The pack as it stands."""
        return Pack.read(self._transport.json(Call(method="GET", path=_path(pack_id))))

    def delete(self, pack_id: str) -> None:
        """Cancel the pack while it is made, delete it when it has ended.

        It is sent once: after a cancelling whose answer was lost, the same call again would
        delete the pack.
        """
        self._transport.send(Call(method="DELETE", path=_path(pack_id), repeatable=False))

    def wait(
        self,
        pack_id: str,
        *,
        progress: Callable[[Pack], None] = _ignore,
        timeout_s: float | None = None,
    ) -> Pack:
        """Wait until the pack is ready.

        It asks again and again, in growing steps: that works through every proxy.

        Args:
            pack_id: The pack.
            progress: Called with the pack each time that it has moved on.
            timeout_s: How long to wait at the most; None waits as long as it takes.

        Raises:
            MakingFailed: The pack failed or was cancelled.
            WaitedTooLong: It is still being made.
        """
        until = None if timeout_s is None else time.monotonic() + timeout_s
        pause, before = FIRST_POLL_S, None
        while not (pack := self.get(pack_id)).ended:
            if (pack.state, pack.progress) != before:
                progress(pack)
                pause, before = FIRST_POLL_S, (pack.state, pack.progress)
            if until is not None and time.monotonic() + pause > until:
                message = f"Pack {pack_id} is still being made ({pack.state}). Ask again later."
                raise WaitedTooLong(message)
            self._transport.sleep(pause)
            pause = min(LONGEST_POLL_S, pause * POLL_GROWTH)
        progress(pack)
        return _ready(pack)

    def download_pack(self, pack_id: str, path: Path | str) -> Path:
        """Fetch map, guide and sheets as one PDF; `path` appears whole or not at all."""
        return self._download(f"{_path(pack_id)}/pack.pdf", Path(path))

    def download_map(self, pack_id: str, path: Path | str) -> Path:
        """Fetch the assembly map as a PNG picture."""
        return self._download(f"{_path(pack_id)}/map.png", Path(path))

    def download_sheet(self, pack_id: str, label: str, path: Path | str) -> Path:
        """Fetch one sheet alone; as PNG where `path` ends in .png, else as PDF."""
        kind = "png" if Path(path).suffix.lower() == ".png" else "pdf"
        return self._download(f"{_path(pack_id)}/sheets/{quote(label, safe='')}.{kind}", Path(path))

    def _download(self, path: str, target: Path) -> Path:
        return download(self._transport, path, target)


def _path(pack_id: str) -> str:
    return f"/v1/packs/{quote(pack_id, safe='')}"


def _ready(pack: Pack) -> Pack:
    if pack.state == "ready":
        return pack
    problem = pack.document.get("error") or {"code": pack.state, "detail": f"Pack {pack.state}."}
    raise pack_failed(problem)
