"""Liveness, readiness and metrics: for supervisors, proxies and operators."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from flask import Response

from service.http.answers.problems import NOT_READY, RETRY_S, WORDS, problem
from service.http.documented import REFUSES
from service.http.errors import WaitsTooLong
from service.http.resources import Resources
from service.http.schemas import HealthSchema
from service.runtime import metrics
from service.runtime.context import ServiceContext, get_context
from worker.errors import RicalcoError
from worker.jobs import check_broker
from worker.jobs.worker_presence import check_workers
from worker.store.disk_room import check_room
from worker.store.metrics.families import MEDIA_TYPE

blueprint = Resources("health", __name__, description="Is it alive, is it ready.")
#: Seconds; a worker that runs never leaves a pack waiting this long while it makes none.
LONGEST_WAIT_S = 120.0
#: Seconds that an answer to `/readyz` is good for, in each web process: its checks write to the
#: bucket. Balancers probe every few seconds, and learn of a fault one probe later at the most.
KEPT_S = 3.0
OK: Final = "ok"
#: Without these nothing can be done for anybody.
NEEDED: Final = frozenset({"ledger", "migrations", "storage", "room", "worker"})


@blueprint.get("/healthz")
@blueprint.doc(security=[])
@blueprint.response(200, HealthSchema)
def get_health() -> dict[str, str]:
    """The process answers."""
    return {"status": "ok"}


@blueprint.get("/readyz")
@blueprint.doc(**{REFUSES: [NOT_READY]})
@blueprint.doc(security=[])
@blueprint.response(200, HealthSchema)
def get_readiness() -> dict[str, object] | Response:
    """Every part is looked at; `todo` says what to do about each that is not well.

    Without ledger, storage, room, or anybody who makes what waits, the service is not ready. A
    broker or workers that are away for a moment, and clocks that differ, are told: photos and
    packs are taken all the same, and no balancer should take the service away from everybody.
    What is told is at most a few seconds old.
    """
    context = get_context()
    checks = context.last_checks.get(lambda: _checks(context), KEPT_S)
    todo = {name: WORDS[code]["advice"] for name, code in checks.items() if code != OK}
    if not NEEDED & set(todo):
        return {"status": "ready", "checks": checks, "todo": todo}
    detail = "The service cannot work just now."
    answer = problem(503, NOT_READY, detail, checks=checks, todo=todo)
    answer.headers["Retry-After"] = str(RETRY_S)
    return answer


def _checks(context: ServiceContext) -> dict[str, str]:
    """Each part with "ok", or the code of what is wrong with it."""
    return {
        "ledger": _outcome(lambda: _check_ledger(context)),
        "migrations": _outcome(context.ledger.check_step),
        "storage": _outcome(context.storage.check),
        "room": _outcome(lambda: check_room(context.ledger, context.storage)),
        "worker": _outcome(lambda: _no_pack_waits(context)),
        "broker": _outcome(lambda: check_broker(context.settings)),
        "workers": _outcome(lambda: check_workers(context.settings, context.ledger)),
        "clock": _outcome(context.ledger.check_clock),
    }


def _outcome(check: Callable[[], None]) -> str:
    try:
        check()
    except RicalcoError as error:
        return error.code
    return OK


def _check_ledger(context: ServiceContext) -> None:
    context.ledger.check()
    if context.damage is not None:
        raise context.damage


def _no_pack_waits(context: ServiceContext) -> None:
    # The last pack of a large batch waits long while others are made: that is no fault.
    if context.ledger.stalled_s() > LONGEST_WAIT_S:
        raise WaitsTooLong("The oldest pack waits for a worker.")


@blueprint.get("/metrics")
@blueprint.response(200, {"type": "string"}, content_type=MEDIA_TYPE)
def get_metrics() -> Response:
    """Figures in the Prometheus text format."""
    return Response(metrics.page(get_context()), content_type=MEDIA_TYPE)
