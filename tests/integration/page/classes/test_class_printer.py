"""A class's printer: measured once by the tutor, taken up by a student who cannot change it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.integration.page.classes.test_classes import become_tutor, join, make_class, open_joining
from tests.integration.page.conftest import Phone
from tests.integration.page.steps import Words, choose_photo, open_tool
from tests.integration.page.test_printer import NAME, judged
from tests.integration.service.conftest import Running

WORDS = Words()


def test_students_print_by_what_their_tutor_measured(
    own_service: Running, phone_at: Callable[..., Phone], photo: Path
) -> None:
    tablet = phone_at(own_service, viewport={"width": 1024, "height": 768}, is_mobile=False)
    page = tablet.open()
    become_tutor(page)
    page.get_by_role("button", name=WORDS("teach.on")).click()
    class_id = make_class(page, "Thursday 7b", "Ann Lee\nZoë Müller")
    code = open_joining(page, class_id)
    tablet.open("printer")
    page.locator(".test-leaf").wait_for()
    judged(page, "down", "199")
    open_tool(page, "keep")
    page.get_by_label(WORDS("printer.name"), exact=True).fill(NAME)
    page.get_by_label(WORDS("printer.for-class")).select_option(label="Thursday 7b")
    with page.expect_request("**/v1/printers") as kept:
        page.get_by_role("button", name=WORDS("printer.make")).click()
    assert kept.value.post_data_json["class_id"] == class_id
    page.get_by_role("main").get_by_text(WORDS("printer.is-kept", name=NAME)).wait_for()

    phone = phone_at(own_service)
    student = join(phone, code, "Ann Lee")
    choose_photo(student, photo, WORDS)
    phone.open("paper")
    open_tool(student, "printer")
    with student.expect_response(
        lambda answer: (
            answer.url.endswith("/v1/plans")
            and answer.request.post_data_json["spec"]["print"].get("printer") == NAME
        )
    ) as planned:
        student.get_by_label(WORDS("printer.choose"), exact=True).select_option(label=NAME)
    assert planned.value.ok
    asked = planned.value.request.post_data_json["spec"]["print"]
    assert asked["down_correction"] == pytest.approx(200 / 199, abs=1e-5)
    student.get_by_role("link", name=WORDS("printer.measure")).click()
    student.locator(".test-leaf").wait_for()
    open_tool(student, "kept")
    student.get_by_text(WORDS("printer.of-class")).first.wait_for()
    # It is shared with them: they may use it, or keep one of their own.
    assert student.get_by_role("button", name=WORDS("printer.forget", name=NAME)).count() == 0
    assert student.get_by_role("button", name=WORDS("printer.make")).is_visible()
