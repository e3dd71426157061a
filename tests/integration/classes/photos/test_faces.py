"""Faces over HTTP: offered to whoever may see the photo, kept as boxes, gone with the photo."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.integration.classes.studio import Asker, Studio
from tests.pictures.planted_faces import plant, planted_face
from worker.errors import NotFound

SPEC = {"support": {"width_mm": 600, "height_mm": 400}}
FACE = planted_face(0.16, 0.25, 0.1)


@pytest.fixture
def studio(furnished: Studio, tmp_path: Path) -> Iterator[Studio]:
    """Two tutors with a class each; a face is found in the photo of student A1."""
    made = furnished.copy(tmp_path / "data")
    plant(made.folder, made.ids["reference_id A"], FACE)
    made.context.study_cache.drop(made.ids["reference_id A"])
    yield made
    made.close()


def plan_for(asker: Asker, reference_id: str, **spec: Any) -> Any:
    body = {"reference_id": reference_id, "spec": {**SPEC, **spec}}
    return asker.ask("POST", "/v1/plans", json=body)


def test_a_plan_offers_the_face_and_takes_what_it_offered(studio: Studio) -> None:
    asker, reference_id = studio.asker("student A1"), studio.ids["reference_id A"]
    plan = plan_for(asker, reference_id).json
    (offer,) = (one for one in plan["suggestions"] if one["code"] == "protect-face")
    assert offer["sheet_count"] == plan["sheet_count"]
    assert offer["change"] == {"protect": [offer["faces"][0]["face"]]}
    assert plan["framing"]["faces"] == [{"face": vars(FACE.box), "head": vars(FACE.head)}]
    taken = plan_for(asker, reference_id, seams=offer["change"]).json
    assert len(taken["protected_mm"]) == 1
    assert all(one["code"] != "protect-face" for one in taken["suggestions"])


def test_a_reference_says_nothing_of_faces(studio: Studio) -> None:
    answer = studio.asker("student A1").ask("GET", f"/v1/references/{studio.ids['reference_id A']}")
    assert set(answer.json) == {
        "id", "width_px", "height_px", "format", "created_at", "delete_after", "owner_id",
        "squared_from", "links",
    }  # fmt: skip


def test_a_study_keeps_boxes_and_nothing_else_of_faces(studio: Studio) -> None:
    """A face is three or four boxes of four numbers; no points, no scores, no description."""
    study = studio.context.study_cache.get(studio.ids["reference_id A"])
    (face,) = study.reading.faces
    assert set(vars(face)) == {"box", "head", "eyes"}
    for box in (face.box, face.head, *face.eyes):
        assert set(vars(box)) == {"left", "top", "width", "height"}
        assert all(isinstance(share, float) for share in vars(box).values())
    # Besides faces the reading is maps of lines, of the whole and of heads, and of the subject.
    of_maps = {"area", "contour", "outer", "mark", "shadow", "sure"}
    assert set(vars(study.reading)) == {*of_maps, "subject", "faces", "insets"}
    for maps in (study.reading, *study.reading.insets):
        assert all(isinstance(getattr(maps, name), np.ndarray) for name in of_maps - {"area"})
    assert all(set(vars(inset)) == of_maps for inset in study.reading.insets)


def test_a_pack_and_a_batch_keep_no_face_that_nobody_took(studio: Studio) -> None:
    asker, reference_id = studio.asker("student A1"), studio.ids["reference_id A"]
    pack = asker.made("/v1/packs", {"reference_id": reference_id, "spec": SPEC})
    assert _boxes(pack["plan"]) == []
    offer = plan_for(asker, reference_id).json["suggestions"][0]
    spec = {**SPEC, "seams": offer["change"]}
    taken = asker.made("/v1/packs", {"reference_id": reference_id, "spec": spec})
    assert taken["plan"]["framing"]["faces"] == []
    assert len(taken["plan"]["protected_mm"]) == 1
    body = {"title": "Tuesday", "reference_id": reference_id, "spec": SPEC}
    batches = f"/v1/classes/{studio.ids['class_id A']}/batches"
    studio.asker("tutor A").made(batches, body)
    with closing(sqlite3.connect(studio.folder / "ledger.db")) as rows:
        plans = [json.loads(plan) for (plan,) in rows.execute("select plan from packs")]
    # What the fixture asked for, two of this test, and one for each of the batch.
    assert len(plans) >= 4
    assert [_boxes(plan) for plan in plans] == [[]] * len(plans)


def _boxes(plan: Any) -> list[Any]:
    """What a plan says about where faces are."""
    offers = [one for one in plan["suggestions"] if one["code"] == "protect-face"]
    return [*plan["framing"]["faces"], *offers]


@pytest.mark.parametrize("name", ["nobody", "student A2", "tutor B", "student B1"])
def test_who_may_not_see_a_photo_learns_of_no_face(studio: Studio, name: str) -> None:
    answer = plan_for(studio.asker(name), studio.ids["reference_id A"])
    assert answer.status_code in {401, 404}
    assert "face" not in answer.text


def test_the_tutor_sees_the_offer_for_a_photo_of_the_class(studio: Studio) -> None:
    plan = plan_for(studio.asker("tutor A"), studio.ids["reference_id A"]).json
    assert _boxes(plan)


def test_deleting_a_photo_deletes_its_faces(studio: Studio) -> None:
    asker, reference_id = studio.asker("student A1"), studio.ids["reference_id A"]
    assert _boxes(plan_for(asker, reference_id).json)
    assert asker.ask("DELETE", f"/v1/references/{reference_id}").status_code == 204
    assert not [one for one in studio.folder.rglob("study.npz") if reference_id in str(one)]
    assert plan_for(asker, reference_id).status_code == 404
    with pytest.raises(NotFound):
        studio.context.study_cache.get(reference_id)
