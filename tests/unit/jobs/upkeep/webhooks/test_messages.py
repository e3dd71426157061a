"""Headers and body of a message: the standard's own vector, and what is in it."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

from worker.jobs.upkeep.webhooks.messages import body_of, headers_of
from worker.store.ledger import Sending

#: From the tests that the project of the standard ships with its libraries.
SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"  # noqa: S105 - published
ID, AT, BODY = "msg_p5jXN8AQM9LWM0D4loKWxJek", 1_614_265_330, '{"test": 2432232314}'
SIGNATURE = "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="
MESSAGE = Sending(
    id=ID,
    webhook_id="whk_1",
    type="batch.done",
    about="bat_1",
    at=float(AT),
    url="https://course.example/",
    secrets=(SECRET,),
    token="t",  # noqa: S106 - it opens nothing
    tries=1,
)


def test_the_signature_is_that_of_the_standards_vector() -> None:
    headers = headers_of(MESSAGE, BODY, datetime.fromtimestamp(AT, UTC))
    assert headers["webhook-id"] == ID
    assert headers["webhook-timestamp"] == str(AT)
    assert headers["webhook-signature"] == SIGNATURE


def test_each_secret_signs() -> None:
    other = "whsec_AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"
    both = replace(MESSAGE, secrets=(other, SECRET))
    signatures = headers_of(both, BODY, datetime.fromtimestamp(AT, UTC))["webhook-signature"]
    assert signatures.split(" ")[1] == SIGNATURE
    assert len(set(signatures.split(" "))) == 2


def test_the_body_is_the_same_whenever_it_is_sent() -> None:
    again = replace(MESSAGE, tries=7, secrets=("whsec_AAAA",))
    assert body_of(MESSAGE) == body_of(again)
    told = json.loads(body_of(MESSAGE))
    assert told == {
        "type": "batch.done",
        "timestamp": "2021-02-25T15:02:10.000Z",
        "data": {"id": "bat_1"},
    }
    here = datetime.fromtimestamp(AT, timezone(timedelta(hours=9)))
    assert datetime.fromisoformat(told["timestamp"]) == here
