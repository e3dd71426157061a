"""From the code on the board to a device with a key, and back."""

from __future__ import annotations

import io
import re
import unicodedata
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
import skimage.data
from PIL import Image
from werkzeug.test import TestResponse

from service.runtime.limits.failed_attempts import FREE
from tests.integration.classes.studio import Studio

NAMES = ["Zoë Dvořák", "李雷", "נועה", "محمد", "प्रिया", "Ana 🎨"]


class Class:
    """A class with a roster, over HTTP."""

    def __init__(self, studio: Studio, **settings: Any) -> None:
        self.studio = studio
        self.tutor = studio.asker("tutor")
        wish = {"name": "Still life", "joining_open": True, "settings": settings}
        made = self.tutor.made("/v1/classes", wish)
        self.path, self.code = f"/v1/classes/{made['id']}", made["join_code"]
        roster = self.tutor.made(f"{self.path}/students", {"names": NAMES})
        self.ids = {one["name"]: one["id"] for one in roster["items"]}

    def join(self, **wish: Any) -> TestResponse:
        """A device joins."""
        return self.studio.asker("nobody").ask("POST", "/v1/join", json={"code": self.code, **wish})

    def change(self, **wish: Any) -> None:
        """The tutor changes the class."""
        assert self.tutor.ask("PATCH", self.path, json=wish).status_code == 200


@pytest.fixture
def studio(tmp_path: Path) -> Iterator[Studio]:
    """A service with one tutor."""
    made = Studio(tmp_path / "data")
    made.keys["tutor"] = made.context.ledger.people.add_tutor("Ada")[1].key
    yield made
    made.close()


@pytest.fixture
def class_(studio: Studio) -> Class:
    """A class whose join page lists no names."""
    return Class(studio)


def code_of(answer: TestResponse) -> tuple[int, str]:
    """Status, and what is wrong."""
    return answer.status_code, answer.json["code"] if answer.json else ""


def me(studio: Studio, key: str) -> TestResponse:
    """What the service says to this key."""
    header = {"Authorization": f"Bearer {key}"}
    return studio.app.test_client(use_cookies=False).get("/v1/me", headers=header)


@pytest.mark.parametrize("name", NAMES)
def test_a_name_on_the_roster_joins_however_it_is_written(class_: Class, name: str) -> None:
    written = unicodedata.normalize("NFD", f"  {name.upper()} ")
    joined = class_.join(name=written)
    assert joined.status_code == 201
    assert joined.json["person"]["name"] == name
    assert me(class_.studio, joined.json["key"]).json["person"]["id"] == class_.ids[name]


def test_the_code_may_be_written_as_people_write_it(class_: Class) -> None:
    # Crockford's base 32: O is read as 0, I and L as 1, hyphens and case do not matter.
    sloppy = class_.code.lower().replace("0", "o").replace("1", "l").replace("-", " ")
    wish = {"code": sloppy, "name": NAMES[0]}
    assert class_.studio.asker("nobody").ask("POST", "/v1/join", json=wish).status_code == 201


def test_a_device_keeps_its_key_in_a_cookie_that_no_script_reads(class_: Class) -> None:
    device = class_.studio.app.test_client()
    joined = device.post("/v1/join", json={"code": class_.code, "name": NAMES[1]})
    told = joined.headers["Set-Cookie"]
    assert told.startswith("ricalco_key=rcs_")
    assert all(word in told for word in ("HttpOnly", "SameSite=Strict", "Path=/"))
    assert device.get("/v1/me").json["person"]["name"] == NAMES[1]
    device.delete("/v1/sign-in")
    assert device.get("/v1/me").status_code == 401
    assert device.post("/v1/sign-in", json={"key": joined.json["key"]}).status_code == 200
    assert device.get("/v1/me").json["person"]["name"] == NAMES[1]


def test_a_place_is_taken_once_until_the_tutor_frees_it(class_: Class) -> None:
    first = class_.join(name=NAMES[0])
    assert code_of(class_.join(name=NAMES[0])) == (409, "name-taken")
    key_path = f"{class_.path}/student-keys/{class_.ids[NAMES[0]]}"
    assert class_.tutor.ask("DELETE", key_path).status_code == 204
    assert me(class_.studio, first.json["key"]).status_code == 401
    assert class_.join(name=NAMES[0]).status_code == 201


