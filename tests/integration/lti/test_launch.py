"""Launches as a student and as a tutor: LTI 1.3 Core, 5.3; Security Framework 1.0, 5.1."""

from __future__ import annotations

import logging

import pytest

from tests.integration.lti.conftest import HOME, ROLES, TARGET, World, data_of
from tests.servers.learning_platform import (
    CLAIM,
    COURSE,
    INSTITUTION,
    MEMBER,
    new_curve_key,
    new_key,
)
from worker.store.ledger import NewClass
from worker.store.ledger.lti import launches


def test_a_login_asks_the_platform_to_authenticate(world: World) -> None:
    # Security Framework 1.0, 5.1.1.2: what the authentication request must have.
    asked = world.login(world.browser())
    assert {name: asked[name] for name in asked if name not in {"state", "nonce"}} == {
        "scope": "openid",
        "response_type": "id_token",
        "response_mode": "form_post",
        "prompt": "none",
        "client_id": world.platform.client_id,
        "redirect_uri": TARGET,
        "login_hint": "hint-1",
        "lti_message_hint": "message-1",
    }
    again = world.login(world.browser())
    assert {again["state"], again["nonce"]}.isdisjoint({asked["state"], asked["nonce"]})


def test_a_tutor_opens_the_course_and_students_come(world: World) -> None:
    opened = world.launch_tutor()
    assert opened.status_code == 200
    assert "Drawing, group 7" in opened.text
    (row,) = world.ledger.classes.of_tutor(world.tutor_id)
    assert (row.name, row.tutor_id) == ("Drawing, group 7", world.tutor_id)
    data = data_of(world.launch())
    me = world.browser().get(
        "/v1/me", base_url=HOME, headers={"Authorization": f"Bearer {data['token']}"}
    )
    assert me.status_code == 200
    assert me.json is not None
    assert me.json["person"]["role"] == "student"
    (student,) = world.ledger.students.of_class(row.id)
    assert student.name == "Ada Okafor"
    assert me.json["person"]["id"] == student.id
    assert me.json["session"]["site_id"] == data["site"] == world.row.site_id


def test_who_comes_again_is_the_same(world: World) -> None:
    world.launch_tutor()
    world.launch_tutor(name="Ruth B.")
    world.launch()
    world.launch(name="Ada O.")
    # The same name is no same person: ids of the platform tell them apart.
    world.launch(sub="user-2", name="Ada O.")
    (row,) = world.ledger.classes.of_tutor(world.tutor_id)
    assert [one.name for one in world.ledger.students.of_class(row.id)] == ["Ada O.", "Ada O."]
    teach = world.ledger.second_tutors.of_class(row.id, world.tutor_id)
    assert [one.name for one in teach] == ["Head of art", "Ruth B."]


def test_names_are_only_as_given(world: World) -> None:
    world.launch_tutor()
    world.launch(name=None)
    world.launch(sub="user-2", name=None, given_name="Bo", family_name="Lind")
    # Somebody whose name was given once keeps it.
    world.launch(sub="user-2", name=None)
    (row,) = world.ledger.classes.of_tutor(world.tutor_id)
    assert [one.name for one in world.ledger.students.of_class(row.id)] == ["Student", "Bo Lind"]


def test_each_course_is_a_class(world: World) -> None:
    world.launch_tutor()
    world.launch_tutor(**{f"{CLAIM}context": {"id": "course-8", "title": "Pastel"}})
    found = world.ledger.classes.of_tutor(world.tutor_id)
    assert [one.name for one in found] == ["Drawing, group 7", "Pastel"]


def test_a_course_can_be_bound_to_a_class_that_is_there(world: World) -> None:
    row = world.ledger.classes.add(NewClass(tutor_id=world.tutor_id, name="Evening class"))
    world.ledger.platforms.bind(world.row, world.platform.deployment_id, COURSE["id"], row.id)
    world.launch()
    assert [one.name for one in world.ledger.students.of_class(row.id)] == ["Ada Okafor"]


def test_a_student_waits_for_the_tutor(world: World) -> None:
    refused = world.launch()
    assert (refused.status_code, refused.json["code"]) == (403, "launch-refused")  # type: ignore[index]
    assert "tutor has to open" in refused.text
    assert world.ledger.classes.of_tutor(world.tutor_id) == ()


def test_the_launch_is_shown_in_the_platforms_pages_only(world: World) -> None:
    world.launch_tutor()
    shown = world.launch()
    policy = shown.headers["Content-Security-Policy"]
    assert "frame-ancestors 'self' https://course.example;" in policy + ";"
    assert shown.headers["Cache-Control"] == "no-store"
    # Nothing is told to others; our own forms say from where they come (Fetch, 3.1).
    assert shown.headers["Referrer-Policy"] == "same-origin"
    site = f"/embed?site={world.row.site_id}&origin=https://course.example"
    for path in ("/", site):
        other = world.browser().get(path, base_url=HOME)
        assert "frame-ancestors 'none'" in other.headers["Content-Security-Policy"]


