"""What a course site, or a student in one of its sessions, needs to call a view: a scope.

`service.access.rules` says which roles may call a view at all; these tables say more about the
two that somebody else has limited. A view that is in neither answers neither, so no new view is
open to sites or sessions by oversight.
"""

from __future__ import annotations

from typing import Final

from flask import g

from service.http.errors import NotAllowed, ScopeMissing
from worker.store.ledger import AccessKey, Scope, SessionRow, SiteRow

#: No scope is needed: it says who asks, or is the same for everybody.
FREE: Final = None
_NEUTRAL: Final[dict[str, Scope | None]] = {
    "sizes.list_sheet_formats": FREE,
    "sizes.list_supports": FREE,
    "test-page.get_test_page": FREE,
    "readings.judge_readings": FREE,
    "me.get_me": FREE,
}
_MAKING: Final[dict[str, Scope | None]] = {
    "references.create_reference": "make-packs",
    "references.find_references": "make-packs",
    "references.square_reference": "make-packs",
    "plans.create_plan": "make-packs",
    "previews.create_preview": "make-packs",
    "grids.create_grid": "make-packs",
    "grids.create_grid_picture": "make-packs",
    "packs.create_pack": "make-packs",
    "packs.mark_pack": "make-packs",
    "printers.create_printer": "make-packs",
    "printers.update_printer": "make-packs",
}
_FILES: Final = (
    "downloads.get_pack_pdf",
    "downloads.get_map_png",
    "downloads.get_picture_jpg",
    "downloads.get_thumbnail_jpg",
    "downloads.get_sheet_pdf",
    "downloads.get_sheet_png",
    "downloads.get_full_size_pdf",
    "links.create_pack_link",
)
#: The views that give out the files of packs.
FETCHING: Final[dict[str, Scope | None]] = {
    **dict.fromkeys(_FILES, "fetch-packs"),
    "batches.get_batch_archive": "fetch-packs",
    "batches.get_print_run": "fetch-packs",
    "tickets.get_ticket": "fetch-packs",
    "tickets.get_ticket_file": "fetch-packs",
    "links.create_batch_link": "fetch-packs",
    "batches.get_batch_table": "fetch-packs",
}
_DELETING: Final[dict[str, Scope | None]] = {
    "references.delete_reference": "delete-packs",
    "packs.delete_pack": "delete-packs",
    "printers.delete_printer": "delete-packs",
}
_LOOKING: Final = (
    "references.get_reference",
    "references.get_reference_preview",
    "packs.get_pack",
    "packs.follow_pack",
    "printers.list_printers",
    "printers.get_printer",
    "classes.get_class",
)

#: What a course site needs for each view that it may call at all.
SITE_NEEDS: Final[dict[str, Scope | None]] = {
    **_NEUTRAL,
    **_MAKING,
    **FETCHING,
    **_DELETING,
    **dict.fromkeys(_LOOKING, "read-class"),
    "classes.list_classes": "read-class",
    "classes.update_class": "change-class",
    "classes.set_class_picture": "change-class",
    "classes.remove_class_picture": "change-class",
    "students.list_students": "read-class",
    "students.add_students": "add-students",
    "students.reorder_students": "add-students",
    "students.update_student": "add-students",
    "students.delete_student": "delete-students",
    "student_keys.issue_student_key": "student-keys",
    "student_keys.withdraw_student_key": "student-keys",
    "student_keys.create_key_link": "student-keys",
    "students-by-external-id.put_student_by_external_id": "add-students",
    "students-by-external-id.get_student_by_external_id": "read-class",
    "class-tutors.list_class_tutors": "read-class",
    "class-tutors.remove_class_tutor": "add-tutors",
    "tutors-by-external-id.put_tutor_by_external_id": "add-tutors",
    "tutors-by-external-id.get_tutor_by_external_id": "read-class",
    "board.get_board": "read-class",
    "class-packs.find_class_packs": "read-class",
    "joining.get_join_picture": "change-class",
    "batches.list_batches": "read-class",
    "batches.get_batch": "read-class",
    "batches.follow_batch": "read-class",
    "batches.estimate_batch": "make-packs",
    "batches.create_batch": "make-packs",
    "batches.delete_batch": "delete-packs",
    "webhooks.list_webhooks": "webhooks",
    "webhooks.create_webhook": "webhooks",
    "webhooks.get_webhook": "webhooks",
    "webhooks.update_webhook": "webhooks",
    "webhooks.delete_webhook": "webhooks",
    "webhooks.rotate_webhook_secret": "webhooks",
    "webhooks.list_deliveries": "webhooks",
    "webhooks.replay_delivery": "webhooks",
    "sessions.start_session": "start-sessions",
    "sessions.renew_session": "start-sessions",
    "sessions.end_session": "start-sessions",
}

#: What a student in a session needs for each view; of their own things, they see all.
SESSION_NEEDS: Final[dict[str, Scope | None]] = {
    **_NEUTRAL,
    **_MAKING,
    **dict.fromkeys(_FILES, "fetch-packs"),
    **_DELETING,
    **dict.fromkeys(_LOOKING, FREE),
    "me.list_my_packs": FREE,
}


#: What lasts, or reaches beyond the classes of their courses: not for tutors whom a learning
#: platform has signed in.
NOT_BY_LAUNCH: Final = frozenset(
    {
        "keys.issue_key",
        "sites.create_site",
        "sites.issue_site_key",
        "webhooks.create_webhook",
        "classes.create_class",
        "classes.copy_class",
        "health.get_metrics",
    }
)


def check_launched(endpoint: str, access: AccessKey | None) -> None:
    """Check that a tutor whom a learning platform has signed in may call this view.

    Raises:
        NotAllowed: It makes something that would outlast the platform, or is about everybody.
    """
    if access is not None and access.via_site is not None and endpoint in NOT_BY_LAUNCH:
        raise NotAllowed(
            "Who comes from a learning platform works in the classes of its courses: for this, "
            "ask whoever runs the service for a key of your own."
        )


def check_scope(endpoint: str, site: SiteRow | None, session: SessionRow | None) -> None:
    """Check that whoever asks by a site's key or in a session may call this view.

    Args:
        endpoint: The view.
        site: The site whose key was sent, if one was.
        session: The session whose token was sent, if one was.

    Raises:
        ScopeMissing: They lack the scope, or no scope lets them.
    """
    if site is not None:
        _check(endpoint, SITE_NEEDS, site.scopes, "this course site")
    if session is not None:
        _check(endpoint, SESSION_NEEDS, session.scopes, "this session")


def _check(
    endpoint: str, needs: dict[str, Scope | None], scopes: tuple[Scope, ...], who: str
) -> None:
    if endpoint not in needs:
        raise ScopeMissing(f"No scope lets {who} do this: ask with a person's own key.")
    needed = needs[endpoint]
    if needed is not None and needed not in scopes:
        message = f"This needs the scope {needed}, which {who} does not have."
        raise ScopeMissing(message, scope=needed)


def site_may(scope: Scope) -> bool:
    """Whether whoever asks is limited in nothing, or is a course site that has this scope."""
    site: SiteRow | None = g.get("site")
    return site is None or scope in site.scopes
