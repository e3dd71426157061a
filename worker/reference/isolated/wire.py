"""How web and child talk: a message is its length in four bytes, then that much JSON.

The photo's bytes follow the question at once. So the child needs no right to read any file,
and nothing is said of where the photo came from.
"""

from __future__ import annotations

import json
from typing import Any, BinaryIO

#: No message is longer; an answer that says so comes from no child of ours.
MOST_BYTES = 64_000
_LENGTH_BYTES = 4
BLOCK_BYTES = 1 << 20


class Silent(Exception):
    """The other side has gone, or says what it never would."""


def say(line: BinaryIO, message: dict[str, Any]) -> None:
    """Send a message.

    Raises:
        OSError: The other side has gone.
    """
    body = json.dumps(message).encode()
    line.write(len(body).to_bytes(_LENGTH_BYTES, "big") + body)
    line.flush()


def hear(line: BinaryIO) -> dict[str, Any]:
    """The next message.

    Raises:
        Silent: There is none.
    """
    length = int.from_bytes(exactly(line, _LENGTH_BYTES), "big")
    if length > MOST_BYTES:
        raise Silent
    try:
        message = json.loads(exactly(line, length))
    except ValueError as error:
        raise Silent from error
    if not isinstance(message, dict):
        raise Silent
    return message


def exactly(line: BinaryIO, count: int) -> bytes:
    """So many bytes.

    Raises:
        Silent: There are fewer.
    """
    found = line.read(count)
    if found is None or len(found) < count:
        raise Silent
    return found


def pour(source: BinaryIO, line: BinaryIO, count: int) -> None:
    """Copy so many bytes.

    Raises:
        OSError: The other side has gone.
        Silent: The source has fewer.
    """
    while count > 0:
        block = source.read(min(count, BLOCK_BYTES))
        if not block:
            raise Silent
        line.write(block)
        count -= len(block)
    line.flush()