def test_a_new_key_withdraws_the_old_one(class_: Class) -> None:
    first = class_.join(name=NAMES[0]).json["key"]
    key_path = f"{class_.path}/student-keys/{class_.ids[NAMES[0]]}"
    second = class_.tutor.made(key_path, {"label": "new phone"})["key"]
    assert me(class_.studio, first).status_code == 401
    assert me(class_.studio, second).json["person"]["name"] == NAMES[0]


def test_who_is_withdrawn_gets_nowhere_and_may_come_back(class_: Class) -> None:
    key = class_.join(name=NAMES[0]).json["key"]
    line = f"{class_.path}/students/{class_.ids[NAMES[0]]}"
    class_.tutor.ask("PATCH", line, json={"withdrawn": True})
    assert code_of(me(class_.studio, key)) == (401, "key-unknown")
    class_.tutor.ask("PATCH", line, json={"withdrawn": False})
    assert me(class_.studio, key).status_code == 200


def test_strangers_join_only_an_open_roster(class_: Class) -> None:
    assert code_of(class_.join(name="Mallory")) == (409, "not-on-roster")
    class_.change(settings={"open_roster": True})
    joined = class_.join(name="Late Comer")
    assert joined.status_code == 201
    roster = class_.tutor.ask("GET", f"{class_.path}/students").json["items"]
    assert [one["name"] for one in roster] == [*NAMES, "Late Comer"]


def test_names_are_shown_only_where_the_tutor_lets_them_be(class_: Class) -> None:
    look = f"/v1/join?code={class_.code}"
    nobody = class_.studio.asker("nobody")
    assert nobody.ask("GET", look).json["names"] is None
    picked = class_.ids[NAMES[2]]
    assert code_of(class_.join(student_id=picked)) == (404, "not-found")
    class_.change(settings={"show_names": True})
    assert class_.join(student_id=picked).status_code == 201
    shown = nobody.ask("GET", look).json
    assert shown["class_name"] == "Still life"
    assert [one["name"] for one in shown["names"]] == [one for one in NAMES if one != NAMES[2]]


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"joining_open": False}, "joining-closed"),
        ({"closes_at": "2001-01-01T00:00:00Z"}, "class-closed"),
        ({"new_code": True}, "not-found"),
    ],
)
def test_nobody_joins_a_class_that_is_closed(
    class_: Class, change: dict[str, Any], code: str
) -> None:
    class_.change(**change)
    assert code_of(class_.join(name=NAMES[0]))[1] == code
    look = class_.studio.asker("nobody").ask("GET", f"/v1/join?code={class_.code}")
    assert code_of(look)[1] == code


def test_a_class_that_mistypes_joins_and_who_guesses_waits(class_: Class) -> None:
    """All of them stand behind one address, as the test client does."""
    app = class_.studio.app
    for number in range(100):
        look = app.test_client(use_cookies=False).get(f"/v1/join?code=ZZZZ{number:04}")
        assert code_of(look) == (404, "not-found")
    guesser = app.test_client()
    looks = [guesser.get(f"/v1/join?code=YYYY{number:04}") for number in range(FREE + 3)]
    told = [code_of(look) for look in looks]
    assert told == FREE * [(404, "not-found")] + [(404, "not-found")] + 2 * [
        (429, "too-many-tries")
    ]
    answer = guesser.get(f"/v1/join?code={class_.code}")
    assert code_of(answer) == (429, "too-many-tries")
    assert int(answer.headers["Retry-After"]) > 0
    for name in NAMES:
        assert class_.join(name=name).status_code == 201


def test_the_qr_code_on_the_board_opens_the_join_page(class_: Class) -> None:
    """Read by OpenCV's detector, which knows nothing of who drew it (ISO/IEC 18004)."""
    svg = class_.tutor.ask("GET", f"{class_.path}/join.svg").text
    url = class_.tutor.ask("GET", class_.path).json["join_url"]
    assert url.endswith(f"#join={class_.code}")
    assert cv2.QRCodeDetector().detectAndDecode(rasterised(svg))[0] == url


