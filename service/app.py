"""The application: settings in, a WSGI callable out. Nothing is decided anywhere else.

The order in which things are hung on it is the order in which a request meets them: its
log line, the guard, the looks at its address and its key, the bounds on its body, then the
views.
"""

from __future__ import annotations

import logging
import time

from flask import Flask, Response, g, request

from service import (
    batches,
    board,
    classes,
    downloads,
    health,
    joining,
    packs,
    page,
    people,
    plans,
    previews,
    printers,
    problems,
    references,
    sizes,
    students,
)
from service.access import admit
from service.access_log import log_access
from service.bodies import limit_bodies
from service.desk import (
    EXTENSION,
    Desk,
    intake_of,
    making_gate,
    reading_gate,
    sheets_gate,
    stream_gate,
)
from service.guard import guard, require_tutor
from service.headers import protect
from service.holding import Holds
from service.logs import log_requests
from service.openapi import make_document
from service.studies import Studies
from service.texts import check_addresses
from service.watching import Watcher
from worker.errors import LedgerDamaged, StorageFull
from worker.imaging import load_study
from worker.layout.study import ReferenceStudy
from worker.ledger import Ledger, open_ledger
from worker.settings import Settings
from worker.storage import Storage, open_storage
from worker.storage.privacy import close_to_others

_log = logging.getLogger("ricalco.service")
BLUEPRINTS = (
    references.blueprint,
    plans.blueprint,
    previews.blueprint,
    packs.blueprint,
    downloads.blueprint,
    sizes.blueprint,
    printers.test_page,
    printers.readings,
    printers.blueprint,
    health.blueprint,
    people.tutors,
    people.sign_in,
    people.me,
    people.keys,
    people.sites,
    classes.blueprint,
    students.blueprint,
    batches.blueprint,
    board.blueprint,
    joining.blueprint,
)


def create_app(settings: Settings) -> Flask:
    """The service with these settings.

    Raises:
        SettingInvalid: It would be open to strangers.
        FolderNotWritable: The data folder cannot be used.
        LedgerUnavailable, LedgerDamaged: The ledger cannot be reached, or not be read.
    """
    app = Flask("service", static_folder=None)
    # An address with a slash too many is none: the redirect would answer in HTML.
    app.url_map.merge_slashes = False
    at = app.extensions[EXTENSION] = _desk(settings)
    require_tutor(settings, at.ledger)
    log_requests(app)
    log_access(app)
    guard(app, settings)
    check_addresses(app)
    limit_bodies(app, max_upload_bytes=settings.max_upload_bytes, spool=settings.data_dir / "spool")
    admit(app)
    protect(app)
    _count(app)
    problems.register(app)
    document = make_document(app)
    for blueprint in BLUEPRINTS:
        document.register_blueprint(blueprint)
    page.serve_page(app, settings)
    return app


def _desk(settings: Settings) -> Desk:
    storage = open_storage(settings)
    ledger = open_ledger(settings)
    ledger.migrate()
    close_to_others(settings.data_dir)
    storage.close_to_others()
    return Desk(
        settings=settings,
        damage=_look_over(storage, ledger),
        ledger=ledger,
        storage=storage,
        studies=Studies(lambda reference_id: _load_study(storage, reference_id)),
        making=making_gate(),
        sheets=sheets_gate(),
        intake=intake_of(settings),
        reading=reading_gate(),
        streams=stream_gate(settings.max_event_streams),
        holds=Holds(ledger.renew),
        watcher=Watcher(ledger),
    )


def _look_over(storage: Storage, ledger: Ledger) -> LedgerDamaged | None:
    """Say in the log what is wrong with disk and ledger, and go on.

    On a full disk the service must run: it is what photos and packs are deleted with. A ledger
    that is damaged in one place still gives out what is elsewhere.
    """
    for look in (storage.check, ledger.keep_reserve):
        try:
            look()
        except StorageFull as error:
            _log.error("The disk is full.", extra={"facts": {"detail": error.detail}})
    try:
        ledger.check_content()
    except LedgerDamaged as error:
        _log.critical("The ledger is damaged.", extra={"facts": {"detail": error.detail}})
        return error
    return None


def _load_study(storage: Storage, reference_id: str) -> ReferenceStudy:
    with storage.file(f"references/{reference_id}/study.npz") as path:
        return load_study(path)


def _count(app: Flask) -> None:
    """Count requests for the metrics page."""

    @app.after_request
    def count(response: Response) -> Response:
        began_s = g.get("began_s", time.perf_counter())
        desk: Desk = app.extensions[EXTENSION]
        desk.counters.add(
            method=request.method if request.url_rule else "other",
            route=request.url_rule.rule if request.url_rule else "none",
            status=response.status_code,
            seconds=time.perf_counter() - began_s,
        )
        return response
