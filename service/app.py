"""The application factory: settings in, a WSGI callable out.

Hooks are registered in the order in which a request meets them: request log, host guard,
preflights of course pages, check of the address, limits of the body, access rules, names in
the query, then the views.
"""

from __future__ import annotations

import logging

from flask import Flask

from service import embed, health, page
from service.access.rules import check_access
from service.access.site_log import log_sites
from service.batches import ticket_views
from service.batches import views as batches
from service.classes import external_ids, students, tutors
from service.classes import packs as class_packs
from service.classes import views as classes
from service.classes.board import views as board
from service.classes.joining import student_keys
from service.classes.joining import views as joining
from service.contract import problem_pages
from service.contract.viewer import serve_viewer
from service.http.answers import problems
from service.http.answers.deprecation import announce_deprecations
from service.http.answers.headers import protect
from service.http.cors import answer_course_pages
from service.http.logs.access_log import log_access
from service.http.logs.program_log import log_requests
from service.http.requests.bodies import limit_bodies
from service.http.requests.host_guard import guard, require_tutor
from service.http.requests.queries import check_queries
from service.http.requests.unicode import check_addresses
from service.links import views as links
from service.lti.routes import serve_lti
from service.me import views as me
from service.openapi import make_document
from service.packs import downloads, grid_views, plan_views, preview_views
from service.packs import views as packs
from service.people import views as people
from service.printers import sizes
from service.printers import views as printers
from service.references import views as references
from service.runtime.caches.studies import StudyCache
from service.runtime.context import EXTENSION, ServiceContext, make_intake
from service.runtime.key_holds import KeyHolds
from service.runtime.limits.failed_attempts import FailedAttempts
from service.runtime.limits.kinds_of_work import (
    drawing_limit,
    full_size_limit,
    intake_limit,
    sheet_limit,
    stream_limit,
)
from service.runtime.limits.session_rate import SessionRate
from service.runtime.limits.tallies import open_tallies
from service.runtime.metrics import count_requests
from service.runtime.progress_watch import ProgressWatcher
from service.sites import log_views, sessions
from service.sites import views as sites
from service.webhooks import views as webhooks
from worker.errors import LedgerDamaged, StorageFull, StorageUnavailable
from worker.reference.study_file import load_study
from worker.settings import Settings
from worker.spec.study import ReferenceStudy
from worker.store.files import Storage, open_storage
from worker.store.files.privacy import close_to_others
from worker.store.ledger import Ledger, open_ledger
from worker.store.metrics.counts import Counts

_log = logging.getLogger("ricalco.service")
BLUEPRINTS = (
    references.blueprint,
    plan_views.blueprint,
    preview_views.blueprint,
    grid_views.blueprint,
    packs.blueprint,
    downloads.blueprint,
    sizes.blueprint,
    printers.test_page,
    printers.readings,
    printers.blueprint,
    health.blueprint,
    people.tutors,
    people.sign_in_resource,
    me.blueprint,
    people.keys,
    sites.blueprint,
    sessions.blueprint,
    webhooks.blueprint,
    log_views.of_sites,
    log_views.of_classes,
    classes.blueprint,
    students.blueprint,
    student_keys.blueprint,
    student_keys.links,
    external_ids.of_students,
    external_ids.of_tutors,
    tutors.blueprint,
    batches.blueprint,
    ticket_views.blueprint,
    board.blueprint,
    class_packs.blueprint,
    joining.blueprint,
    links.blueprint,
    problem_pages.blueprint,
)


def create_app(settings: Settings) -> Flask:
    """The service with these settings; opens ledger and storage.

    Raises:
        SettingInvalid: Others than this machine's user could use it, and it has no tutor.
        FolderNotWritable: The data folder cannot be used.
        LedgerUnavailable, LedgerDamaged: The ledger cannot be reached, or not be read.
    """
    app = Flask("service", static_folder=None)
    # An address with doubled slashes is not found: Flask's redirect would be HTML.
    app.url_map.merge_slashes = False
    context = app.extensions[EXTENSION] = _make_context(settings)
    require_tutor(settings, context.ledger)
    log_requests(app, settings.trusted_proxy)
    log_access(app)
    guard(app, settings, context.ledger.sites.names_origin)
    answer_course_pages(app)
    check_addresses(app)
    limit_bodies(app, max_upload_bytes=settings.max_upload_bytes, spool=settings.data_dir / "spool")
    check_access(app)
    log_sites(app)
    check_queries(app)
    announce_deprecations(app)
    protect(app)
    count_requests(app)
    problems.register(app)
    document = make_document(app)
    for blueprint in BLUEPRINTS:
        document.register_blueprint(blueprint)
    serve_viewer(app)
    files = page.serve_page(app, settings)
    if files:
        embed.serve_embed(app, files)
    serve_lti(app, files)
    return app


def _make_context(settings: Settings) -> ServiceContext:
    storage = open_storage(settings)
    ledger = open_ledger(settings)
    ledger.migrate()
    close_to_others(settings.data_dir)
    storage.close_to_others()
    tallies, slots = open_tallies(settings), settings.data_dir / "slots"
    return ServiceContext(
        settings=settings,
        counts=Counts(settings.metrics_folder),
        damage=_check_at_start(storage, ledger),
        ledger=ledger,
        storage=storage,
        study_cache=StudyCache(lambda reference_id: _load_study(storage, reference_id)),
        drawing_limit=drawing_limit(slots),
        sheet_limit=sheet_limit(slots),
        full_size_limit=full_size_limit(slots),
        intake=make_intake(settings),
        intake_limit=intake_limit(slots),
        stream_limit=stream_limit(settings.max_event_streams),
        failed_attempts=FailedAttempts(tallies),
        session_rate=SessionRate(tallies),
        key_holds=KeyHolds(ledger.renew),
        progress_watcher=ProgressWatcher(
            ledger.data_version, ledger.progress, "There is no such pack."
        ),
        batch_watcher=ProgressWatcher(
            ledger.data_version, ledger.batches.progress, "There is no such batch."
        ),
    )


def _check_at_start(storage: Storage, ledger: Ledger) -> LedgerDamaged | None:
    """Log what is wrong with disk and ledger, and start all the same.

    On a full disk the service must run, since photos and packs are deleted through it. A
    ledger that is damaged in one place can still be read in others.
    """
    for check in (storage.check, ledger.fill_reserve):
        try:
            check()
        except (StorageFull, StorageUnavailable) as error:
            _log.error("Nothing can be kept now.", extra={"facts": {"detail": error.detail}})
    try:
        ledger.check_content()
    except LedgerDamaged as error:
        _log.critical("The ledger is damaged.", extra={"facts": {"detail": error.detail}})
        return error
    return None


def _load_study(storage: Storage, reference_id: str) -> ReferenceStudy:
    with storage.file(f"references/{reference_id}/study.npz") as path:
        return load_study(path)
