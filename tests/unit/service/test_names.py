"""Titles become file names that no system stumbles over (RFC 6266, RFC 8187)."""

from __future__ import annotations

from email.message import Message

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.names import content_disposition, safe_stem


@pytest.mark.parametrize(
    ("title", "stem"),
    [
        ("Still life", "Still life"),
        ("Pears, évora — Ωmega 静物", "Pears, évora — Ωmega 静物"),
        ("../../etc/passwd", "etc passwd"),
        ("C:\\boot", "C boot"),
        ("two\nlines\t\x00", "two lines"),
        ("  . ", "pack"),
        ("", "pack"),
        ("CON", "pack"),
        ("lpt1.pdf", "pack"),
        ("x" * 300, "x" * 80),
    ],
)
def test_a_title_as_a_file_name(title: str, stem: str) -> None:
    assert safe_stem(title, "pack") == stem


def test_plain_names_need_no_second_form() -> None:
    assert content_disposition("Still life.pdf") == 'inline; filename="Still life.pdf"'


def test_other_letters_are_given_twice() -> None:
    header = content_disposition("Évora 静.pdf")
    assert header == "inline; filename=\"Evora .pdf\"; filename*=UTF-8''%C3%89vora%20%E9%9D%99.pdf"


def test_a_name_with_no_plain_letter_gets_one() -> None:
    assert 'filename="ricalco.pdf"' in content_disposition("静物.pdf")


@given(st.text())
def test_any_title_makes_a_header_that_others_read(title: str) -> None:
    """Python's own reader of such headers gets the name back."""
    name = safe_stem(title, "pack") + ".pdf"
    header = content_disposition(name)
    assert header.isascii()
    assert header.isprintable()
    message = Message()
    message["Content-Disposition"] = header
    found = message.get_filename()
    assert found is not None
    assert found.endswith(".pdf")
    assert "/" not in name
    assert "\\" not in name
