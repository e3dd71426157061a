"""Launches speak the language of the platform, else of the browser, else English."""

from __future__ import annotations

import pytest
from flask import Flask

from client.web import FOLDER
from service.lti.words import words_for
from service.page import Page
from worker.errors import NotFound


@pytest.mark.parametrize(
    ("locale", "accepted", "language"),
    [
        ("it-IT", "en", "it"),
        ("it_IT", "", "it"),
        ("EN-GB", "it", "en"),
        ("", "it-CH, en;q=0.5", "it"),
        ("xx", "xy, it;q=0.3", "it"),
        ("../en", "xx", "en"),
        (None, "", "en"),
    ],
)
def test_the_language_is_the_platforms_else_the_browsers(
    locale: object, accepted: str, language: str
) -> None:
    with Flask(__name__).test_request_context(headers={"Accept-Language": accepted}):
        assert words_for(Page(FOLDER), locale).language == language


def test_a_text_has_its_values_and_its_plural() -> None:
    with Flask(__name__).test_request_context():
        t = words_for(Page(FOLDER), "it")
    assert t("launch.students", count=1) == "1 studente nell'elenco."
    assert t("launch.students", count=0) == "0 studenti nell'elenco."
    assert t("launch.brought", listed=12, added=3).startswith("Nel corso studiano in 12; 3 di loro")


def test_without_a_page_there_are_no_texts() -> None:
    with pytest.raises(NotFound, match="RICALCO_PAGE_DIR"):
        words_for(None)
