"""Assignment and Grade Services 2.0: a student's pack is told to the platform's gradebook.

The token request is that of Security Framework 1.0, 4.1.1 (RFC 7523); the score is that of AGS 2.0,
3.4.
"""

from __future__ import annotations

import json
import time
from datetime import datetime
from typing import Any
from urllib.parse import urlsplit

import pytest
from joserfc import jwt
from joserfc.jwk import KeySet

from tests.integration.lti.conftest import HOME, World, data_of
from tests.servers.learning_platform import serving
from worker.jobs.upkeep.results import ResultTeller
from worker.store.ledger import NewPack, PackResult, ReferenceRow

ENDPOINT = "https://purl.imsglobal.org/spec/lti-ags/claim/endpoint"
SCORE = "https://purl.imsglobal.org/spec/lti-ags/scope/score"


def line_item(world: World, **changes: Any) -> dict[str, Any]:
    """The claim of a launch whose activity has a column."""
    base = f"{world.platform.base}/course-7"
    return {
        ENDPOINT: {
            "scope": [SCORE, "https://purl.imsglobal.org/spec/lti-ags/scope/lineitem.readonly"],
            "lineitems": f"{base}/items",
            "lineitem": f"{base}/items/3/lineitem?type=1",
            **changes,
        }
    }


@pytest.fixture
def graded(world: World) -> World:
    """A course that a student has come to; the platform gives tokens and takes scores."""
    world.launch_tutor()
    grant = json.dumps({"access_token": "at-1", "token_type": "Bearer", "expires_in": 3600})
    world.platform.answers["/token"] = (200, {"Content-Type": "application/json"}, grant.encode())
    world.platform.answers["/course-7/items/3/lineitem/scores"] = (200, {}, b"")
    data_of(world.launch(**line_item(world)))
    return world


def student_of(world: World) -> str:
    (row,) = world.ledger.classes.of_tutor(world.tutor_id)
    return world.ledger.students.of_class(row.id)[0].id


def make_pack(world: World) -> str:
    """A pack of the student is asked for and made."""
    owner = student_of(world)
    photo = world.ledger.add_reference(
        ReferenceRow(owner_id=owner, width_px=400, height_px=300, format="jpeg", sha256="0" * 64)
    )
    asked = world.ledger.enqueue(
        NewPack(owner_id=owner, reference_id=photo.id, spec={}, plan={"sheet_count": 1}, total=1)
    )
    claim = world.ledger.claim("w/1")
    assert claim is not None
    assert claim.pack.id == asked.id
    assert world.ledger.finish(
        claim, PackResult(number="7K3F-Q2ZD", files_key="packs/x/y", total=1)
    )
    return asked.id


def tell(world: World) -> None:
    """What the worker's upkeep does."""
    teller = ResultTeller(world.ledger, ("127.0.0.1",))
    teller.tell()
    teller.wait()


def scores(world: World) -> list[dict[str, Any]]:
    found = [one for one in world.platform.asked if urlsplit(one.path).path.endswith("/scores")]
    return [json.loads(one.body) for one in found]


def test_a_pack_that_is_ready_is_told_once(graded: World) -> None:
    tell(graded)
    assert graded.platform.count("/token") == 0
    pack_id = make_pack(graded)
    tell(graded)
    (told,) = scores(graded)
    # AGS 2.0, 3.4.5 to 3.4.9: what a score must have.
    assert (told["userId"], told["activityProgress"], told["gradingProgress"]) == (
        "user-1", "Completed", "FullyGraded"
    )  # fmt: skip
    assert told["scoreGiven"] == told["scoreMaximum"] == 1
    assert datetime.fromisoformat(told["timestamp"]).tzinfo is not None
    assert told["comment"].endswith(f" {HOME}lti/map/{pack_id}")
    tell(graded)
    assert len(scores(graded)) == 1
    # Another pack is told again, with its own map.
    other = make_pack(graded)
    tell(graded)
    assert scores(graded)[1]["comment"].endswith(other)


def test_the_score_goes_to_the_column_with_a_token(graded: World) -> None:
    make_pack(graded)
    tell(graded)
    token, score = graded.platform.asked[-2:]
    # AGS 2.0, 3.4: /scores comes after the path, and the query stays.
    assert score.path == "/course-7/items/3/lineitem/scores?type=1"
    assert score.headers["Authorization"] == "Bearer at-1"
    assert score.headers["Content-Type"] == "application/vnd.ims.lis.v1.score+json"
    form = token.form
    assert (form["grant_type"], form["scope"]) == ("client_credentials", SCORE)
    assert form["client_assertion_type"] == (
        "urn:ietf:params:oauth:client-assertion-type:jwt-bearer"
    )
    keys = KeySet.import_key_set(graded.browser().get("/lti/jwks", base_url=HOME).json)
    claims = jwt.decode(form["client_assertion"], keys, algorithms=["RS256"]).claims
    client = graded.platform.client_id
    assert (claims["iss"], claims["sub"], claims["aud"]) == (
        client, client, graded.platform.token_url
    )  # fmt: skip
    assert claims["exp"] > time.time()
    assert claims["jti"]


