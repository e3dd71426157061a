"""Assignment and Grade Services 2.0: the platform is told that a student's pack is ready.

One score of one point for the pack, with a link to its map in the comment. The link opens nothing
by itself: whoever follows it must be signed in here as a tutor of the class.
"""

from __future__ import annotations

import json
import logging
from datetime import UTC, datetime
from typing import Final
from urllib.parse import urlsplit, urlunsplit

from worker.errors import PlatformUnreachable
from worker.lti.fetch import Fetcher
from worker.lti.service_hosts import is_service_of
from worker.lti.tokens import access_token
from worker.store.ledger import DueResult, Ledger, PlatformRow

_LOG = logging.getLogger(__name__)
#: AGS 2.0, 3.4: scope and media type of the score service.
SCORE_SCOPE: Final = "https://purl.imsglobal.org/spec/lti-ags/scope/score"
SCORE_TYPE: Final = "application/vnd.ims.lis.v1.score+json"
_SUCCEEDED: Final = range(200, 300)


def tell_results(ledger: Ledger, fetcher: Fetcher) -> int:
    """Tell all results that are due; returns how many were told."""
    tokens: dict[str, str] = {}
    return sum(_tell(ledger, fetcher, due, tokens) for due in ledger.results.due())


def _tell(ledger: Ledger, fetcher: Fetcher, due: DueResult, tokens: dict[str, str]) -> bool:
    platform = ledger.platforms.get(due.row.platform_id)
    try:
        _check_host(platform, due.row.line_item)
        if platform.id not in tokens:
            tokens[platform.id] = access_token(ledger, fetcher, platform, SCORE_SCOPE)
        headers = {"Authorization": f"Bearer {tokens[platform.id]}", "Content-Type": SCORE_TYPE}
        body = json.dumps(score(due)).encode()
        reply = fetcher.send("POST", scores_url(due.row.line_item), headers=headers, body=body)
        if reply.status not in _SUCCEEDED:
            message = f"The platform does not take a score: status {reply.status}."
            raise PlatformUnreachable(message)  # noqa: TRY301 -- One end for all failures.
    except PlatformUnreachable as error:
        again = ledger.results.failed(due)
        _LOG.warning("%s %s", error.detail, "Tried again later." if again else "Given up.")
        return False
    ledger.results.told(due)
    return True


def _check_host(platform: PlatformRow, line_item: str) -> None:
    """Have no token sent elsewhere, though the column was noted before hosts were checked."""
    if not is_service_of(platform, line_item):
        raise PlatformUnreachable("The gradebook's column is at a host of somebody else.")


def scores_url(line_item: str) -> str:
    """Where scores of a column go: `/scores` after its path, before its query (AGS 2.0, 3.4)."""
    parts = urlsplit(line_item)
    return urlunsplit(parts._replace(path=f"{parts.path}/scores"))


def score(due: DueResult) -> dict[str, object]:
    """The score message (AGS 2.0, 3.4.5 to 3.4.9)."""
    finished = datetime.fromtimestamp(due.finished_at, UTC)
    return {
        "userId": due.row.subject,
        "scoreGiven": 1,
        "scoreMaximum": 1,
        "comment": f"The pack is ready. Its map: {due.row.home}lti/map/{due.pack_id}",
        "timestamp": finished.isoformat(timespec="milliseconds").replace("+00:00", "Z"),
        "activityProgress": "Completed",
        "gradingProgress": "FullyGraded",
    }