def test_no_script_of_the_platform_may_use_the_session(world: World) -> None:
    world.launch_tutor()
    token = data_of(world.launch())["token"]
    headers = {"Authorization": f"Bearer {token}", "Origin": "https://course.example"}
    assert world.browser().get("/v1/me", base_url=HOME, headers=headers).status_code == 403


def test_the_page_renews_its_session_while_the_launch_lasts(world: World) -> None:
    world.launch_tutor()
    data = data_of(world.launch())
    browser = world.browser()
    answer = browser.post("/lti/renewals", json={"renewal": data["renewal"]}, base_url=HOME)
    assert answer.status_code == 200
    assert answer.json is not None
    assert answer.json["token"] not in {data["token"], None}
    wrong = browser.post("/lti/renewals", json={"renewal": data["token"]}, base_url=HOME)
    assert (wrong.status_code, wrong.json["code"]) == (401, "session-ended")  # type: ignore[index]
    elsewhere = browser.post(
        "/lti/renewals", json={"renewal": data["renewal"]}, base_url=HOME,
        headers={"Origin": "https://course.example"},
    )  # fmt: skip
    assert elsewhere.status_code == 403
    # A student's launch signs nobody in.
    signed = browser.post("/lti/sign-in", data={"launch": data["renewal"]}, base_url=HOME)
    assert signed.status_code == 401


def test_a_tutor_is_signed_in_once_in_a_window_of_its_own(world: World) -> None:
    shown = world.launch_tutor()
    secret = shown.text.split('name="launch" value="')[1].split('"')[0]
    browser = world.browser()
    renewed = browser.post("/lti/renewals", json={"renewal": secret}, base_url=HOME)
    assert renewed.status_code == 401
    signed = browser.post("/lti/sign-in", data={"launch": secret}, base_url=HOME)
    assert signed.status_code == 303
    (row,) = world.ledger.classes.of_tutor(world.tutor_id)
    assert signed.location.endswith(f"/#class/{row.id}")
    me = browser.get("/v1/me", base_url=HOME)
    assert me.json is not None
    assert (me.json["person"]["role"], me.json["person"]["name"]) == ("tutor", "Ruth Blume")
    assert browser.get(f"/v1/classes/{row.id}/board", base_url=HOME).status_code == 200
    assert world.browser().post(
        "/lti/sign-in", data={"launch": secret}, base_url=HOME
    ).status_code == 401  # fmt: skip


@pytest.mark.parametrize(
    "roles",
    [
        [],
        None,
        "Instructor",
        [f"{INSTITUTION}Instructor"],
        ["http://purl.imsglobal.org/vocab/lis/v2/system/person#Administrator"],
        [f"{MEMBER}Mentor"],
        [f"{MEMBER}Instructor#"],
        [f"{MEMBER}instructor"],
        [{"role": f"{MEMBER}Instructor"}],
    ],
    ids=str,
)
def test_only_roles_in_the_course_count(world: World, roles: object) -> None:
    # LTI 1.3 Core, A.2: roles of institution and system say nothing about the course.
    refused = world.launch_tutor(**{ROLES: roles})
    assert (refused.status_code, refused.json["code"]) == (403, "launch-refused")  # type: ignore[index]
    assert world.ledger.classes.of_tutor(world.tutor_id) == ()


def test_who_learns_and_teaches_is_a_student(world: World) -> None:
    world.launch_tutor()
    both = [f"{MEMBER}Instructor", f"{MEMBER}Learner"]
    data_of(world.launch(**{ROLES: both}))
    (row,) = world.ledger.classes.of_tutor(world.tutor_id)
    assert len(world.ledger.students.of_class(row.id)) == 1


def test_one_platform_id_may_be_student_here_and_tutor_there(world: World) -> None:
    world.launch_tutor()
    world.launch_tutor(**{f"{CLAIM}context": {"id": "course-8", "title": "Pastel"}})
    learns = world.launch(sub="teacher-1")
    token = data_of(learns)["token"]
    board = f"/v1/classes/{world.ledger.classes.of_tutor(world.tutor_id)[1].id}/board"
    headers = {"Authorization": f"Bearer {token}"}
    assert world.browser().get(board, base_url=HOME, headers=headers).status_code in {403, 404}


def test_keys_are_kept_and_rotated(world: World) -> None:
    world.launch_tutor()
    world.launch()
    assert world.platform.count("/jwks") == 1
    world.platform.keys = {"k2": new_key("k2"), "e1": new_curve_key("e1")}
    browser = world.browser()
    asked = world.login(browser)
    # The old set is seconds old: a new one is not fetched yet.
    token = world.platform.sign(world.claims(asked), "k2")
    refused = world.send(browser, asked["state"], token)
    assert refused.status_code == 403
    _let_time_pass(world)
    assert world.send(browser, asked["state"], token).status_code == 200
    again = world.login(browser)
    token = world.platform.sign(world.claims(again), "e1")
    assert world.send(browser, again["state"], token).status_code == 200
    assert world.platform.count("/jwks") == 2


