"""The protocol between parent and child: a length in four bytes, then that much JSON.

The photo's bytes follow the question. So the child needs no right to read any file, and learns
nothing about where the photo came from.
"""

from __future__ import annotations

import json
from typing import Any, BinaryIO

#: The longest message; a longer one does not come from a child of ours.
MOST_BYTES = 64_000
_LENGTH_BYTES = 4
BLOCK_BYTES = 1 << 20


class PeerGone(Exception):
    """The other process has ended, or sent something that is no message."""


def send_message(line: BinaryIO, message: dict[str, Any]) -> None:
    """Send a message.

    Raises:
        OSError: The other process has ended.
    """
    body = json.dumps(message).encode()
    line.write(len(body).to_bytes(_LENGTH_BYTES, "big") + body)
    line.flush()


def receive_message(line: BinaryIO) -> dict[str, Any]:
    """The next message.

    Raises:
        PeerGone: There is none.
    """
    length = int.from_bytes(read_exactly(line, _LENGTH_BYTES), "big")
    if length > MOST_BYTES:
        raise PeerGone
    try:
        message = json.loads(read_exactly(line, length))
    except ValueError as error:
        raise PeerGone from error
    if not isinstance(message, dict):
        raise PeerGone
    return message


def read_exactly(line: BinaryIO, count: int) -> bytes:
    """Read exactly `count` bytes.

    Raises:
        PeerGone: There are fewer.
    """
    found = line.read(count)
    if found is None or len(found) < count:
        raise PeerGone
    return found


def copy_bytes(source: BinaryIO, line: BinaryIO, count: int) -> None:
    """Copy `count` bytes.

    Raises:
        OSError: The other process has ended.
        PeerGone: The source has fewer.
    """
    while count > 0:
        block = source.read(min(count, BLOCK_BYTES))
        if not block:
            raise PeerGone
        line.write(block)
        count -= len(block)
    line.flush()
