"""Origins are those of RFC 6454, letter by letter as browsers send them."""

from __future__ import annotations

import pytest

from service.sites.origins import is_origin


@pytest.mark.parametrize(
    "written",
    [
        "https://course.example",
        "https://course.example:8443",
        "http://localhost:3000",
        "http://127.0.0.1:5000",
        "http://[::1]:5000",
        "https://xn--bcher-kva.example",
    ],
)
def test_what_browsers_send_is_one(written: str) -> None:
    assert is_origin(written)


@pytest.mark.parametrize(
    "written",
    [
        "",
        "*",
        "null",
        "course.example",
        "https://",
        "https://course.example/",
        "https://course.example/page",
        "https://course.example?x",
        "https://course.example#x",
        "https://Course.example",
        "https://course.example:443",
        "http://course.example:80",
        "https://course.example:99999",
        "https://*.example",
        "https://user@course.example",
        "https://bücher.example",
        "https://a.example; script-src *",
        "https://a.example https://b.example",
        "https://a.example,https://b.example",
        "ftp://course.example",
        "javascript:alert(1)",
        "file://",
        "https://" + "a" * 250 + ".example",
    ],
)
def test_anything_else_is_none(written: str) -> None:
    assert not is_origin(written)