def rasterised(svg: str) -> np.ndarray:
    """The rows of modules that the picture's one path strokes, eight pixels each."""
    size = int(re.search(r'width="(\d+)"', svg)[1]) // 8  # type: ignore[index]
    dark = np.zeros((size, size), dtype=bool)
    x, y = 0.0, 0.0
    for kind, words in re.findall(r"([Mmh])([-\d. ]+)", svg.partition(' d="')[2]):
        steps = [float(word) for word in re.findall(r"-?[\d.]+", words)]
        if kind == "h":
            dark[int(y), int(x) : int(x + steps[0])] = True
            x += steps[0]
        else:
            x, y = (steps[0], steps[1]) if kind == "M" else (x + steps[0], y + steps[1])
    return np.kron(np.where(dark, 0, 255).astype(np.uint8), np.ones((8, 8), np.uint8))


def test_a_table_from_a_spreadsheet_becomes_the_roster_and_may_come_again(class_: Class) -> None:
    table = '\ufeffName;Papier\r\n"Müller, Jörg";A3\r\nZoë Dvořák;A4\r\n'.encode()
    sent = class_.tutor.ask(
        "POST", f"{class_.path}/students", data=table, headers={"Content-Type": "text/csv"}
    )
    assert [one["name"] for one in sent.json["items"]] == ["Müller, Jörg"]
    assert sent.json["known"] == ["Zoë Dvořák"]


def test_an_empty_table_is_refused_as_one(class_: Class) -> None:
    sent = class_.tutor.ask(
        "POST", f"{class_.path}/students", data=b"", headers={"Content-Type": "text/csv"}
    )
    assert (sent.status_code, sent.json["code"]) == (422, "table-unreadable")


def test_a_pasted_list_is_taken_and_a_roster_sent_twice_makes_one(class_: Class) -> None:
    wish = {"text": "1. Ines\n2. Ole\n"}
    headers = {"Idempotency-Key": "roster-1"}
    sent = [
        class_.tutor.ask("POST", f"{class_.path}/students", json=wish, headers=headers)
        for _ in range(2)
    ]
    assert sent[0].json == sent[1].json
    assert [one["name"] for one in sent[0].json["items"]] == ["Ines", "Ole"]


def test_a_class_sets_what_its_students_start_from_and_may_change(studio: Studio) -> None:
    paper = {"width_mm": 180, "height_mm": 120}
    defaults = {"support": paper, "sheet": {"format": "iso_a5_148x210mm"}}
    class_ = Class(studio, defaults=defaults, may_change=["crop", "support.tone"])
    studio.keys["Zoë"] = class_.join(name=NAMES[0]).json["key"]
    photo = studio.send_photo("Zoë", 3)
    wish = {"reference_id": photo, "spec": {"support": {"tone": "dark"}}}
    pack = studio.asker("Zoë").made("/v1/packs", wish)
    assert pack["spec"]["sheet"]["format"] == "iso_a5_148x210mm"
    assert pack["spec"]["support"] == {
        **paper,
        "border_mm": 0,
        "tone": "dark",
        "medium": "other",
    }
    assert pack["owner_id"] == class_.ids[NAMES[0]]
    wish["spec"] = {"sheet": {"format": "iso_a4_210x297mm"}}
    refused = studio.asker("Zoë").ask("POST", "/v1/packs", json=wish)
    assert code_of(refused) == (422, "spec-fixed")
    assert refused.json["field"] == "sheet.format"
    # The tutor is bound by none of it, and what they make of a student's photo is theirs.
    made = studio.asker("tutor").made(
        "/v1/packs", {"reference_id": photo, "spec": {"support": {**paper, "width_mm": 200}}}
    )
    assert made["owner_id"] == class_.ids[NAMES[0]]


