"""Names as files: every system unpacks them, and none leads out of its folder."""

from __future__ import annotations

import unicodedata
from pathlib import PurePosixPath, PureWindowsPath

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.http.answers.downloads.safe_names import MAX_BYTES, UniqueNames, safe_name


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("Amélie Dvořáková", "Amélie Dvořáková"),
        ("ليلى بن يوسف", "ليلى بن يوسف"),
        ("王小明", "王小明"),
        ("प्रिया शर्मा", "प्रिया शर्मा"),
        ("נועה לוי", "נועה לוי"),
        ("👩🏽‍🎨 Kit", "👩🏽‍🎨 Kit"),
        ("../../etc/passwd", "etc passwd"),
        ("a/b\\c:d", "a b c d"),
        (".hidden", "hidden"),
        ("trailing. . .", "trailing"),
        ("two\nlines\x00", "two lines"),
        # Written right to left, this would be shown as exe.gpj backwards: a picture.
        ("photo\u202egpj.exe", "photo gpj.exe"),
        ("con", "student"),
        ("LPT1.pdf", "student"),
        ("COM¹", "student"),
        ("  ", "student"),
        ("\u200d", "student"),
    ],
)
def test_a_name_as_a_file(text: str, name: str) -> None:
    assert safe_name(text, "student") == name


def test_long_names_are_cut_between_letters() -> None:
    assert safe_name("静" * 100, "x", max_bytes=10) == "静静静"
    assert safe_name("प्रि" * 10, "x", max_bytes=12) == "प्रि"
    assert safe_name("👩🏽‍🎨" * 3, "x", max_bytes=20) == "👩🏽‍🎨"


@given(st.text(max_size=400))
def test_any_text_makes_a_name_that_stays_in_its_folder(text: str) -> None:
    name = safe_name(text, "student") + ".pdf"
    assert PurePosixPath(name).name == name
    assert PureWindowsPath(name).name == name
    assert len(name.encode()) <= MAX_BYTES + 4
    assert unicodedata.is_normalized("NFC", name)
    assert not any(unicodedata.category(letter) in {"Cc", "Cs"} for letter in name)


def test_no_name_is_given_twice() -> None:
    given_out = UniqueNames()
    wanted = ["Ada", "ADA", "Ad\u00e1", "Ada\u0301", "Ada (2)", "Ada"]
    found = [given_out.take(name, ".pdf") for name in wanted]
    assert found == [
        "Ada.pdf",
        "ADA (2).pdf",
        "Adá.pdf",
        "Ada\u0301 (2).pdf",
        "Ada (2) (2).pdf",
        "Ada (3).pdf",
    ]
