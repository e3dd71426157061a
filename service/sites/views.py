"""Course sites: a tutor makes them, limits them, gives them keys, and deletes them."""

from __future__ import annotations

from typing import Any

from flask import Response

from service.http.answers.json_responses import json_response
from service.http.documented import LIST_HEADERS
from service.http.logs.access_log import add_access_facts
from service.http.paging import ListQuerySchema, PagedList
from service.http.resources import Resources
from service.people.documents import key_document
from service.people.schemas import KeysSchema, LabelSchema
from service.runtime.context import get_context, owner_id
from service.sites.documents import issued_document, site_document
from service.sites.schemas import (
    IssuedSiteKeySchema,
    NewSiteSchema,
    SiteChangeSchema,
    SiteSchema,
    SitesSchema,
)
from worker.errors import LimitReached, NotFound
from worker.store.ledger import AccessKey, NewSite, SiteRow

blueprint = Resources("sites", __name__, url_prefix="/v1/sites", description="Course sites.")
_SITES = PagedList[SiteRow](name="sites", place=lambda one: (one.created_at, one.id))
_KEYS = PagedList[AccessKey](name="site-keys", place=lambda one: (one.created_at, one.id))


@blueprint.get("")
@blueprint.arguments(ListQuerySchema, location="query")
@blueprint.response(200, SitesSchema, headers=LIST_HEADERS)
def list_sites(query: dict[str, Any]) -> Response:
    """Show the course sites of the tutor who asks, the oldest first."""
    page = _SITES.page(query)
    found = get_context().ledger.sites.of_tutor(owner_id(), page)
    return _SITES.respond_items(found, page, site_document)


@blueprint.post("")
@blueprint.arguments(NewSiteSchema)
@blueprint.response(201, IssuedSiteKeySchema)
@blueprint.refuses(NotFound, LimitReached)
def create_site(body: dict[str, Any]) -> Response:
    """Make a course site with its first key, which is shown only here.

    It acts in the classes that are named, within its scopes, until its time is over. No scope
    lets it make or delete a class; deleting anything is in no scope that it has by default.
    """
    new = NewSite(
        tutor_id=owner_id(),
        name=body["name"],
        class_ids=None if body["class_ids"] is None else tuple(body["class_ids"]),
        scopes=tuple(body["scopes"]),
        origins=tuple(body["origins"]),
        expires_at=None if body["expires_at"] is None else body["expires_at"].timestamp(),
    )
    made, issued = get_context().ledger.sites.add(new)
    add_access_facts(about=made.id)
    return json_response(issued_document(made, issued), 201)


@blueprint.get("/<site_id:site_id>")
@blueprint.response(200, SiteSchema)
def get_site(site_id: str) -> Response:
    """Show what a course site may do where, and when it was used last."""
    return json_response(site_document(get_context().ledger.sites.get(site_id, owner_id())))


@blueprint.patch("/<site_id:site_id>")
@blueprint.arguments(SiteChangeSchema)
@blueprint.response(200, SiteSchema)
def update_site(body: dict[str, Any], site_id: str) -> Response:
    """Change what is given, at once; what is taken from a site its sessions lose too."""
    changes = dict(body)
    if "expires_at" in changes:
        changes["expires_at"] = changes["expires_at"].timestamp()
    return json_response(
        site_document(get_context().ledger.sites.change(site_id, owner_id(), changes))
    )


@blueprint.delete("/<site_id:site_id>")
@blueprint.response(204)
def delete_site(site_id: str) -> Response:
    """Delete a course site: its keys and sessions open nothing any more.

    Students stay in their classes with their photos and packs; the site's own ids for them are
    forgotten. What is the site's own becomes its tutor's. Tutors who could get in through the
    site alone are removed.
    """
    get_context().ledger.sites.delete(site_id, owner_id())
    return Response(status=204)


@blueprint.get("/<site_id:site_id>/keys")
@blueprint.arguments(ListQuerySchema, location="query")
@blueprint.response(200, KeysSchema, headers=LIST_HEADERS)
def list_site_keys(query: dict[str, Any], site_id: str) -> Response:
    """Show a site's keys, without their secrets, and when each was used last, to an hour."""
    page = _KEYS.page(query)
    found = get_context().ledger.people.keys(site_id, page)
    return _KEYS.respond_items(found, page, key_document)


@blueprint.post("/<site_id:site_id>/keys")
@blueprint.arguments(LabelSchema)
@blueprint.response(201, IssuedSiteKeySchema)
@blueprint.refuses(LimitReached)
def issue_site_key(body: dict[str, str], site_id: str) -> Response:
    """Make another key, which is shown only here.

    The others open as before: withdraw the old one once the site uses the new one.
    """
    ledger = get_context().ledger
    row = ledger.sites.get(site_id, owner_id())
    issued = ledger.people.issue_key(site_id, body["label"])
    add_access_facts(about=issued.access.id)
    return json_response(issued_document(row, issued), 201)


@blueprint.delete("/<site_id:site_id>/keys/<key_id:key_id>")
@blueprint.response(204)
def withdraw_site_key(site_id: str, key_id: str) -> Response:
    """Withdraw a key at once, with the sessions that were started with it."""
    get_context().ledger.people.withdraw_key(site_id, key_id)
    return Response(status=204)
