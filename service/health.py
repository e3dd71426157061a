"""Liveness, readiness and metrics: for supervisors, proxies and operators."""

from __future__ import annotations

from collections.abc import Callable

from flask import Response

from service.http.answers.problems import NOT_READY, RETRY_S, problem
from service.http.documented import REFUSES
from service.http.errors import WaitsTooLong
from service.http.resources import Resources
from service.http.schemas import HealthSchema
from service.runtime import metrics
from service.runtime.context import ServiceContext, get_context
from worker.errors import RicalcoError
from worker.store.disk_room import check_room
from worker.store.metrics.families import MEDIA_TYPE

blueprint = Resources("health", __name__, description="Is it alive, is it ready.")
#: Seconds; a worker that runs never leaves a pack waiting this long while it makes none.
LONGEST_WAIT_S = 120.0


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
    """Ledger and storage answer, the disk has room, and packs do not wait for nobody."""
    context = get_context()
    checks = {
        "ledger": _outcome(lambda: _check_ledger(context)),
        "storage": _outcome(context.storage.check),
        "room": _outcome(lambda: check_room(context.ledger, context.storage)),
        "worker": _outcome(lambda: _no_pack_waits(context)),
    }
    if all(word == "ok" for word in checks.values()):
        return {"status": "ready", "checks": checks}
    answer = problem(503, NOT_READY, "The service cannot work just now.", checks=checks)
    answer.headers["Retry-After"] = str(RETRY_S)
    return answer


def _outcome(check: Callable[[], None]) -> str:
    try:
        check()
    except RicalcoError as error:
        return error.code
    return "ok"


def _check_ledger(context: ServiceContext) -> None:
    context.ledger.check()
    if context.damage is not None:
        raise context.damage


def _no_pack_waits(context: ServiceContext) -> None:
    gauges = context.ledger.gauges()
    # The last pack of a large batch waits long while others are made: that is no fault.
    if min(gauges.oldest_wait_s, gauges.idle_s) > LONGEST_WAIT_S:
        raise WaitsTooLong("The oldest pack waits for a worker.")


@blueprint.get("/metrics")
@blueprint.response(200, {"type": "string"}, content_type=MEDIA_TYPE)
def get_metrics() -> Response:
    """Figures in the Prometheus text format."""
    return Response(metrics.page(get_context()), content_type=MEDIA_TYPE)
