"""Every list that can grow comes in pages, which `Link` joins (RFC 8288)."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections.abc import Iterator
from typing import Any
from urllib.parse import urljoin

import pytest

from tests.integration.classes.studio import SPEC, Asker, Studio, photo

#: What a row is told by, and how many rows are made of each.
COUNT = 5


@pytest.fixture(scope="module")
def studio(furnished: Studio, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Studio]:
    """Tutor A has some of everything that lists show."""
    made = furnished.copy(tmp_path_factory.mktemp("studio") / "data")
    tutor, group = made.asker("tutor A"), f"/v1/classes/{made.ids['class_id A']}"
    made.ids["photo"] = made.send_photo("tutor A", 7)
    for number in range(COUNT):
        name = f"No. {number}"
        made.ask_for_pack("tutor A", made.ids["photo"], name)
        tutor.made(f"{group}/batches", {"title": name, "spec": SPEC})
        tutor.made(f"{group}/students", {"names": [f"Kit {number}"]})
        tutor.made("/v1/classes", {"name": name})
        tutor.made("/v1/sites", {"name": name})
        tutor.made("/v1/me/keys", {"label": name})
        tutor.made("/v1/printers", {"name": name, "format": "iso_a4_210x297mm"})
        made.send_photo("tutor A", 7)
        made.asker("site A").made(f"{group}/students", {"names": [f"Mo {number}"]})
    yield made
    made.close()


def lists(studio: Studio) -> dict[str, str]:
    """The addresses of all lists."""
    group = f"/v1/classes/{studio.ids['class_id A']}"
    found = hashlib.sha256(photo(7)).hexdigest()
    return {
        "packs": "/v1/me/packs",
        "batches": f"{group}/batches",
        "students": f"{group}/students",
        "classes": "/v1/classes",
        "sites": "/v1/sites",
        "keys": "/v1/me/keys",
        "printers": "/v1/printers",
        "references": f"/v1/references?sha256={found}",
        "site-log": f"/v1/sites/{studio.ids['site A']}/log",
        "class-site-log": f"{group}/site-log",
    }


LISTS = (
    *("packs", "batches", "students", "classes", "sites", "keys", "printers", "references"),
    *("site-log", "class-site-log"),
)


def next_of(path: str, header: str | None) -> str | None:
    """The address of the next page: a target in angle brackets, and its relation."""
    if header is None:
        return None
    target = re.fullmatch(r'<([^>]+)>; rel="next"', header)
    assert target is not None
    return urljoin(f"http://localhost{path}", target[1]).removeprefix("http://localhost")


def follow(asker: Asker, path: str) -> list[list[Any]]:
    """The items of each page, as the addresses lead from one to the next."""
    pages, wanted = [], path
    while True:
        answer = asker.ask("GET", wanted)
        assert answer.status_code == 200, answer.text
        pages.append(answer.json["items"])
        following = next_of(wanted, answer.headers.get("Link"))
        if following is None:
            return pages
        wanted = following


@pytest.mark.parametrize("name", LISTS)
def test_pages_make_up_the_list(studio: Studio, name: str) -> None:
    asker, path = studio.asker("tutor A"), lists(studio)[name]
    (whole,) = follow(asker, path)
    assert len(whole) >= COUNT
    joint = "&" if "?" in path else "?"
    pages = follow(asker, f"{path}{joint}limit=2")
    assert [len(page) for page in pages[:-1]] == [2] * (len(pages) - 1)
    assert pages[-1]
    assert [one for page in pages for one in page] == whole
    (exact,) = follow(asker, f"{path}{joint}limit={len(whole)}")
    assert exact == whole


@pytest.mark.parametrize("name", LISTS)
@pytest.mark.parametrize(
    ("query", "field"),
    [
        ("limit=0", "limit"),
        ("limit=501", "limit"),
        ("limit=some", "limit"),
        ("cursor=x", "cursor"),
        ("cursor=", "cursor"),
        ("cursor=%C3%A9", "cursor"),
    ],
)
def test_what_is_no_page_is_refused(studio: Studio, name: str, query: str, field: str) -> None:
    path = lists(studio)[name]
    answer = studio.asker("tutor A").ask("GET", f"{path}{'&' if '?' in path else '?'}{query}")
    assert (answer.status_code, answer.json["code"]) == (422, "request-invalid")
    assert answer.json["field"] == field


@pytest.mark.parametrize(
    "place",
    [
        ["classes", 1.0, "cls_x"],
        ["my-packs", "1", "pck_x"],
        ["my-packs", True, "pck_x"],
        ["my-packs", 1e999, "pck_x"],
        ["my-packs", 1.0, 7],
        ["my-packs", 1.0],
        {"my-packs": 1.0},
        7,
    ],
)
def test_a_cursor_is_of_its_own_list_and_whole(studio: Studio, place: Any) -> None:
    cursor = base64.urlsafe_b64encode(json.dumps(place).encode()).decode().rstrip("=")
    answer = studio.asker("tutor A").ask("GET", f"/v1/me/packs?cursor={cursor}")
    assert (answer.status_code, answer.json["field"]) == (422, "cursor")


def test_a_cursor_opens_nobody_elses_list(studio: Studio) -> None:
    path = "/v1/me/packs?limit=1"
    answer = studio.asker("tutor A").ask("GET", path)
    theirs = next_of(path, answer.headers["Link"])
    assert theirs is not None
    assert studio.asker("student A2").ask("GET", theirs).json["items"] == []
