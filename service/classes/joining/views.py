"""Joining a class: with the code on the board and a name, a device gets a key.

Students need no e-mail address and no password, and have nothing to remember. Everybody who
knows the code may join while the tutor keeps joining open, so wrong codes are counted, and
the roster's names are shown only where the tutor allows it.
"""

from __future__ import annotations

from typing import Any

from flask import Response, after_this_request, request

from service.access import sign_in
from service.access.cookies import DEVICE, keep_device, read_cookie
from service.classes.documents import class_join_url
from service.classes.joining.qr_codes import qr_svg
from service.classes.joining.schemas import CodeSchema, JoinPageSchema, JoinSchema
from service.http.answers.json_responses import json_response
from service.http.answers.rate_limits import RATE_HEADERS, tell
from service.http.errors import TooManyTries
from service.http.logs.access_log import add_access_facts
from service.http.resources import Resources, request_invalid
from service.people.documents import issued_document
from service.people.schemas import IssuedSchema
from service.runtime.context import get_context, owner_id
from worker.errors import ClassClosed, JoiningClosed, NameTaken, NotFound, NotOnRoster, RosterFull
from worker.store.ledger import ClassRow

blueprint = Resources("joining", __name__, url_prefix="/v1", description="Coming into a class.")


@blueprint.get("/join")
@blueprint.refuses(TooManyTries, NotFound, JoiningClosed, ClassClosed)
@blueprint.doc(security=[])
@blueprint.arguments(CodeSchema, location="query")
@blueprint.response(200, JoinPageSchema, headers=RATE_HEADERS)
def check_join_code(query: dict[str, str]) -> Response:
    """Show which class a code opens, and its free names where the tutor lets them be seen."""
    row = _class(query["code"])
    names = None
    if row.settings.show_names:
        names = [
            {"student_id": one.id, "name": one.name}
            for one in get_context().ledger.students.of_class(row.id)
            if not one.joined and one.withdrawn_at is None
        ]
    document = {
        "class_name": row.name,
        "open_roster": row.settings.open_roster,
        "names": names,
        "keep_days": row.settings.keep_days,
    }
    return json_response(document)


@blueprint.post("/join")
@blueprint.refuses(
    TooManyTries, NotFound, JoiningClosed, ClassClosed, NotOnRoster, NameTaken, RosterFull
)
@blueprint.doc(security=[])
@blueprint.arguments(JoinSchema)
@blueprint.response(201, IssuedSchema, headers=RATE_HEADERS)
def join_class(body: dict[str, Any]) -> Response:
    """Join a class, by a place that was picked or by a name; the answer holds the key."""
    if ("student_id" in body) == ("name" in body):
        raise request_invalid({"name": ["Give a name, or a student_id."]})
    row = _class(body["code"])
    person, issued = get_context().ledger.students.join(
        row.id,
        student_id=body.get("student_id"),
        name=" ".join(body.get("name", "").split()),
        label=body["label"],
    )
    add_access_facts(actor=person.id, about=issued.access.id)
    # The key is shown only here, so this answer must come.
    return sign_in.begin_if_possible(
        json_response(issued_document(person, issued), 201), issued.access.id
    )


@blueprint.get("/classes/<class_id:class_id>/join.svg")
@blueprint.response(200, {"type": "string"}, content_type="image/svg+xml")
def get_join_picture(class_id: str) -> Response:
    """The QR code for the board (ISO/IEC 18004); it holds the address with the class code."""
    row = get_context().ledger.classes.get(class_id, owner_id())
    return Response(qr_svg(class_join_url(row)), content_type="image/svg+xml")


def _class(code: str) -> ClassRow:
    """The class that a code opens, if it can be joined now.

    Raises:
        TooManyTries: Too many wrong codes were tried.
        NotFound: No class has this code.
        JoiningClosed, ClassClosed: The class cannot be joined now.
    """
    attempts, device = get_context().failed_attempts, read_cookie(DEVICE)
    client = device, request.remote_addr or ""
    known = {"device": device}

    @after_this_request
    def tell_limits(response: Response) -> Response:
        return tell(response, attempts.allowances(known["device"], client[1]))

    attempts.check(code, *client)
    try:
        row = get_context().ledger.classes.by_code(code)
    except NotFound:
        mark, wrong_codes = attempts.count(code, *client)
        known["device"] = mark
        add_access_facts(wrong_codes=wrong_codes)
        after_this_request(lambda response: keep_device(response, mark))
        raise
    return _joinable(row)


def _joinable(row: ClassRow) -> ClassRow:
    if row.closes_at is not None and row.closes_at <= get_context().ledger.time():
        raise ClassClosed("This class is over.")
    if not row.joinable(get_context().ledger.time()):
        raise JoiningClosed("Your tutor lets nobody join just now: ask them.")
    return row