def test_paper_speaks_the_language_of_the_class_then_that_of_who_asks(studio: Studio) -> None:
    class_ = Class(studio, may_change=["crop", "support"])
    studio.keys["Zoë"] = class_.join(name=NAMES[0]).json["key"]
    zoe, photo = studio.asker("Zoë"), studio.send_photo("Zoë", 3)
    wish = {"reference_id": photo, "spec": {"support": {"width_mm": 180, "height_mm": 120}}}

    def plan(languages: str, **spec: str) -> Any:
        body = {**wish, "spec": {**wish["spec"], **spec}}
        return zoe.ask("POST", "/v1/plans", json=body, headers={"Accept-Language": languages})

    # RFC 9110, 12.5.4: the best that there is, by weight; what none has is passed over.
    assert plan("xx, it-CH;q=0.8, en;q=0.5").json["language"] == "it"
    assert plan("en-GB, it;q=0.8").json["language"] == "en"
    assert plan("*").json["language"] == "en"
    assert plan("en", language="it").json["language"] == "it"
    class_.change(settings={"defaults": {"language": "it"}})
    assert plan("en").json["language"] == "it"
    assert code_of(plan("en", language="en")) == (422, "spec-fixed")
    batch = {"reference_id": photo, "spec": wish["spec"], "items": [{"student": NAMES[0]}]}
    made = class_.tutor.made(f"{class_.path}/batches", batch)
    pack = class_.tutor.ask("GET", f"/v1/packs/{made['items'][0]['pack_id']}").json
    assert pack["spec"]["language"] == pack["plan"]["language"] == "it"
    page = zoe.ask("GET", "/v1/test-page.pdf", headers={"Accept-Language": "en"})
    assert "Pagina di prova, A4.pdf" in page.headers["Content-Disposition"]
    page.close()


def test_limits_and_the_closing_date_hold_for_students(studio: Studio) -> None:
    class_ = Class(studio, photos=1, packs=2, pages=3)
    studio.keys["Zoë"] = class_.join(name=NAMES[0]).json["key"]
    zoe = studio.asker("Zoë")
    photo = studio.send_photo("Zoë", 3)
    second = zoe.ask("POST", "/v1/references", data={"file": (open_icon(), "b.png")})
    assert code_of(second) == (409, "limit-reached")
    large = {"reference_id": photo, "spec": {"support": {"width_mm": 600, "height_mm": 400}}}
    assert code_of(zoe.ask("POST", "/v1/packs", json=large)) == (409, "limit-reached")
    for _ in range(2):
        studio.ask_for_pack("Zoë", photo)
    usage = zoe.ask("GET", "/v1/me").json["usage"]
    assert usage == {"photos": 1, "packs": 2, "pages": 2}
    small = {"reference_id": photo, "spec": {"support": {"width_mm": 60, "height_mm": 40}}}
    assert code_of(zoe.ask("POST", "/v1/packs", json=small)) == (409, "limit-reached")
    class_.change(closes_at="2001-01-01T00:00:00Z")
    assert code_of(zoe.ask("POST", "/v1/packs", json=small)) == (409, "class-closed")
    assert zoe.ask("GET", f"/v1/references/{photo}").status_code == 200


def test_the_last_photo_that_a_class_allows_may_be_sent_again_for_its_answer(
    studio: Studio,
) -> None:
    class_ = Class(studio, photos=1, packs=2, pages=3)
    studio.keys["Zoë"] = class_.join(name=NAMES[0]).json["key"]

    def send() -> Any:
        return studio.asker("Zoë").ask(
            "POST",
            "/v1/references",
            data={"file": (open_icon(), "b.png")},
            headers={"Idempotency-Key": "the-answer-was-lost"},
        )

    first, again = send(), send()
    assert (first.status_code, again.status_code) == (201, 201)
    assert again.json["id"] == first.json["id"]


def open_icon() -> Any:
    """A picture that is not the one that was sent before."""
    web = Path(__file__).resolve().parents[4] / "client" / "web"
    return (web / "icons" / "icon-180.png").open("rb")


