"""Fetching a file: it appears whole or not at all, and is what the service sent."""

from __future__ import annotations

import base64
import binascii
import hashlib
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import requests

from client.errors import DownloadDamaged
from client.files import whole_file
from client.transport import Call, Transport

BLOCK_BYTES = 256 * 1024
_DIGEST = "sha-256=:"


def download(transport: Transport, path: str, target: Path) -> Path:
    """Fetch what is at `path` into the file `target`.

    Raises:
        DownloadDamaged: It broke off or arrived changed; nothing is left under the name.
    """
    headers = {"Accept": "*/*", "Accept-Encoding": "identity"}
    call = Call(method="GET", path=path, stream=True, headers=headers)
    with closing(transport.send(call)) as answer, whole_file(target) as file:
        digest, length = hashlib.sha256(), 0
        for block in _blocks(answer):
            file.write(block)
            digest.update(block)
            length += len(block)
        _check(answer, digest.digest(), length)
    return target


def _blocks(answer: requests.Response) -> Iterator[bytes]:
    try:
        yield from answer.iter_content(BLOCK_BYTES)
    except requests.RequestException as error:
        message = f"The download of {answer.url} broke off. Try again."
        raise DownloadDamaged(message) from error


def _check(answer: requests.Response, digest: bytes, length: int) -> None:
    """Compare with Content-Length, and with Repr-Digest (RFC 9530) where it is sent.

    Raises:
        DownloadDamaged: When either differs.
    """
    promised = answer.headers.get("Content-Length")
    if promised is not None and int(promised) != length:
        message = f"{length} of {promised} bytes of {answer.url} arrived. Try again."
        raise DownloadDamaged(message)
    wanted = _promised_digest(answer)
    if wanted is not None and wanted != digest:
        message = f"{answer.url} arrived changed: its checksum differs. Try again."
        raise DownloadDamaged(message)


def _promised_digest(answer: requests.Response) -> bytes | None:
    for member in answer.headers.get("Repr-Digest", "").split(","):
        if member.strip().startswith(_DIGEST):
            try:
                return base64.b64decode(member.strip()[len(_DIGEST) :].rstrip(":"), validate=True)
            except binascii.Error:
                return None
    return None
