"""The client library against a real service, over HTTP."""

from __future__ import annotations

from pathlib import Path

import pikepdf
import pytest
from PIL import Image

from ricalco_client.api import Ricalco
from ricalco_client.errors import PhotoRefused, SpecRefused, StateRefused

SPEC = {"support": {"width_mm": 300, "height_mm": 400}}


@pytest.fixture
def client(service: str) -> Ricalco:
    """A client of the running service."""
    return Ricalco(service)


def test_from_photo_to_files(client: Ricalco, photo: Path, tmp_path: Path) -> None:
    reference = client.references.upload(photo)
    assert (reference.width_px, reference.height_px, reference.format) == (512, 512, "jpeg")
    pack = client.packs.create(reference.id, SPEC, title="Portrait · Ritratto · 肖像")
    steps: list[str] = []
    pack = client.packs.wait(pack.id, progress=lambda now: steps.append(now.state), timeout_s=60)
    assert steps[-1] == "ready"
    assert pack.plan is not None
    label = pack.plan["pieces"][0]["label"]
    whole = client.packs.download_pack(pack.id, tmp_path / "pack.pdf")
    one = client.packs.download_sheet(pack.id, label, tmp_path / "one.pdf")
    client.packs.download_sheet(pack.id, label, tmp_path / "one.png")
    client.packs.download_map(pack.id, tmp_path / "map.png")
    with pikepdf.open(whole) as pdf, pikepdf.open(one) as sheet:
        assert len(pdf.pages) == 3 + pack.plan["sheet_count"]
        assert len(sheet.pages) == 1
    client.packs.delete(pack.id)
    with pytest.raises(StateRefused):
        client.packs.get(pack.id)
    client.references.delete(reference.id)
    with pytest.raises(StateRefused):
        client.references.get(reference.id)


def test_the_same_key_makes_one_reference(client: Ricalco, photo: Path) -> None:
    first = client.references.upload(photo, key="one-key-for-both-0001")
    again = client.references.upload(photo, key="one-key-for-both-0001")
    assert first.id == again.id


def test_a_photo_is_found_again_until_it_is_deleted(client: Ricalco, tmp_path: Path) -> None:
    photo = tmp_path / "grey.png"
    Image.new("L", (96, 72), 128).save(photo)
    assert client.references.find(photo) is None
    sent = client.references.upload(photo)
    assert client.references.find(photo) == sent
    client.references.delete(sent.id)
    assert client.references.find(photo) is None


def test_a_file_object_is_sent_from_where_it_stands(client: Ricalco, photo: Path) -> None:
    with photo.open("rb") as file:
        assert client.references.upload(file).width_px == 512


def test_refusals_come_as_their_families(client: Ricalco, photo: Path, tmp_path: Path) -> None:
    text = tmp_path / "photo.jpg"
    text.write_text("no picture")
    with pytest.raises(PhotoRefused) as photo_refused:
        client.references.upload(text)
    assert photo_refused.value.code == "reference-type"
    reference = client.references.upload(photo)
    with pytest.raises(SpecRefused) as spec_refused:
        client.plan(reference.id, {"support": {"width_mm": -1, "height_mm": 400}})
    assert spec_refused.value.field == "support.width_mm"
    with pytest.raises(StateRefused):
        client.plan("ref_" + "x" * 22, SPEC)


def test_known_sizes_carry_their_source(client: Ricalco) -> None:
    sheets = {sheet["name"]: sheet for sheet in client.sheet_formats()}
    # ISO 216:2007 and PWG 5101.1.
    assert sheets["iso_a4_210x297mm"]["width_mm"] == 210
    assert sheets["iso_a4_210x297mm"]["source"]
    assert {support["name"] for support in client.supports()} >= {"a3", "50x70cm"}


def test_a_plan_is_the_document_of_the_contract(client: Ricalco, photo: Path) -> None:
    plan = client.plan(client.references.upload(photo).id, SPEC)
    assert plan["picture"] == {"width_mm": 300, "height_mm": 400}
    assert len(plan["pieces"]) == plan["sheet_count"]
