"""Names and Role Provisioning Services 2.0: who is in a course.

Pages are followed by their `Link` header (2.4.2; RFC 8288), within the host that the platform
named.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping
from typing import Any, Final
from urllib.parse import urljoin, urlsplit

from requests.utils import parse_header_links

from worker.errors import PlatformUnreachable
from worker.lti.fetch import Fetcher
from worker.lti.tokens import access_token
from worker.store.ledger import Ledger, PlatformRow

#: NRPS 2.0, 3.6.1.2 (scope) and 2.1 (media type).
MEMBERS_SCOPE: Final = "https://purl.imsglobal.org/spec/lti-nrps/scope/contextmembership.readonly"
MEMBERS_TYPE: Final = "application/vnd.ims.lti-nrps.v2.membershipcontainer+json"
#: Most pages and members that are read (our choice).
MOST_PAGES: Final = 50
MOST_MEMBERS: Final = 2000
#: Seconds for all pages: a tutor waits.
TOTAL_S: Final = 30.0
Member = dict[str, Any]


def members(ledger: Ledger, fetcher: Fetcher, platform: PlatformRow, url: str) -> list[Member]:
    """The members of a course, as the platform lists them.

    Raises:
        PlatformUnreachable: It gives no list, one of another form, or one without end.
    """
    token = access_token(ledger, fetcher, platform, MEMBERS_SCOPE)
    headers = {"Authorization": f"Bearer {token}", "Accept": MEMBERS_TYPE}
    found: list[Member] = []
    for page in _pages(fetcher, url, headers):
        found += page
        if len(found) > MOST_MEMBERS:
            raise PlatformUnreachable(f"The course has more than {MOST_MEMBERS} members.")
    return found


def _pages(fetcher: Fetcher, url: str, headers: Mapping[str, str]) -> Iterator[list[Member]]:
    following: str | None = url
    ends = time.monotonic() + TOTAL_S
    for _ in range(MOST_PAGES):
        if following is None:
            return
        if time.monotonic() > ends:
            raise PlatformUnreachable("The platform takes too long to list the members.")
        reply = fetcher.send("GET", following, headers=headers)
        document = reply.json() if reply.status == 200 else None  # noqa: PLR2004 -- OK.
        listed = document.get("members") if isinstance(document, dict) else None
        if not isinstance(listed, list):
            raise PlatformUnreachable("The platform does not list the members of the course.")
        yield [one for one in listed if isinstance(one, dict)]
        following = _next(following, reply.headers)
    if following is not None:
        raise PlatformUnreachable("The platform's list of members has no end.")


def _next(url: str, headers: Mapping[str, str]) -> str | None:
    """The next page; the token is sent to no other host."""
    links = parse_header_links(headers.get("link", ""))
    for one in links:
        if one.get("rel") == "next":
            found = urljoin(url, one["url"])
            if urlsplit(found)[:2] != urlsplit(url)[:2]:
                raise PlatformUnreachable("The platform's list of members goes on elsewhere.")
            return found
    return None
