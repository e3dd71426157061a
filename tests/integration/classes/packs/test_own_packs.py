"""A person's own packs, as a list that shows each and says enough to take its job up again."""

from __future__ import annotations

import io

import pytest
from PIL import Image

from tests.integration.classes.studio import SPEC, Studio


@pytest.mark.parametrize("who", ["student A1", "session A1"])
def test_a_list_has_what_shows_a_pack_and_takes_it_up_again(furnished: Studio, who: str) -> None:
    asker = furnished.asker(who)
    packs = asker.ask("GET", "/v1/me/packs").json["items"]
    pack = next(one for one in packs if one["id"] == furnished.ids["pack_id A"])
    assert pack["spec"]["support"]["width_mm"] == SPEC["support"]["width_mm"]
    assert (pack["state"], pack["number"]) == ("ready", "7K3F-Q2ZD")
    assert asker.ask("GET", pack["links"]["reference"]).status_code == 200
    small = asker.ask("GET", pack["files"]["thumbnail"])
    with Image.open(io.BytesIO(small.data)) as shown:
        assert shown.size == (60, 40)
    small.close()
    tag = {"If-None-Match": small.headers["ETag"]}
    assert asker.ask("GET", pack["files"]["thumbnail"], headers=tag).status_code == 304


def test_a_pack_is_found_by_the_number_on_a_sheet(furnished: Studio) -> None:
    asker = furnished.asker("student A1")
    found = asker.ask("GET", "/v1/me/packs?number=7k3f q2zd").json["items"]
    assert furnished.ids["pack_id A"] in {one["id"] for one in found}
    assert asker.ask("GET", "/v1/me/packs?number=7K3F-Q2ZE").json["items"] == []
