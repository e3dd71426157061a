"""Nothing in the frame keeps anybody out: axe-core finds no barrier, in both languages and lights.

What the page shows there is tried elsewhere (tests/integration/page/test_barriers.py); here it is
what only a frame shows, and the frame in the page around it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, cast

import pytest
from playwright.sync_api import Page

from tests.integration.course.conftest import Visitor
from tests.integration.page.steps import Words
from tests.integration.page.test_barriers import AXE, LOCALES, barriers, small_targets, too_wide
from tests.servers.course_site import CourseSite


def faults(where: Any) -> list[Any]:
    """What is wrong on a page or in a frame."""
    page = cast("Page", where)
    found = [*barriers(page, AXE.read_text(encoding="utf-8")), *small_targets(page)]
    return [*found, *([wide] if (wide := too_wide(page)) > 0 else [])]


@pytest.mark.parametrize(("language", "light"), [("en", "light"), ("it", "dark")])
def test_the_frame_and_what_covers_it_have_no_barrier(
    course: CourseSite, visitor_at: Callable[..., Visitor], language: str, light: str
) -> None:
    words = Words(language)
    visitor = visitor_at(course, locale=LOCALES[language], color_scheme=light)
    visitor.expected = ("403",)
    visitor.context.clock.install()
    course.language = language
    page = visitor.sign_in("u20")
    frame = visitor.frame()
    assert page.locator("iframe").get_attribute("title") == "Make your pack"
    frame.get_by_role("heading", name=words("photo.title")).wait_for()
    assert faults(frame) == []
    course.tells = False
    visitor.context.clock.fast_forward("11:00")
    cover = frame.get_by_role("heading", name=words("embed.ended-title"))
    cover.wait_for()
    assert frame.evaluate("document.activeElement.tagName") == "H1"
    assert faults(frame) == []
