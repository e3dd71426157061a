"""The body is what the standard library's parser reads as one form field."""

from __future__ import annotations

import io
from email.message import Message
from email.parser import BytesParser
from email.policy import HTTP

import pytest

from ricalco_client.transport.multipart import PhotoBody


def _parse(body: PhotoBody, content: bytes) -> Message:
    head = f"Content-Type: {body.content_type}\r\n\r\n".encode()
    message = BytesParser(policy=HTTP).parsebytes(head + content)
    (part,) = message.get_payload()
    assert isinstance(part, Message)
    return part


@pytest.mark.parametrize("block", [1, 7, 4096, -1])
def test_one_part_holds_the_photo(block: int) -> None:
    photo = bytes(range(256)) * 10
    body = PhotoBody(io.BytesIO(photo), "vase.jpg")
    content = body.read() if block < 0 else b"".join(iter(lambda: body.read(block), b""))
    part = _parse(body, content)
    assert len(content) == len(body)
    assert part.get_payload(decode=True) == photo
    assert part.get_param("name", header="content-disposition") == "file"
    assert part.get_filename() == "vase.jpg"


def test_it_can_be_sent_again_from_where_the_file_stood() -> None:
    file = io.BytesIO(b"skip:photo")
    file.seek(5)
    body = PhotoBody(file, "x")
    first = b"".join(body)
    body.rewind()
    assert b"".join(body) == first
    assert b"skip" not in first
    assert len(first) == len(body)


def test_a_hostile_name_stays_inside_its_quotes() -> None:
    body = PhotoBody(io.BytesIO(b"x"), 'a"\r\nX-Evil: 1\r\n.jpg')
    head = body.read().split(b"\r\n\r\n")[0]
    assert b'filename="a%22%0D%0AX-Evil: 1%0D%0A.jpg"' in head
