"""Thirty students in thirty sessions, each from a page of the course site, all at once.

They ask as that page's own scripts would: with the token of a session, and with the origin that
a browser adds. What they are answered, a browser lets that page read (Fetch Standard, CORS).
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import requests

from tests.integration.course.conftest import Tutor, Visitor
from tests.integration.course.student import Student
from tests.integration.service.conftest import Running
from tests.servers.course_site import STUDENTS, CourseSite
from tests.waiting import HANG_S, wait_until


def test_thirty_students_make_their_packs_in_thirty_sessions(
    told_course: CourseSite, tutor: Tutor, portrait: bytes
) -> None:
    course = told_course

    def lesson(user: str) -> tuple[Student, dict[str, Any]]:
        student = Student(course, user)
        return student, student.makes_a_pack(portrait, f"Jug of {user}")

    with ThreadPoolExecutor(len(STUDENTS)) as pool:
        made = list(pool.map(lesson, STUDENTS))
    assert len(made) == 30
    assert len({student.token for student, _ in made}) == len({pack["id"] for _, pack in made})
    # The webhook told the course site of each of them, and the key whose it is.
    wait_until(
        lambda: [course.pack_of(user) for user in STUDENTS] == [one["id"] for _, one in made]
    )
    for student, pack in made:
        file = student.ask("GET", pack["files"]["pack"])
        assert file.content.startswith(b"%PDF")
        assert file.headers["Access-Control-Allow-Origin"] == course.ties.origin
    # Two have one name, and each has a place of their own.
    roster = tutor.ask("GET", f"/v1/classes/{tutor.class_id}/students")["items"]
    assert sum(one["name"] == "Ada Okafor" for one in roster) == 2
    # Nobody reads another's.
    (one, _), (_, others) = made[0], made[1]
    assert one.ask("GET", others["files"]["pack"]).status_code == 404


def test_a_page_of_another_origin_cannot_use_a_token(
    course: CourseSite, course_at: Callable[..., CourseSite]
) -> None:
    student = Student(course, "u13")
    assert student.ask("GET", "/v1/me").status_code == 200
    other = course_at()
    refused = student.ask("GET", "/v1/me", headers={"Origin": other.ties.origin})
    assert (refused.status_code, refused.json()["code"]) == (403, "origin-refused")
    # The page that sent it may read why.
    assert refused.headers["Access-Control-Allow-Origin"] == other.ties.origin
    nowhere = student.ask("GET", "/v1/me", headers={"Origin": "http://elsewhere.test"})
    assert nowhere.status_code == 403
    assert "Access-Control-Allow-Origin" not in nowhere.headers


def test_a_page_cannot_use_a_key_or_a_cookie(course: CourseSite, tutor: Tutor) -> None:
    student = Student(course, "u14")
    for key in (course.ties.key, tutor.key):
        answer = student.ask("GET", "/v1/me", headers={"Authorization": f"Bearer {key}"})
        assert (answer.status_code, answer.json()["code"]) == (403, "origin-refused")
    signed_in = requests.post(
        f"{course.ties.service}/v1/sign-in", json={"key": tutor.key}, timeout=HANG_S
    )
    cookies = dict(signed_in.cookies)
    assert cookies
    without = {"Origin": course.ties.origin, "Sec-Fetch-Site": "same-site"}
    for method, path in (("GET", "/v1/me"), ("GET", "/v1/classes"), ("POST", "/v1/sign-in")):
        answer = requests.request(
            method,
            f"{course.ties.service}{path}",
            headers=without,
            cookies=cookies,
            json={"key": tutor.key} if method == "POST" else None,
            timeout=HANG_S,
        )
        assert answer.status_code in {401, 403}, (path, answer.text)
        assert "Set-Cookie" not in answer.headers


def test_nobody_signs_in_from_a_course_page(course: CourseSite, tutor: Tutor) -> None:
    """Else a course site could sign a browser in as somebody else."""
    student = Student(course, "u15")
    answer = student.ask("POST", "/v1/sign-in", json={"key": tutor.key})
    assert (answer.status_code, answer.json()["code"]) == (403, "origin-refused")
    assert "Set-Cookie" not in answer.headers


def test_a_token_ends_with_its_time(course: CourseSite, service: Running) -> None:
    student = Student(course, "u16")
    with sqlite3.connect(service.data_dir / "ledger.db") as ledger:
        # Ten minutes pass in the ledger; the service's own clock cannot be set.
        ledger.execute("UPDATE sessions SET ends_at = ends_at - 601")
    answer = student.ask("GET", "/v1/me")
    assert (answer.status_code, answer.json()["code"]) == (401, "session-ended")
    assert answer.headers["WWW-Authenticate"].startswith("Bearer")
    assert answer.headers["Access-Control-Allow-Origin"] == course.ties.origin


def test_a_token_ends_with_its_student(course: CourseSite, tutor: Tutor) -> None:
    student = Student(course, "u17")
    mine = student.ask("GET", "/v1/me").json()["person"]["id"]
    tutor.ask("DELETE", f"/v1/classes/{tutor.class_id}/students/{mine}")
    assert student.ask("GET", "/v1/me").status_code == 401


def test_a_script_of_the_course_page_may_use_it(visitor: Visitor) -> None:
    """By fetch in a browser, with everything that the browser checks about it."""
    visitor.expected = ("CORS policy", "ERR_FAILED")
    page = visitor.sign_in("u18")
    told = page.evaluate(
        """async (service) => {
          const { token } = await (await fetch("/ricalco/session", { method: "POST" })).json();
          const headers = { Authorization: `Bearer ${token}` };
          const me = `${service}/v1/me`;
          const answer = await fetch(me, { headers });
          const asked = fetch(me, { headers, credentials: "include" });
          const lent = await asked.catch(({ name }) => name);
          return { status: answer.status, id: answer.headers.get("X-Request-Id"), lent };
        }""",
        visitor.course.ties.service,
    )
    assert told["status"] == 200
    assert told["id"]
    # Without Access-Control-Allow-Credentials the browser gives the page no answer at all.
    assert told["lent"] == "TypeError"
