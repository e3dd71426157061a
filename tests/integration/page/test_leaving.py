"""What a device keeps for the studio, and when it goes: on leaving, in time, for somebody else."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from typing import Any

import pytest
import requests
from playwright.sync_api import Page

from client.web import FOLDER
from tests.integration.page.conftest import Phone
from tests.integration.page.steps import Words, heading
from tests.integration.service.conftest import Running, start
from tests.waiting import wait_until
from worker.store.ledger import Ledger, NewClass

WORDS = Words()
SPEC = {"support": {"width_mm": 180, "height_mm": 120}}
#: A browser notes in its console what it was refused, and that a line is gone.
REFUSED = ("401", "403", "404", "ERR_", "Failed to load resource", "Service Worker")


@dataclass
class School:
    """A service with a tutor and two students, each of whom has a pack that is ready."""

    service: Running
    class_id: str
    tutor: str
    keys: dict[str, str]
    ids: dict[str, str]
    packs: dict[str, str]

    def ask(self, key: str, method: str, path: str, **how: Any) -> requests.Response:
        """One request past the page."""
        headers = {"Authorization": f"Bearer {key}"}
        return requests.request(method, self.service.url + path, headers=headers, timeout=60, **how)


def ready_pack(school: School, name: str, photo: bytes) -> str:
    """Someone's pack, made."""
    key = school.keys[name]
    files = {"file": ("photo.jpg", photo, "image/jpeg")}
    reference = school.ask(key, "POST", "/v1/references", files=files).json()["id"]
    wish = {"reference_id": reference, "spec": SPEC, "title": f"Jug of {name}"}
    path = school.ask(key, "POST", "/v1/packs", json=wish).json()["links"]["self"]
    wait_until(lambda: school.ask(key, "GET", path).json()["state"] == "ready", 60)
    return path.rpartition("/")[2]


@pytest.fixture(scope="module")
def school(tmp_path_factory: pytest.TempPathFactory, portrait: bytes) -> Iterator[School]:
    service = start(tmp_path_factory.mktemp("school"), PAGE_DIR=FOLDER, WORKERS=1)
    url = f"sqlite:///{(service.data_dir / 'ledger.db').as_posix()}"
    with closing(Ledger.open(url)) as ledger:
        tutor, issued = ledger.people.add_tutor("Tutor")
        group = ledger.classes.add(NewClass(tutor_id=tutor.id, name="7b"))
        rows = ledger.students.add(group.id, tutor.id, ["Ann", "Ben"])
        keys = {row.name: ledger.people.issue_key(row.id).key for row in rows}
    ids = {row.name: row.id for row in rows}
    made = School(service, group.id, issued.key, keys, ids, {})
    made.packs = {name: ready_pack(made, name, portrait) for name in keys}
    yield made
    if service.process.poll() is None:
        assert service.stop() == 0


def sign_in(phone: Phone, key: str) -> Page:
    """Somebody signs in on the page."""
    phone.expected = REFUSED
    page = phone.open("sign-in")
    page.get_by_label(WORDS("sign-in.key")).fill(key)
    page.get_by_role("button", name=WORDS("sign-in.go")).click()
    heading(page, WORDS("common.shelf")).wait_for()
    return page


def keep(page: Page, pack: str) -> None:
    """The device keeps a pack for the studio, as its page does when it is ready."""
    page.evaluate(
        "(id) => import('/js/api/offline-cache.js').then((keep) => keep.keepPack(id))", pack
    )
    # The pack's document, its map, the picture that its sheets are cut from, and its thumbnail.
    assert len(kept(page)) == 4


def kept(page: Page) -> list[str]:
    """Addresses of what is kept of packs."""
    look = "caches.open('ricalco-packs').then((cache) => cache.keys())"
    return list(page.evaluate(f"{look}.then((all) => all.map(({{ url }}) => url))"))


def sign_in_cookie(phone: Phone) -> str:
    """What the browser keeps of its sign-in."""
    found = [one["value"] for one in phone.context.cookies() if one["name"] == "ricalco_key"]
    return found[0] if found else ""


def opens(school: School, cookie: str) -> bool:
    """Whether a sign-in still opens."""
    jar = {"ricalco_key": cookie}
    return requests.get(f"{school.service.url}/v1/me", cookies=jar, timeout=60).status_code == 200


def sign_out(page: Page) -> None:
    page.get_by_role("button", name=WORDS("me.sign-out")).click()


def test_signing_out_forgets_here_and_there(school: School, phone_at: Callable[..., Phone]) -> None:
    phone = phone_at(school.service)
    page = sign_in(phone, school.keys["Ann"])
    keep(page, school.packs["Ann"])
    cookie = sign_in_cookie(phone)
    phone.open("me")
    sign_out(page)
    heading(page, WORDS("common.join")).wait_for()
    assert kept(page) == []
    assert sign_in_cookie(phone) == ""
    assert not opens(school, cookie)
    # The same device goes on, and speaks as before.
    sign_in(phone, school.keys["Ben"])


