"""Sheets that are made again are bounded by themselves: nothing else waits for them."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

from tests.integration.classes.studio import Studio
from tests.waiting import wait_until

#: One is made and three wait (service/runtime/context.py); the others are told so and hold
#: no thread.
ASKED, WAIT = 12, 3


def test_a_pack_is_fetched_while_its_sheets_are_asked_for(studio: Studio) -> None:
    path = f"/v1/packs/{studio.ids['pack_id A']}"

    def status(name: str) -> int:
        answer = studio.asker("student A1").ask("GET", f"{path}{name}")
        answer.close()
        return answer.status_code

    pack = studio.asker("student A1").ask("GET", path).json
    assert pack is not None
    sheet = pack["files"]["sheets"][0]["pdf"].removeprefix(path).removesuffix(".pdf")
    kinds = ["pdf", "png"] * (ASKED // 2)
    with ThreadPoolExecutor(ASKED) as pool:
        # Another sheet is being made for as long as this takes.
        with studio.context.sheet_limit.slot():
            asked = [pool.submit(status, f"{sheet}.{kind}") for kind in kinds]
            wait_until(lambda: sum(one.done() for one in asked) >= ASKED - WAIT)
            for name in ("/pack.pdf", "/map.png", "/picture.jpg", ""):
                assert status(name) == 200
            # Taking in a photo has places of its own.
            studio.send_photo("student A1", 99)
        statuses = [one.result(60) for one in asked]
    assert statuses.count(503) >= ASKED - WAIT
    assert set(statuses) <= {200, 503}
    assert status(f"{sheet}.png") == 200
