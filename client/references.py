"""References: sending photos, asking after them, deleting them."""

from __future__ import annotations

import hashlib
import secrets
import shutil
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO
from urllib.parse import quote, urlencode

from client.multipart import PhotoBody
from client.transport import Call, Transport
from client.values import Reference

#: A stream that cannot be read twice is kept in memory up to this size, else on disk.
SPOOL_BYTES = 4_000_000
#: How much of a photo is read at a time.
BLOCK_BYTES = 1_000_000


class References:
    """The photos of this service's owner."""

    def __init__(self, transport: Transport) -> None:
        self._transport = transport

    def upload(
        self,
        photo: Path | str | BinaryIO,
        *,
        name: str | None = None,
        student_id: str | None = None,
        accept_damaged: bool = False,
        key: str | None = None,
    ) -> Reference:
        """Send a photo.

        Args:
            photo: A path, or a file opened for reading bytes.
            name: File name to send along; the service goes by content alone.
            student_id: Whose photo it is, where a tutor or a course site sends it for them.
            accept_damaged: Take what can be read of a damaged photo as it is; without it, such
                a photo is refused, and the error's `readable_share` tells how much that is.
            key: Idempotency key; made here when left out. Give your own to try the same
                upload again from another process.

        Raises:
            PhotoRefused: With the reason.
            OSError: When the file cannot be read.
        """
        with _readable_twice(photo) as file:
            wish = {"student_id": student_id, "accept_damaged": "true" if accept_damaged else None}
            query = urlencode({name: value for name, value in wish.items() if value})
            told = name or Path(str(getattr(file, "name", "photo"))).name
            call = Call(
                method="POST",
                path=f"/v1/references?{query}" if query else "/v1/references",
                body=PhotoBody(file, told),
                key=key or secrets.token_urlsafe(24),
            )
            return Reference.read(self._transport.json(call))

    def square_up(
        self,
        reference_id: str,
        corners: Iterable[Iterable[float]],
        *,
        proportion: float | None = None,
        key: str | None = None,
    ) -> Reference:
        """Make a reference of its own of a picture or sketch that the photo shows at a slant.

        Deleting the photo deletes it too.

        Args:
            reference_id: The photo.
            corners: x and y of the picture's four corners in any order, in shares of the
                upright photo from its top left.
            proportion: The picture's width ÷ height; estimated when left out, which is least
                sure for a sheet seen from the front at a slant.
            key: Idempotency key; made here when left out.

        Raises:
            SpecRefused: With the reason why the corners will not do.
        """
        body = {"corners": [list(corner) for corner in corners], "proportion": proportion}
        call = Call(
            method="POST",
            path=f"{_path(reference_id)}/squared",
            json=body,
            key=key or secrets.token_urlsafe(24),
        )
        return Reference.read(self._transport.json(call))

    def find(self, photo: Path | str | BinaryIO) -> Reference | None:
        """The newest reference that has exactly this photo's bytes, where there is one.

        Ask before `upload` to spare sending a photo again. The reference is the one that
        whoever sent it first works with: deleting it deletes their packs too.

        Args:
            photo: A path, or a file opened for reading bytes, which is left where it stands.

        Raises:
            OSError: When the file cannot be read.
        """
        path = f"/v1/references?sha256={_sha256(photo)}"
        answer = self._transport.json(Call(method="GET", path=path))
        items = answer.get("items") if isinstance(answer, dict) else [answer]
        return Reference.read(items[0]) if items else None

    def get(self, reference_id: str) -> Reference:
        """The reference of this id."""
        return Reference.read(self._transport.json(Call(method="GET", path=_path(reference_id))))

    def delete(self, reference_id: str) -> None:
        """Delete the photo, and all that was made from it."""
        self._transport.send(Call(method="DELETE", path=_path(reference_id)))


def _path(reference_id: str) -> str:
    return f"/v1/references/{quote(reference_id, safe='')}"


def _sha256(photo: Path | str | BinaryIO) -> str:
    """The digest of what `upload` would send: all of a path, the rest of an open file."""
    if isinstance(photo, Path | str):
        with Path(photo).open("rb") as file:
            return _sha256(file)
    stands_at, digest = photo.tell(), hashlib.sha256()
    while block := photo.read(BLOCK_BYTES):
        digest.update(block)
    photo.seek(stands_at)
    return digest.hexdigest()


@contextmanager
def _readable_twice(photo: Path | str | BinaryIO) -> Iterator[BinaryIO]:
    """A file that can be sent again when the first sending is cut off."""
    if isinstance(photo, Path | str):
        with Path(photo).open("rb") as file:
            yield file
    elif photo.seekable():
        yield photo
    else:
        with tempfile.SpooledTemporaryFile(max_size=SPOOL_BYTES) as copy:
            shutil.copyfileobj(photo, copy)
            copy.seek(0)
            yield copy  # type: ignore[misc]  # A spooled file does all that a BinaryIO is used for.