def _let_time_pass(world: World) -> None:
    keys = world.app.extensions["ricalco-platform-keys"]
    for kept in keys._kept.values():
        kept.asked_s -= 31.0
        kept.fetched_s -= 31.0


def test_a_platform_that_is_down_is_told_apart(world: World) -> None:
    world.platform.answers["/jwks"] = (500, {}, b"")
    for _ in range(3):
        refused = world.launch_tutor()
        assert (refused.status_code, refused.json["code"]) == (502, "platform-unreachable")  # type: ignore[index]
    # Nobody waits for it once more within half a minute.
    assert world.platform.count("/jwks") == 1


def test_a_browser_is_shown_a_page_that_says_what_is_wrong(world: World) -> None:
    browser = world.browser()
    asked = world.login(browser)
    token = world.platform.sign(world.claims(asked))
    shown = world.send(browser, asked["state"], token, Accept="text/html,*/*;q=0.8")
    assert (shown.status_code, shown.mimetype) == (403, "text/html")
    assert "Your tutor has to open this" in shown.text
    assert "https://course.example" in shown.headers["Content-Security-Policy"]
    # In the browser's language; what only an administrator can mend has the error's own words.
    html = {"Accept": "text/html,*/*;q=0.8", "Accept-Language": "it-IT, en;q=0.5"}
    again = world.login(browser)
    token = world.platform.sign(world.claims(again))
    assert (
        "Prima deve aprirlo il tuo insegnante"
        in world.send(browser, again["state"], token, **html).text
    )
    last = world.login(browser)
    wrong = world.platform.sign(world.claims(last, aud="somebody-else"))
    told = world.send(browser, last["state"], wrong, **html).text
    assert 'lang="it"' in told
    assert '<p lang="en">The launch is for another tool' in told


def test_a_tutors_page_speaks_the_platforms_language(world: World) -> None:
    shown = world.launch_tutor(**{f"{CLAIM}launch_presentation": {"locale": "it-IT"}})
    assert "Apri la classe in una nuova finestra" in shown.text
    assert 'name="language" value="it"' in shown.text


def test_no_secret_and_no_name_is_logged(world: World, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    world.launch_tutor()
    data = data_of(world.launch())
    said = "\n".join(f"{one.getMessage()} {vars(one)}" for one in caplog.records)
    assert "launched" in said
    for secret in (data["token"], data["renewal"], "Okafor", "user-1", "hint-1"):
        assert secret not in said


def test_our_keys_are_public_and_have_no_private_part(world: World) -> None:
    found = world.browser().get("/lti/jwks", base_url=HOME).json
    assert found is not None
    (key,) = found["keys"]
    # RFC 7518, 6.3.2: d, p, q, dp, dq, qi are the private members.
    assert set(key) == {"kty", "n", "e", "kid", "use", "alg"}
    assert (key["kty"], key["alg"], key["use"]) == ("RSA", "RS256", "sig")
    assert found == world.browser().get("/lti/jwks", base_url=HOME).json


def test_a_withdrawn_student_does_not_come_back(world: World) -> None:
    world.launch_tutor()
    world.launch()
    (row,) = world.ledger.classes.of_tutor(world.tutor_id)
    (student,) = world.ledger.students.of_class(row.id)
    world.ledger.students.change(student.id, world.tutor_id, {"withdrawn": True})
    refused = world.launch()
    assert (refused.status_code, refused.json["code"]) == (403, "launch-refused")  # type: ignore[index]


def test_when_the_site_is_deleted_the_platform_is_gone(world: World) -> None:
    world.launch_tutor()
    data = data_of(world.launch())
    world.ledger.sites.delete(world.row.site_id, world.tutor_id)
    assert world.row not in world.ledger.platforms.all()
    browser = world.browser()
    answer = browser.post("/lti/login", data=world.platform.login(TARGET), base_url=HOME)
    assert answer.status_code == 403
    renewed = browser.post("/lti/renewals", json={"renewal": data["renewal"]}, base_url=HOME)
    assert renewed.status_code == 401


def test_what_the_platform_did_is_in_its_sites_log(world: World) -> None:
    world.launch_tutor()
    world.launch()
    (row,) = world.ledger.classes.of_tutor(world.tutor_id)
    lines = world.ledger.site_log.of_site(world.row.site_id)
    assert [(one.action, one.class_id) for one in lines] == [("lti_launch", row.id)] * 2


def test_logins_that_nobody_ends_keep_nobody_out(
    world: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(launches, "MOST_LOGINS", 3)
    for _ in range(5):
        world.login(world.browser())
    assert world.launch_tutor().status_code == 200


def test_the_oldest_launches_of_one_person_end(world: World) -> None:
    shown = [world.launch_tutor() for _ in range(launches.MOST_EACH + 1)]
    first = shown[0].text.split('name="launch" value="')[1].split('"')[0]
    answer = world.browser().post("/lti/sign-in", data={"launch": first}, base_url=HOME)
    assert answer.status_code == 401
