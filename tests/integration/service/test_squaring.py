"""A sketch photographed at a slant, squared up over HTTP with the real server and its files."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any

import cv2
import numpy as np
import pytest
import requests
from PIL import Image, ImageDraw

from tests.pictures.cameras import View

Json = dict[str, Any]
#: ISO 216 A4 at 6 pixels to the millimetre.
SHEET_PX = (1260, 1782)
VIEW = View(tilt_deg=(24.0, -18.0), roll_deg=7.0, photo_px=(2400, 1800))
SPEC = {"support": {"width_mm": 210, "height_mm": 297}}


def sketch() -> Image.Image:
    """Four discs in the corners, each of its own colour, and a ring to judge by."""
    sheet = Image.new("RGB", SHEET_PX, (246, 244, 238))
    draw = ImageDraw.Draw(sheet)
    for colour, centre in zip(("red", "lime", "blue", "yellow"), discs(), strict=True):
        draw.circle(centre, 90, fill=colour)
    draw.circle((SHEET_PX[0] / 2, SHEET_PX[1] / 2), 300, outline=(40, 40, 40), width=12)
    return sheet


def discs() -> list[tuple[float, float]]:
    """Their centres: top left, top right, bottom left, bottom right."""
    width, height = SHEET_PX
    return [(x, y) for y in (200, height - 200) for x in (200, width - 200)]


@pytest.fixture(scope="module")
def photo() -> bytes:
    """The sketch as a camera sees it, on a dark table."""
    width, height = SHEET_PX
    flat = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
    seen = cv2.getPerspectiveTransform(flat, VIEW.corners_px().astype(np.float32))
    table = np.full((*VIEW.photo_px[::-1], 3), 60, np.uint8)
    cv2.warpPerspective(
        np.asarray(sketch()),
        seen,
        VIEW.photo_px,
        dst=table,
        flags=cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_TRANSPARENT,
    )
    file = io.BytesIO()
    Image.fromarray(table).save(file, "JPEG", quality=92)
    return file.getvalue()


@pytest.fixture(scope="module")
def original(api: Any, photo: bytes) -> Json:
    answer = api.upload(photo)
    assert answer.status_code == 201, answer.text
    return dict(answer.json())


def square(
    api: Any, reference: Json, corners: Any, key: str | None = None, **more: Any
) -> requests.Response:
    """Ask for it."""
    return requests.post(
        f"{api.url}{reference['links']['self']}/squared",
        json={"corners": corners, **more},
        headers={"Idempotency-Key": key} if key else {},
        timeout=60,
    )


def corners() -> list[list[float]]:
    """In no order that means anything."""
    found: list[list[float]] = VIEW.corners().tolist()
    return [found[index] for index in (2, 0, 3, 1)]


def test_a_slanted_sketch_comes_out_straight(api: Any, original: Json) -> None:
    answer = square(api, original, corners())
    assert answer.status_code == 201, answer.text
    made = answer.json()
    assert answer.headers["Location"] == made["links"]["self"]
    assert made["squared_from"] == original["id"] != made["id"]
    assert original["squared_from"] is None
    assert made["format"] == "jpeg"
    # ISO 216: A4 is 210 × 297 mm.
    assert made["width_px"] / made["height_px"] == pytest.approx(210 / 297, rel=0.01)
    assert api.get(made["links"]["self"]).json() == made
    with Image.open(io.BytesIO(api.get(made["links"]["preview"]).content)) as preview:
        scale = preview.width / SHEET_PX[0]
        for centre, wanted in zip(discs(), ("red", "lime", "blue", "yellow"), strict=True):
            shown = preview.getpixel((round(centre[0] * scale), round(centre[1] * scale)))
            named = Image.new("RGB", (1, 1), wanted).getpixel((0, 0))
            assert np.abs(np.subtract(shown, named)).max() < 60  # type: ignore[arg-type]
        # The ring is as wide as high again, to a pixel of the preview.
        dark = np.asarray(preview.convert("L")) < 100
        middle = dark[int(preview.height * 0.28) : int(preview.height * 0.72)]
        rows, columns = np.nonzero(middle)
        inside = (columns > preview.width * 0.15) & (columns < preview.width * 0.85)
        across, down = np.ptp(columns[inside]), np.ptp(rows[inside])
        assert across / down == pytest.approx(1.0, abs=0.01)


def test_it_is_planned_and_packed_like_any_photo(api: Any, original: Json) -> None:
    made = square(api, original, corners(), proportion=210 / 297).json()
    body = {"reference_id": made["id"], "spec": SPEC}
    plan = requests.post(f"{api.url}/v1/plans", json=body, timeout=60)
    assert plan.status_code == 200, plan.text
    assert plan.json()["crop"]["width"] == pytest.approx(1.0, abs=0.002)
    asked = requests.post(f"{api.url}/v1/packs", json=body, timeout=60).json()
    assert api.ended(asked["links"]["self"])["state"] == "ready"


def test_a_squared_one_can_be_squared_again(api: Any, original: Json) -> None:
    made = square(api, original, corners()).json()
    half = [[0.0, 0.0], [1.0, 0.0], [1.0, 0.5], [0.0, 0.5]]
    again = square(api, made, half).json()
    assert again["squared_from"] == made["id"]
    assert (again["width_px"], again["height_px"]) == (
        made["width_px"],
        pytest.approx(made["height_px"] / 2, abs=1),
    )


def test_the_same_wish_sent_twice_makes_one(api: Any, original: Json) -> None:
    first, again = (square(api, original, corners(), key="square-1") for _ in range(2))
    assert first.status_code == again.status_code == 201
    assert first.content == again.content
    assert first.headers["Location"] == again.headers["Location"]
    other = square(api, original, corners(), key="square-1", proportion=0.7)
    assert (other.status_code, other.json()["code"]) == (422, "idempotency-key-reused")


LINE = [[0.0, 0.0], [0.5, 0.5], [1.0, 1.0], [0.0, 1.0]]
WHOLE = [[0, 0], [1, 0], [1, 1], [0, 1]]


@pytest.mark.parametrize(
    ("body", "code", "field"),
    [
        ({"corners": LINE}, "corners-unusable", "corners"),
        ({"corners": [[0, 0], [1, 0], [1, 1], [0.7, 0.3]]}, "corners-unusable", "corners"),
        ({"corners": [[0, 0], [1, 0], [1, 1], [0, 1.2]]}, "corners-unusable", "corners"),
        ({"corners": [[0.5, 0.5]] * 4}, "corners-unusable", "corners"),
        ({"corners": [[0, 0], [1, 0], [1, 1]]}, "request-invalid", "corners"),
        ({"corners": [*WHOLE, [0.5, 0.5]]}, "request-invalid", "corners"),
        ({"corners": [[0, 0], [1, 0], [1, 1], [0]]}, "request-invalid", "corners.3"),
        ({"corners": [[0, 0], [1, 0], [1, 1], [0, "1"]]}, "request-invalid", "corners.3.1"),
        ({"corners": [[0, 0], [1, 0], [1, 1], [0, None]]}, "request-invalid", "corners.3.1"),
        ({"corners": WHOLE, "proportion": 0}, "corners-unusable", "proportion"),
        ({"corners": WHOLE, "proportion": 30}, "corners-unusable", "proportion"),
        ({"corners": WHOLE, "proportion": "3:2"}, "request-invalid", "proportion"),
        ({"corners": WHOLE, "mirror": True}, "request-invalid", "mirror"),
        ({}, "request-invalid", "corners"),
    ],
)
def test_what_will_not_do_is_told_and_leaves_nothing(
    api: Any, running: Any, original: Json, body: Json, code: str, field: str
) -> None:
    path = f"{original['links']['self']}/squared"
    before = sorted((running.data_dir / "files" / "references").iterdir())
    answer = requests.post(api.url + path, json=body, timeout=60)
    assert answer.headers["Content-Type"] == "application/problem+json"
    told = answer.json()
    assert (answer.status_code, told["code"], told["field"]) == (422, code, field)
    assert len(told["detail"]) > 20
    assert sorted((running.data_dir / "files" / "references").iterdir()) == before


def test_nobodys_photo_is_not_found(api: Any) -> None:
    nobodys = {"links": {"self": f"/v1/references/ref_{'A' * 22}"}}
    answer = square(api, nobodys, corners())
    assert (answer.status_code, answer.json()["code"]) == (404, "not-found")


def test_deleting_the_photo_deletes_it_with_its_packs_and_files(
    api: Any, running: Any, photo: bytes
) -> None:
    first = api.upload(photo).json()
    made = square(api, first, corners()).json()
    again = square(api, made, WHOLE).json()
    body = {"reference_id": again["id"], "spec": SPEC}
    pack = requests.post(f"{api.url}/v1/packs", json=body, timeout=60).json()
    assert api.ended(pack["links"]["self"])["state"] == "ready"
    ids = [one["id"] for one in (first, made, again)]
    folder = running.data_dir / "files" / "references"
    assert all((folder / one).exists() for one in ids)
    assert api.delete(first["links"]["self"]).status_code == 204
    for gone in (first, made, again, pack):
        assert api.get(gone["links"]["self"]).status_code == 404
    assert not any((folder / one).exists() for one in ids)


def test_deleting_it_leaves_the_photo(api: Any, photo: bytes) -> None:
    first = api.upload(photo).json()
    made = square(api, first, corners()).json()
    assert api.delete(made["links"]["self"]).status_code == 204
    assert api.get(first["links"]["self"]).status_code == 200


def test_a_smaller_budget_makes_a_smaller_one(
    start_service: Callable[..., Any], api_of: Callable[[Any], Any], photo: bytes
) -> None:
    other = api_of(start_service(MAX_PIXELS=4_400_000))
    first = other.upload(photo).json()
    made = square(other, first, WHOLE, proportion=0.4).json()
    assert made["width_px"] * made["height_px"] <= 4_400_000
    assert made["width_px"] / made["height_px"] == pytest.approx(0.4, rel=0.01)
