"""Keys of students: their tutor makes another for a lost phone, or frees their place.

A new key goes to the phone that is there by a link that works once: nobody has to type it.
"""

from __future__ import annotations

from flask import Response, g, request

from service.access.sign_in import begin_if_possible
from service.classes.joining.qr_codes import qr_svg
from service.classes.joining.schemas import KeyLinkSchema, UsedLinkSchema
from service.classes.students import check_class
from service.http.answers.json_responses import json_response, utc_datetime
from service.http.logs.access_log import add_access_facts
from service.http.requests.lan_addresses import base_url
from service.http.resources import Resources
from service.people.documents import issued_document
from service.people.schemas import IssuedSchema, LabelSchema
from service.runtime.context import get_context, person
from worker.errors import NotFound
from worker.store.ledger import AccessKey

blueprint = Resources(
    "student_keys",
    __name__,
    url_prefix="/v1/classes/<class_id:class_id>/student-keys",
    description="Keys of students.",
)
links = Resources(
    "key-links", __name__, url_prefix="/v1/key-links", description="Links to a new key."
)


@blueprint.post("/<student_id:student_id>")
@blueprint.arguments(LabelSchema)
@blueprint.response(201, IssuedSchema)
def issue_student_key(body: dict[str, str], class_id: str, student_id: str) -> Response:
    """Make a new key for a student's device; the old ones open nothing any more."""
    check_class(class_id, student_id)
    people = get_context().ledger.people
    issued = people.issue_key(student_id, body["label"], replace=True)
    add_access_facts(about=issued.access.id)
    return json_response(issued_document(people.person(student_id), issued), 201)


@blueprint.post("/<student_id:student_id>/links")
@blueprint.response(201, KeyLinkSchema)
def create_key_link(class_id: str, student_id: str) -> Response:
    """Make a link, also as a QR code, that gives a student's device a new key; it works once.

    It lasts for a quarter of an hour and is shown only here; a newer one for the same student
    replaces it. The old keys open until it is used.
    """
    check_class(class_id, student_id)
    access: AccessKey | None = g.get("access")
    made = get_context().ledger.key_links.add(
        student_id, made_by=person().id, key_id=access.id if access else None
    )
    settings = get_context().settings
    # Browsers do not send what follows #: no proxy and no log sees the secret.
    base = base_url(request.scheme, request.host, settings.host, settings.port)
    url = f"{base}/#new-key={made.secret}"
    document = {"url": url, "qr_svg": qr_svg(url), "ends_at": utc_datetime(made.ends_at)}
    return json_response(KeyLinkSchema().dump(document), 201)


@links.post("")
@links.refuses(NotFound)
@links.doc(security=[])
@links.arguments(UsedLinkSchema)
@links.response(201, IssuedSchema)
def use_key_link(body: dict[str, str]) -> Response:
    """Exchange a link's secret for a key; the old keys open nothing any more."""
    found, issued = get_context().ledger.key_links.use(body["secret"], body["label"])
    add_access_facts(actor=found.id, about=issued.access.id)
    # The key is shown only here, so this answer must come.
    return begin_if_possible(json_response(issued_document(found, issued), 201), issued.access.id)


@blueprint.delete("/<student_id:student_id>")
@blueprint.response(204)
def withdraw_student_key(class_id: str, student_id: str) -> Response:
    """Withdraw a student's keys, so that their place on the roster is free to join again."""
    check_class(class_id, student_id)
    get_context().ledger.people.withdraw_key(student_id)
    return Response(status=204)
