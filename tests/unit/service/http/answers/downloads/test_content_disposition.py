"""Names of downloads reach every browser (RFC 6266, RFC 8187)."""

from __future__ import annotations

from email.message import Message
from urllib.parse import unquote

from hypothesis import given
from hypothesis import strategies as st

from service.http.answers.downloads.content_disposition import content_disposition
from service.http.answers.downloads.safe_names import safe_name


def test_plain_names_need_no_second_form() -> None:
    assert content_disposition("Still life.pdf") == 'inline; filename="Still life.pdf"'


def test_other_letters_are_given_twice() -> None:
    header = content_disposition("Évora 静.pdf")
    assert header == "inline; filename=\"Evora .pdf\"; filename*=UTF-8''%C3%89vora%20%E9%9D%99.pdf"


def test_a_name_with_no_plain_letter_gets_one() -> None:
    assert 'filename="ricalco.pdf"' in content_disposition("静物.pdf")


@given(st.text())
def test_any_title_makes_a_header_that_others_read(title: str) -> None:
    """Python's own readers of such headers get a name with its ending, and the name back."""
    name = safe_name(title, "pack") + ".pdf"
    header = content_disposition(name)
    assert header.isascii()
    assert header.isprintable()
    message = Message()
    message["Content-Disposition"] = header
    found = message.get_filename()
    assert found is not None
    assert found.endswith(".pdf")
    full = header.partition("; filename*=UTF-8''")[2]
    assert (unquote(full) or found) == name
