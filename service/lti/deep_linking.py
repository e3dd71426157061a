"""Deep Linking 2.0: a tutor places "make your pack" in a course.

The platform asks for content (4.4); the answer (4.5) is one link to this service, signed by us,
that the tutor's browser carries back. Nothing is made here by it.
"""

from __future__ import annotations

import time
import uuid
from typing import Any, Final

from flask import Response

from service.http.errors import LaunchRefused
from service.lti import names, pages
from service.lti.id_token import Claims
from service.lti.login import origin_of
from service.lti.people import part_of
from service.lti.words import Words
from service.runtime.context import get_context
from worker.errors import PlatformUnreachable
from worker.lti.fetch import Fetcher
from worker.lti.keys import sign
from worker.store.ledger import PlatformRow

#: Seconds for which the answer may be carried back (our choice: a person looks and presses).
ANSWER_S: Final = 600
LINK_TYPE: Final = "ltiResourceLink"
#: A pack is made, or is not: one point for it.
SCORE: Final = 1


def offer(claims: Claims, platform: PlatformRow, t: Words) -> Response:
    """The page on which a tutor places the link.

    Raises:
        LaunchRefused: It is no tutor, or the platform takes no such link here.
    """
    if part_of(claims) != "tutor":
        raise LaunchRefused(
            "Only who teaches in the course places activities in it.", reason="role"
        )
    said = claims.get(names.DEEP_LINKING)
    settings: dict[str, Any] = said if isinstance(said, dict) else {}
    accepted = settings.get("accept_types")
    if not isinstance(accepted, list) or LINK_TYPE not in accepted:
        raise LaunchRefused("The platform takes no links to activities in this place.")
    leads_to = settings.get("deep_link_return_url")
    try:
        Fetcher(get_context().settings.lti_private_hosts).check(str(leads_to))
    except PlatformUnreachable as error:
        raise LaunchRefused("The platform does not say where to carry its answer.") from error
    answer = sign(get_context().ledger, _answer(claims, platform, settings, t))
    leads_to = str(leads_to)
    return pages.for_return(t, leads_to, answer, origin_of(leads_to), platform)


def _answer(
    claims: Claims, platform: PlatformRow, settings: dict[str, Any], t: Words
) -> dict[str, Any]:
    """The claims of the response message (4.5, and Security Framework 1.0, 5.2)."""
    now = int(time.time())
    answer = {
        "iss": platform.client_id,
        "aud": platform.issuer,
        "iat": now,
        "exp": now + ANSWER_S,
        "nonce": uuid.uuid4().hex,
        names.MESSAGE_TYPE: "LtiDeepLinkingResponse",
        names.VERSION: names.LTI_VERSION,
        names.DEPLOYMENT: claims[names.DEPLOYMENT],
        names.CONTENT_ITEMS: [_link(str(claims[names.TARGET]), settings, t)],
    }
    if "data" in settings:
        # 4.5: what the platform has given is given back as it is.
        answer[names.DEEP_LINKING_DATA] = settings["data"]
    return answer


def _link(url: str, settings: dict[str, Any], t: Words) -> dict[str, Any]:
    """The content item (3.2); with a column of the gradebook, unless the platform takes none."""
    title = t("launch.make-pack")
    link: dict[str, Any] = {"type": LINK_TYPE, "title": title, "url": url}
    link["text"] = t("launch.placed-text")
    if settings.get("accept_lineitem") is not False:
        link["lineItem"] = {"label": title, "scoreMaximum": SCORE, "resourceId": "pack"}
    return link
