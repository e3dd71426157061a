"""Downloads: a file appears whole or not at all, and its checksum is verified."""

from __future__ import annotations

import base64
import binascii
import hashlib
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import requests

from ..errors import DownloadDamaged
from ..files import atomic_file
from .transport import Call, Transport

BLOCK_BYTES = 256 * 1024
_DIGEST = "sha-256=:"


def download(transport: Transport, path: str, target: Path) -> Path:
    """Download `path` into the file `target`.

    Raises:
        DownloadDamaged: It broke off or arrived changed; `target` is left as it was.
    """
    headers = {"Accept": "*/*", "Accept-Encoding": "identity"}
    call = Call(method="GET", path=path, stream=True, headers=headers)
    with closing(transport.send(call)) as answer, atomic_file(target) as file:
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
    """Compare with Content-Length, and with Repr-Digest (RFC 9530) if it is sent.

    Raises:
        DownloadDamaged: When either differs.
    """
    promised = answer.headers.get("Content-Length")
    if promised is not None and int(promised) != length:
        message = f"{length} of {promised} bytes of {answer.url} arrived. Try again."
        raise DownloadDamaged(message)
    wanted = _digest_header(answer)
    if wanted is not None and wanted != digest:
        message = f"{answer.url} arrived changed: its checksum differs. Try again."
        raise DownloadDamaged(message)


def _digest_header(answer: requests.Response) -> bytes | None:
    for member in answer.headers.get("Repr-Digest", "").split(","):
        if member.strip().startswith(_DIGEST):
            try:
                return base64.b64decode(member.strip()[len(_DIGEST) :].rstrip(":"), validate=True)
            except binascii.Error:
                return None
    return None
