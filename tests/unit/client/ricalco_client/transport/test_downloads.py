"""A download is whole and checked, or leaves no file."""

from __future__ import annotations

import base64
import hashlib
from pathlib import Path
from typing import Any

import pytest

from ricalco_client.api import Ricalco
from ricalco_client.errors import DownloadDamaged, StateRefused

PDF = b"%PDF-1.7 " + b"x" * 600_000


def _digest(content: bytes) -> str:
    """A Repr-Digest field (RFC 9530, section 3)."""
    return f"sha-256=:{base64.b64encode(hashlib.sha256(content).digest()).decode()}:"


def test_a_pack_arrives_whole(ricalco: Ricalco, service: Any, tmp_path: Path) -> None:
    service.answer(PDF, Content_Length=str(len(PDF)), Repr_Digest=_digest(PDF))
    path = ricalco.packs.download_pack("pck_1", tmp_path / "pack.pdf")
    assert path.read_bytes() == PDF
    assert service.asked[0].path_url == "/v1/packs/pck_1/pack.pdf"


def test_the_page_for_a_plotter_has_a_path_of_its_own(
    ricalco: Ricalco, service: Any, tmp_path: Path
) -> None:
    service.answer(PDF)
    ricalco.packs.download_full_size("pck_1", tmp_path / "plot.pdf")
    assert service.asked[0].path_url == "/v1/packs/pck_1/full-size.pdf"


@pytest.mark.parametrize(
    "headers",
    [
        {"Content_Length": str(len(PDF) + 1)},
        {"Repr_Digest": _digest(b"another")},
        {"Repr_Digest": f"sha-512=:AAAA:, {_digest(b'another')}"},
    ],
)
def test_a_damaged_download_leaves_no_file(
    ricalco: Ricalco, service: Any, tmp_path: Path, headers: dict[str, str]
) -> None:
    service.answer(PDF, **headers)
    with pytest.raises(DownloadDamaged):
        ricalco.packs.download_pack("pck_1", tmp_path / "pack.pdf")
    assert list(tmp_path.iterdir()) == []


def test_a_refused_download_leaves_the_earlier_file(
    ricalco: Ricalco, service: Any, tmp_path: Path
) -> None:
    target = tmp_path / "map.png"
    target.write_bytes(b"earlier")
    service.answer({"code": "pack-not-ready", "detail": "Wait."}, 409)
    with pytest.raises(StateRefused):
        ricalco.packs.download_map("pck_1", target)
    assert target.read_bytes() == b"earlier"


@pytest.mark.parametrize(
    ("name", "kind"), [("2-3.pdf", "pdf"), ("2-3.PNG", "png"), ("sheet", "pdf")]
)
def test_a_sheet_is_fetched_as_its_name_ends(
    ricalco: Ricalco, service: Any, tmp_path: Path, name: str, kind: str
) -> None:
    service.answer(PDF)
    ricalco.packs.download_sheet("pck_1", "2·3", tmp_path / name)
    assert service.asked[0].path_url == f"/v1/packs/pck_1/sheets/2-3.{kind}"