def test_a_platform_that_is_down_is_told_later(
    graded: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    make_pack(graded)
    graded.platform.answers["/course-7/items/3/lineitem/scores"] = (503, {}, b"")
    tell(graded)
    tell(graded)
    assert len(scores(graded)) == 1
    graded.platform.answers["/course-7/items/3/lineitem/scores"] = (204, {}, b"")
    later = time.time() + 61
    monkeypatch.setattr(graded.ledger.results, "_clock", lambda: later)
    tell(graded)
    tell(graded)
    assert len(scores(graded)) == 2


def test_after_a_day_it_is_given_up(graded: World, monkeypatch: pytest.MonkeyPatch) -> None:
    make_pack(graded)
    graded.platform.answers["/token"] = (401, {}, b"")
    now = time.time()
    for number in range(20):
        at = now + number * 5 * 3600
        monkeypatch.setattr(graded.ledger.results, "_clock", lambda at=at: at)
        tell(graded)
    assert graded.platform.count("/token") == 12


@pytest.mark.parametrize(
    "changes",
    [
        {"scope": []},
        {"scope": None},
        {"lineitem": None},
        {"lineitem": "http://platform.example/3"},
        {"lineitem": "https://other.example/3"},
        {"lineitem": "https://platform.example/" + "3" * 2000},
    ],
    ids=lambda one: str(one)[:40],
)
def test_without_a_column_that_we_may_write_nothing_is_told(
    world: World, changes: dict[str, Any]
) -> None:
    world.launch_tutor()
    data_of(world.launch(**line_item(world, **changes)))
    make_pack(world)
    tell(world)
    assert world.platform.count("/token") == 0


def test_a_column_at_another_host_is_sent_nothing(graded: World) -> None:
    with serving() as other:
        # As it may have been noted before hosts were checked; its port makes it another.
        graded.ledger.results.note(
            graded.row.id, student_of(graded), subject="user-1", home=HOME,
            line_item=f"{other.base}/items/3",
        )  # fmt: skip
        make_pack(graded)
        tell(graded)
        assert other.asked == []
    assert len(scores(graded)) == 1


def test_the_link_leads_where_the_platform_says_and_not_where_a_sender_does(graded: World) -> None:
    browser = graded.browser()
    asked = graded.login(browser)
    token = graded.platform.sign(graded.claims(asked, **line_item(graded)))
    # The service answers to more than one name.
    answer = graded.send_elsewhere(browser, asked["state"], token)
    data_of(answer)
    pack_id = make_pack(graded)
    tell(graded)
    (told,) = scores(graded)
    assert told["comment"].endswith(f" {HOME}lti/map/{pack_id}")


@pytest.mark.parametrize("how", ["expired", "all keys withdrawn"])
def test_after_the_platforms_time_nothing_is_told(graded: World, how: str) -> None:
    make_pack(graded)
    if how == "expired":
        changes = {"expires_at": time.time() - 1}
        graded.ledger.sites.change(graded.row.site_id, graded.tutor_id, changes)
    else:
        graded.ledger.people.withdraw_key(graded.row.site_id)
    assert not graded.ledger.results.waits()
    tell(graded)
    assert graded.platform.count("/token") == 0
    assert scores(graded) == []


def test_a_deleted_student_is_told_of_no_more(graded: World) -> None:
    make_pack(graded)
    graded.ledger.students.delete(student_of(graded), graded.tutor_id)
    tell(graded)
    assert scores(graded) == []


def test_the_maps_page_shows_nothing_by_itself(graded: World) -> None:
    pack_id = make_pack(graded)
    stranger = graded.browser()
    shown = stranger.get(f"/lti/map/{pack_id}", base_url=HOME)
    assert shown.status_code == 200
    assert f'src="/v1/packs/{pack_id}/map.png"' in shown.text
    assert "frame-ancestors 'none'" in shown.headers["Content-Security-Policy"]
    assert stranger.get(f"/v1/packs/{pack_id}/map.png", base_url=HOME).status_code == 401
