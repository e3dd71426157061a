"""Titles in many scripts, and everything else that a title may hold."""

import unicodedata
from pathlib import Path

import bidi
import pytest
from hypothesis import given
from hypothesis import strategies as st

import worker.pdf
from tests.folded import fold
from worker.pdf.fonts import BOLD, DISPLAY, FALLBACKS, TEXT, face
from worker.pdf.text import clean, fit, shape, width_pt

TITLES = {
    "Latin": "Ångström, fi, ½ × 3 – Việt",
    "Greek": "Ελληνικά",
    "Cyrillic": "Кириллица",
    "Arabic": "صورة العائلة",
    "Hebrew": "שלום עולם",
    "Chinese": "我的祖母的肖像",
    "Japanese": "東京タワー ひらがな",
    "Korean": "할머니의 초상",
    "Devanagari": "मेरी दादी की तस्वीर",
    "Bengali": "আমার দাদীর ছবি",
    "Tamil": "என் பாட்டியின் படம்",
    "Thai": "ภาพวาดของยายที่นี่",
    "Georgian": "ბებიას პორტრეტი",
    "Armenian": "Տատիկի դիմանկարը",
    "Ethiopic": "የአያቴ ምስል",
    "Emoji": "🎨👩‍🎨❤️👋🏽",
}


@fold(("title", TITLES.values()), ("wanted", [TEXT, BOLD, DISPLAY]))
def test_every_letter_has_a_glyph(title: str, wanted: str) -> None:
    shaped = shape(clean(title), wanted)
    assert shaped.glyphs
    assert all(glyph.number != 0 for glyph in shaped.glyphs)


#: Letters and signs of running text, as Unicode CLDR lists them for each language (exemplar
#: characters, main and punctuation), in both cases.
RUNNING_TEXT = {
    "German": "äöüß ÄÖÜẞ –—…“„«»§\u2018\u201a\u2010",
    "French": "àâæçéèêëîïôœùûüÿ ÀÂÆÇÉÈÊËÎÏÔŒÙÛÜŸ –—…’«»§†‡\u2010\u202f\u00a0",
    "Spanish": "áéíñóúüÁÉÍÑÓÚÜ ¡¿–—…’“”«»§†‡″ªº\u2018\u2010\u2032",
    "Italian": "àéèìóòùÀÉÈÌÓÒÙ —…“”«»’",
    "all": "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789 ,;:!?.()[]{}@*/&#%×±·",
}


@fold(("language", RUNNING_TEXT), ("wanted", [TEXT, BOLD, DISPLAY]))
def test_our_own_faces_have_the_letters_of_neighbouring_languages(
    language: str, wanted: str
) -> None:
    """Without a fall-back to another face, which would show in the middle of a word."""
    missing = [sign for sign in RUNNING_TEXT[language] if ord(sign) not in face(wanted).covers]
    assert missing == []


def test_nobodys_letter_is_a_visible_box() -> None:
    cuneiform = shape(clean("\U00012000"), TEXT)
    assert [glyph.number for glyph in cuneiform.glyphs] == [0]
    extents = face(TEXT).font.get_glyph_extents(0)
    assert extents.width > 0
    assert extents.height != 0


@given(st.text())
def test_any_text_is_shaped(title: str) -> None:
    shaped = shape(clean(title), TEXT)
    assert shaped.width >= 0


@given(st.text(alphabet=st.characters(codec=None, categories=("Cs", "Cc", "Cf", "Cn", "Co"))))
def test_controls_and_broken_text_never_break_a_page(title: str) -> None:
    cleaned = clean(title)
    assert not any(unicodedata.category(letter) in {"Cc", "Cs"} for letter in cleaned)
    shape(cleaned, DISPLAY)


def test_no_break_spaces_stay_and_others_become_one() -> None:
    assert clean(" Qui\u202f?\u2003 \n «\u00a0Moi\u00a0» ") == "Qui\u202f? «\u00a0Moi\u00a0»"
    assert clean("\u202f?") == "\u202f?"
    assert clean(" \u00a0 ") == ""


def test_arabic_letters_join() -> None:
    """Joined, beh (U+0628) takes its initial, medial and final form: three glyphs, not one."""
    alone = shape("ب", TEXT).glyphs[0].number
    joined = [glyph.number for glyph in shape("ببب", TEXT).glyphs if glyph.advance]
    assert alone not in joined
    assert len(set(joined)) == 3


@pytest.mark.parametrize(
    "text",
    ["שלום עולם", "שלום 2024 עולם", "English שלום עולם 12 more", "(שלום) 2024", "עולם A1, B2"],
)
def test_order_is_that_of_the_bidirectional_algorithm(text: str) -> None:
    """Against the independent implementation of UAX #9 that python-bidi brings in Rust."""
    drawn = "".join(glyph.meaning for glyph in shape(text, TEXT).glyphs)
    mirrored = str.maketrans("()", ")(")
    base = bidi.get_display(text)
    # Brackets that run leftwards are mirrored as glyphs here, as letters there.
    assert drawn in {base, base.translate(mirrored)}


def test_vowel_sign_stands_before_its_letter() -> None:
    """In कि the sign i (U+093F) is written left of ka, though it follows it in memory."""
    first, second = shape("कि", TEXT).glyphs
    ka = shape("क", TEXT).glyphs[0].number
    assert second.number == ka
    assert first.number != ka


def test_fit_shortens_and_says_so() -> None:
    title = "A very long title " * 6
    short = fit(title, TEXT, 10, 100)
    assert short.endswith("…")
    assert width_pt(short, TEXT, 10) <= 100
    assert fit("short", TEXT, 10, 100) == "short"


def test_fit_does_not_tear_a_letter_from_its_marks() -> None:
    title = "e\u0301\u0323" * 40
    for room in range(20, 120, 7):
        assert not unicodedata.combining((fit(title, TEXT, 10, room) + " ")[0])
        torn = fit("👩\u200d🎨" * 20, TEXT, 10, room)
        assert not torn.removesuffix("…").endswith("\u200d")


def test_faces_are_opened_only_when_needed() -> None:
    face.cache_clear()
    shape.cache_clear()
    shape("Plain title", TEXT)
    assert face.cache_info().currsize == 1


def test_all_faces_are_carried_with_their_licence() -> None:
    for name in (TEXT, BOLD, DISPLAY, *FALLBACKS):
        assert face(name).covers
    folder = Path(worker.pdf.__path__[0]) / "fonts"
    names = {file.name for file in folder.iterdir()}
    assert {"LICENSE-OFL-1.1.txt", "LICENSE-Apache-2.0.txt", "README.txt"} <= names
