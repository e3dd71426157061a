"""The application: settings in, a WSGI callable out. Nothing is decided anywhere else.

The order in which things are hung on it is the order in which a request meets them: its
log line, the guard, the look at its key, the bounds on its body, then the views.
"""

from __future__ import annotations

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
from service.bodies import limit_bodies
from service.desk import EXTENSION, Desk, intake_of, making_gate, reading_gate, stream_gate
from service.guard import guard, require_tutor
from service.headers import protect
from service.logs import log_requests
from service.openapi import make_document
from service.studies import Studies
from worker.imaging import load_study
from worker.layout.study import ReferenceStudy
from worker.ledger import open_ledger
from worker.settings import Settings
from worker.storage import Storage, open_storage

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
        LedgerUnavailable: The ledger cannot be reached.
    """
    app = Flask("service", static_folder=None)
    # An address with a slash too many is none: the redirect would answer in HTML.
    app.url_map.merge_slashes = False
    at = app.extensions[EXTENSION] = _desk(settings)
    require_tutor(settings, at.ledger)
    log_requests(app)
    guard(app, settings)
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
    storage.check()
    ledger = open_ledger(settings)
    ledger.migrate()
    return Desk(
        settings=settings,
        ledger=ledger,
        storage=storage,
        studies=Studies(lambda reference_id: _load_study(storage, reference_id)),
        making=making_gate(),
        intake=intake_of(settings),
        reading=reading_gate(),
        streams=stream_gate(settings.max_event_streams),
    )


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