def test_the_board_tells_how_far_everybody_is(studio: Studio) -> None:
    class_ = Class(studio, defaults={"support": {"width_mm": 600, "height_mm": 400}})
    studio.keys["Zoë"] = class_.join(name=NAMES[0]).json["key"]
    photo = studio.send_photo("Zoë", 3)
    board = class_.tutor.ask("GET", f"{class_.path}/board").json["students"]
    assert [one["joined"] for one in board] == [True] + 5 * [False]
    # 90 pixels on 600 mm: a line and its gap are two of them, 13 mm.
    assert board[0]["photo"]["too_small"] is True
    assert board[0]["photo"]["finest_line_mm"] == pytest.approx(2 * 600 / 90)
    assert board[0]["photo"]["compared_with"] == {"width_mm": 600, "height_mm": 400}
    assert (board[1]["photo"], board[1]["pack"]) == (None, None)
    pack = studio.ask_for_pack("Zoë", photo)
    studio.make_packs()
    zoe = studio.asker("Zoë")
    marked = zoe.ask("PATCH", f"/v1/packs/{pack}", json={"printed": True})
    assert marked.json["printed_at"]
    shown = class_.tutor.ask("GET", f"{class_.path}/board").json["students"][0]["pack"]
    assert (shown["state"], bool(shown["printed_at"]), shown["joined_at"]) == ("ready", True, None)
    unmarked = class_.tutor.ask("PATCH", f"/v1/packs/{pack}", json={"printed": False})
    assert unmarked.json["printed_at"] is None


_COMPARED = ("compared_with", "finest_line_mm", "too_small", "blurred")


def shown_photo(class_: Class) -> dict[str, Any]:
    """What the board tells of the first student's photo: its three states."""
    photo = class_.tutor.ask("GET", f"{class_.path}/board").json["students"][0]["photo"]
    return {name: photo[name] for name in _COMPARED}


def test_a_photo_that_nothing_is_known_to_compare_with_is_not_said_to_fit(studio: Studio) -> None:
    class_ = Class(studio)
    studio.keys["Zoë"] = class_.join(name=NAMES[0]).json["key"]
    reference_id = studio.send_photo("Zoë", 4)
    assert shown_photo(class_) == dict.fromkeys(_COMPARED)
    studio.ask_for_pack("Zoë", reference_id)
    told = shown_photo(class_)
    assert told["compared_with"] == {"width_mm": 180, "height_mm": 120}
    assert told["finest_line_mm"] == pytest.approx(2 * 180 / 90)
    # A newer photo is for the paper that they asked for with the last one.
    studio.send_photo("Zoë", 5)
    assert shown_photo(class_) == told


def test_the_board_says_of_an_enlarged_photo_what_its_plan_says(studio: Studio) -> None:
    """2048 pixels that hold 512: by their number they would do for the double of this size."""
    class_ = Class(studio, defaults={"support": {"width_mm": 360, "height_mm": 360}})
    studio.keys["Zoë"] = class_.join(name=NAMES[0]).json["key"]
    zoe = studio.asker("Zoë")
    large = io.BytesIO()
    Image.fromarray(skimage.data.astronaut()).resize((2048, 2048)).save(large, "JPEG", quality=90)
    sent = zoe.ask("POST", "/v1/references", data={"file": (io.BytesIO(large.getvalue()), "a.jpg")})
    told = shown_photo(class_)
    assert (told["too_small"], told["blurred"]) == (True, True)
    zoe.made("/v1/packs", {"reference_id": sent.json["id"], "spec": {}})
    assert shown_photo(class_) == told


def test_a_batch_of_one_shared_photo_says_nothing_of_the_students_own(studio: Studio) -> None:
    """Its packs are the newest of everybody, and were once taken for packs of their photos."""
    class_ = Class(studio)
    studio.keys["Zoë"] = class_.join(name=NAMES[0]).json["key"]
    studio.ask_for_pack("Zoë", studio.send_photo("Zoë", 6))
    before = shown_photo(class_)
    assert before["too_small"] is True
    shared = studio.send_photo("tutor", 7)
    wish = {"reference_id": shared, "spec": {"support": {"width_mm": 100, "height_mm": 100}}}
    batch = class_.tutor.made(f"{class_.path}/batches", wish)
    assert len(batch["items"]) == len(NAMES)
    assert shown_photo(class_) == before
