"""Links: asking for one to a file, and opening it without a key.

The secret is in the query, since that is the part of an address that proxies can leave out of
their logs; this service logs routes only. The answer's headers keep it out of caches and of
the Referer of whatever is opened next.
"""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from flask import Response, g, request

from service.access.identity import live_site
from service.access.scopes import check_scope
from service.batches.files import check_print_run, send_print_run
from service.http.answers.json_responses import json_response, utc_datetime
from service.http.errors import LinkOver, ScopeMissing, SiteExpired
from service.http.logs.access_log import add_access_facts
from service.http.resources import Resources
from service.links.schemas import (
    BatchLinkRequestSchema,
    LinkSchema,
    PackLinkRequestSchema,
    SecretSchema,
)
from service.packs.downloads import check_pack_file, send_pack_file
from service.runtime.context import get_context, owner_id, person
from worker.errors import (
    FilesMissing,
    LimitReached,
    NotFound,
    NotReady,
    PlanOutdated,
    ReferenceGone,
)
from worker.store.ledger import AccessKey, LinkRow, Person, SessionRow

blueprint = Resources("links", __name__, url_prefix="/v1", description="Links to one file.")
_LINK = LinkSchema()
_NONE = (
    "This link opens nothing: it is not whole, or was withdrawn, or what it opened was deleted. "
    "Ask for another one where you got it."
)
_OVER = "This link is over: it was good for some minutes. Ask for another one where you got it."
#: A person's file: neither a browser nor a proxy keeps it, and no address is passed on. Pages of
#: other sites may show it, since whoever has the link may see the file.
_HEADERS = {
    "Cache-Control": "private, no-store",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "cross-origin",
}


@blueprint.post("/packs/<pack_id:pack_id>/links")
@blueprint.refuses(LimitReached, NotReady, FilesMissing)
@blueprint.arguments(PackLinkRequestSchema)
@blueprint.response(201, LinkSchema)
def create_pack_link(body: dict[str, Any], pack_id: str) -> Response:
    """Make a link to one file of a pack that is ready; it opens without a key.

    It lasts for a quarter of an hour at most, and is withdrawn with the pack, and with the key
    or session that it was asked for with. It is shown only here.
    """
    check_pack_file(pack_id, body["file"])
    return _made(body, pack_id=pack_id)


@blueprint.post("/batches/<batch_id:batch_id>/links")
@blueprint.refuses(LimitReached, NotReady, FilesMissing, ReferenceGone)
@blueprint.arguments(BatchLinkRequestSchema)
@blueprint.response(201, LinkSchema)
def create_batch_link(body: dict[str, Any], batch_id: str) -> Response:
    """Make a link to a print run of a batch that is ready; it opens without a key.

    It lasts for a quarter of an hour at most, and is withdrawn with the batch, and with the key
    that it was asked for with. It is shown only here.
    """
    check_print_run(get_context().ledger.batches.get(batch_id, owner_id()), _format(body["file"]))
    return _made(body, batch_id=batch_id)


def _made(body: dict[str, Any], **of: str) -> Response:
    access: AccessKey | None = g.get("access")
    session: SessionRow | None = g.get("session")
    ends_at = get_context().ledger.time() + body["valid_s"]
    row = LinkRow(
        made_by=person().id,
        # In a session that is the site's key, so that withdrawing it ends these links too.
        key_id=session.key_id if session else access.id if access else None,
        session_id=session.id if session else None,
        file=body["file"],
        covers=body.get("covers", False),
        ends_at=min(ends_at, session.ends_at) if session else ends_at,
        **of,
    )
    query = urlencode({"secret": get_context().ledger.links.add(row)})
    url = f"{request.host_url}v1/links/{_name(row.file)}?{query}"
    shown = {"url": url, "file": row.file, "ends_at": utc_datetime(row.ends_at)}
    made = json_response(_LINK.dump(shown), 201)
    made.headers["Location"] = url
    return made


@blueprint.get("/links/<file_name:file_name>")
@blueprint.doc(security=[])
@blueprint.arguments(SecretSchema, location="query")
@blueprint.refuses(LinkOver, NotReady, FilesMissing, ReferenceGone, PlanOutdated)
@blueprint.sends_file("application/pdf", "image/png", "image/jpeg")
def open_link(query: dict[str, str], file_name: str) -> Response:
    """The file that a link opens, with its length, an ETag and ranges."""
    link = _opened(query["secret"], file_name)
    if link.pack_id is not None:
        response = send_pack_file(link.pack_id, link.file)
    else:
        batch = get_context().ledger.batches.get(link.batch_id or "", owner_id())
        response = send_print_run(batch, _format(link.file), covers=link.covers)
    response.headers.update(_HEADERS)
    return response


def _opened(secret: str, name: str) -> LinkRow:
    """The link; whoever made it is from now on the person who asks.

    Raises:
        NotFound: There is none, or whoever made it may not see its file any more.
        LinkOver: Its time is over.
    """
    opened = get_context().ledger.links.opened_by(secret)
    if opened is None:
        raise NotFound(_NONE)
    maker, link, over = opened
    add_access_facts(actor=maker.id, about=link.pack_id or link.batch_id)
    if over:
        raise LinkOver(_OVER)
    kind = "pack_id" if link.pack_id else "batch_id"
    about = link.pack_id or link.batch_id or ""
    sees = get_context().ledger.people.sees(maker.acting_id, kind, about)
    if not sees or name != _name(link.file) or not _may_still(maker, link):
        raise NotFound(_NONE)
    g.person = maker
    return link


def _may_still(maker: Person, link: LinkRow) -> bool:
    """Whether the course site, or the session, that made a link may still fetch files itself."""
    session = None
    if link.session_id is not None:
        session = get_context().ledger.sessions.standing(link.session_id)
        if session is None:
            return False
    try:
        site = live_site(maker) if maker.role == "site" else None
        check_scope("links.create_pack_link", site, session)
    except (SiteExpired, ScopeMissing):
        return False
    return True


def _name(file: str) -> str:
    return file.rpartition("/")[2]


def _format(file: str) -> str:
    """The sheet format in the path of a print run."""
    return _name(file).removesuffix(".pdf")
