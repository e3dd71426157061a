"""The access log: a line for every decision about people's data.

It records refused keys, exports, deletions, keys and sign-ins that were made or withdrawn,
and wrong join codes. People and things are named by the first eight of their id's 22 random
letters. Together with the ledger that identifies a person as long as the ledger has them;
alone it does not, and it grants no access, since 80 of an id's 128 bits are missing. Names,
titles, file names, codes, keys and network addresses are never written.
"""

from __future__ import annotations

import logging
from http import HTTPStatus
from typing import Any, Final

from flask import Flask, Response, g, request

from worker.store.ledger import LOCAL_OWNER, Person, SessionRow

_log = logging.getLogger("ricalco.access")
#: Letters of an id that are written, after its prefix.
LETTERS = 8
_PREFIX_LETTERS = 4
#: The part of an address that is another system's id, and none of ours.
EXTERNAL_ID = "external_id"

#: The event of each view that is logged, by endpoint, where it succeeds.
EVENTS: Final[dict[str, str]] = {
    "tutors.create_tutor": "tutor-made",
    "sign-in.sign_in": "signed-in",
    "sign-in.sign_out": "signed-out",
    "joining.join_class": "joined",
    "me.export_my_data": "exported",
    "me.delete_me": "person-deleted",
    "keys.issue_key": "key-made",
    "keys.withdraw_key": "key-withdrawn",
    "sites.create_site": "key-made",
    "sites.update_site": "site-changed",
    "sites.delete_site": "key-withdrawn",
    "sites.issue_site_key": "key-made",
    "sites.withdraw_site_key": "key-withdrawn",
    "webhooks.create_webhook": "webhook-made",
    "webhooks.update_webhook": "webhook-changed",
    "webhooks.delete_webhook": "webhook-deleted",
    "webhooks.rotate_webhook_secret": "webhook-changed",
    "webhooks.replay_delivery": "webhook-replayed",
    "sessions.start_session": "session-started",
    "sessions.renew_session": "session-started",
    "sessions.end_session": "session-ended",
    "lti_launch": "launched",
    "lti_renewals": "session-started",
    "lti_sign_in": "signed-in",
    "lti_roster": "roster-brought",
    "class-tutors.remove_class_tutor": "tutor-removed",
    "tutors-by-external-id.put_tutor_by_external_id": "tutor-added",
    "student_keys.issue_student_key": "key-made",
    "student_keys.withdraw_student_key": "key-withdrawn",
    "student_keys.create_key_link": "link-made",
    "key-links.use_key_link": "key-made",
    "students.update_student": "student-changed",
    "students.delete_student": "person-deleted",
    "classes.update_class": "class-changed",
    "classes.set_class_picture": "class-changed",
    "classes.remove_class_picture": "class-changed",
    "classes.delete_class": "class-deleted",
    "references.delete_reference": "photo-deleted",
    "packs.delete_pack": "pack-deleted",
    "printers.delete_printer": "printer-deleted",
    "batches.delete_batch": "batch-deleted",
    "batches.get_batch_archive": "exported",
    "batches.get_print_run": "exported",
    "links.create_pack_link": "link-made",
    "links.create_batch_link": "link-made",
    "links.open_link": "link-opened",
}
#: Errors that are logged as `refused`, by their code.
REFUSALS: Final = frozenset(
    {"key-missing", "key-unknown", "not-allowed", "host-refused", "origin-refused"}
    | {"link-over", "not-found", "too-many-tries", "joining-closed", "class-closed", "name-taken"}
    | {"scope-missing", "site-expired", "session-ended", "too-many-sessions", "launch-refused"}
)


def log_access(app: Flask) -> None:
    """Write a line for each response that is such a decision."""

    @app.after_request
    def log_event(response: Response) -> Response:
        event = _event(response)
        if event is not None:
            _log.info(event, extra={"facts": _facts(response)})
        return response


def add_access_facts(*, actor: str | None = None, about: str | None = None, **figures: int) -> None:
    """Add facts to this request's line that neither its key nor its address has.

    Args:
        actor: The id of the person who asks, where no key says it.
        about: The id of the thing that was made or changed, where the address does not name it.
        figures: Counts, by name.
    """
    facts: dict[str, Any] = g.setdefault("access_facts", {})
    names = {"actor": actor, "about": about}
    facts.update({name: short(id_) for name, id_ in names.items() if id_ is not None}, **figures)


def note_refusal(code: str) -> None:
    """Note the code of the error that this request is answered with."""
    g.refused_with = code


def short(id_: str) -> str:
    """The part of an id that may be written to the log."""
    return id_ if id_ == LOCAL_OWNER else id_[: _PREFIX_LETTERS + LETTERS]


def _event(response: Response) -> str | None:
    code = g.get("refused_with")
    if code is not None:
        if code == "not-found" and not _named_ids():
            # No such address exists, so nobody's data was asked for.
            return None
        if "wrong_codes" in g.get("access_facts", {}):
            return "wrong-code"
        return "refused" if code in REFUSALS else None
    if response.status_code >= HTTPStatus.BAD_REQUEST:
        return None
    event = EVENTS.get(request.endpoint or "")
    if event == "signed-out" and "actor" not in g.get("access_facts", {}):
        # Nobody was signed in.
        return None
    return event


def _named_ids() -> dict[str, str]:
    """The ids in the address; where a view reads ids from its body, a mark of that."""
    named = {
        kind.removesuffix("_id"): short(str(id_))
        for kind, id_ in (request.view_args or {}).items()
        # An external id may be a name or an e-mail address.
        if kind.endswith("_id") and kind != EXTERNAL_ID
    }
    return named or ({"about": "body"} if request.endpoint in _NAMED_IN_BODY else {})


#: Views that find things by ids or codes in their body or query.
_NAMED_IN_BODY: Final = frozenset(
    {
        "plans.create_plan",
        "previews.create_preview",
        "grids.create_grid",
        "grids.create_grid_picture",
        "packs.create_pack",
        "references.create_reference",
        "printers.create_printer",
        "sessions.start_session",
    }
    | {"joining.check_join_code", "joining.join_class", "links.open_link"}
    | {"key-links.use_key_link"}
)


def _facts(response: Response) -> dict[str, Any]:
    person: Person | None = g.get("person")
    facts: dict[str, Any] = {
        "request_id": g.get("request_id"),
        "route": request.url_rule.rule if request.url_rule else None,
        "status": response.status_code,
    }
    if person is not None:
        facts |= {"actor": short(person.id), "role": person.role}
    session: SessionRow | None = g.get("session")
    if session is not None:
        facts["site"] = short(session.site_id)
    if g.get("refused_with") is not None:
        facts["code"] = g.refused_with
    return {**facts, **_named_ids(), **g.get("access_facts", {})}