def test_signing_out_without_a_network_forgets_at_once_and_tells_the_service_later(
    school: School, phone_at: Callable[..., Phone]
) -> None:
    phone = phone_at(school.service, service_workers="block")
    page = sign_in(phone, school.keys["Ann"])
    keep(page, school.packs["Ann"])
    cookie = sign_in_cookie(phone)
    page.get_by_role("button", name=f"{WORDS('shelf.open')} Jug of Ann").click()
    wait_until(lambda: (phone.state()["pack"] or {}).get("id") == school.packs["Ann"])
    phone.open("me")
    page.get_by_role("button", name=WORDS("me.sign-out")).wait_for()
    phone.context.set_offline(True)
    sign_out(page)
    wait_until(lambda: kept(page) == [])
    wait_until(lambda: phone.state()["leaving"])
    assert (phone.state()["pack"], phone.state()["personId"]) == (None, None)
    assert opens(school, cookie)
    phone.context.set_offline(False)
    wait_until(lambda: not opens(school, cookie))
    wait_until(lambda: sign_in_cookie(phone) == "")
    # The browser has cleared all that was stored; what is nobody's is there again.
    stored = "(localStorage.getItem('ricalco.state.1') ?? '')"
    wait_until(lambda: page.evaluate(f"{stored}.includes('\"leaving\":false')"))
    assert phone.state()["language"] == "en"
    # And whoever comes next is not signed out by it.
    sign_in(phone, school.keys["Ben"])
    page.reload()
    page.locator("html[data-ready]").wait_for(state="attached")
    assert phone.state()["personId"] == school.ids["Ben"]


def test_somebody_else_finds_nothing(school: School, phone_at: Callable[..., Phone]) -> None:
    phone = phone_at(school.service)
    page = sign_in(phone, school.keys["Ann"])
    keep(page, school.packs["Ann"])
    sign_in(phone, school.keys["Ben"])
    wait_until(lambda: kept(page) == [])


def test_whose_key_is_withdrawn_keeps_nothing(
    school: School, phone_at: Callable[..., Phone]
) -> None:
    phone = phone_at(school.service)
    page = sign_in(phone, school.keys["Ben"])
    keep(page, school.packs["Ben"])
    line = f"/v1/classes/{school.class_id}/students/{school.ids['Ben']}"
    try:
        assert school.ask(school.tutor, "PATCH", line, json={"withdrawn": True}).status_code == 200
        phone.open("")
        heading(page, WORDS("common.join")).wait_for()
        assert kept(page) == []
    finally:
        school.ask(school.tutor, "PATCH", line, json={"withdrawn": False})


@pytest.mark.parametrize("status", [401, 403, 404])
def test_what_is_refused_is_kept_no_longer(
    school: School, phone_at: Callable[..., Phone], status: int
) -> None:
    """The service worker's own code, before a service that refuses."""
    phone = phone_at(school.service, bypass_csp=True)
    page = sign_in(phone, school.keys["Ann"])
    page.evaluate("navigator.serviceWorker.ready.then(() => 1)")
    keep(page, school.packs["Ann"])
    drop = """async ([id, status]) => {
      const code = await (await fetch('/sw.js')).text();
      const heard = {};
      const scope = { addEventListener: (name, hear) => { heard[name] = hear; }, skipWaiting() {} };
      new Function('self', 'fetch', 'location', code)(
        scope, async () => new Response('{}', { status }), location);
      let answer;
      const request = new Request(new URL(`/v1/packs/${id}/map.png`, location));
      heard.fetch({ request, respondWith: (coming) => { answer = coming; } });
      return (await answer).status;
    }"""
    assert page.evaluate(drop, [school.packs["Ann"], status]) == status
    assert kept(page) == []


def test_what_is_over_is_kept_no_longer_also_without_a_network(
    school: School, phone_at: Callable[..., Phone]
) -> None:
    phone = phone_at(school.service, bypass_csp=True)
    page = sign_in(phone, school.keys["Ann"])
    page.evaluate("navigator.serviceWorker.ready.then(() => 1)")
    phone.open("studio")
    for until in ("2099-01-01T00:00:00+00:00", "2001-01-01T00:00:00+00:00"):
        pack = school.ask(school.keys["Ann"], "GET", f"/v1/packs/{school.packs['Ann']}").json()
        answer = json.dumps({**pack, "delete_after": until})
        keep_if = """async ([id, text]) => {
          const keep = await import('/js/api/offline-cache.js');
          await keep.keepPack(id);
          const cache = await caches.open('ricalco-packs');
          const headers = { 'Content-Type': 'application/json' };
          await cache.put(`/v1/packs/${id}`, new Response(text, { headers }));
          const offline = async () => { throw new TypeError('no network'); };
          const heard = {};
          const scope = { addEventListener: (name, hear) => { heard[name] = hear; } };
          const code = await (await fetch('/sw.js')).text();
          new Function('self', 'fetch', 'location', code)(scope, offline, location);
          let answer;
          const request = new Request(new URL(`/v1/packs/${id}/map.png`, location));
          heard.fetch({ request, respondWith: (coming) => { answer = coming; } });
          return answer.then(({ status }) => status, () => 0);
        }"""
        over = until < "2026"
        assert page.evaluate(keep_if, [school.packs["Ann"], answer]) == (0 if over else 200)
        assert bool(kept(page)) is not over
    # The page looks by itself too, when it is opened.
    keep(page, school.packs["Ann"])
    page.evaluate(
        """async ([id, text]) => (await caches.open('ricalco-packs')).put(
          `/v1/packs/${id}`, new Response(text))""",
        [school.packs["Ann"], answer],
    )
    phone.open("photo")
    page.reload()
    page.locator("html[data-ready]").wait_for(state="attached")
    wait_until(lambda: kept(page) == [])
