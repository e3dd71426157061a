"""Plans a request: checks that the caller may use the reference; caches its study and plans."""

from __future__ import annotations

from service.access.class_limits import check_spec
from service.references.files import check_files
from service.runtime.context import get_context, owner_id
from worker.errors import NotFound, ReferenceGone
from worker.layout.planning import plan_sheets
from worker.spec.plan import Plan
from worker.spec.spec import Spec
from worker.store.ledger import ReferenceRow
from worker.store.metrics.families import PLAN_SECONDS


def plan_for(reference_id: str, spec: Spec) -> tuple[ReferenceRow, Plan]:
    """Read a reference and plan its sheets.

    Raises:
        NotFound: The caller has no such reference.
        ReferenceGone: Its files are gone.
        SpecError: The picture cannot be planned with this spec.
    """
    context = get_context()
    check_spec(spec)
    try:
        # A deleted reference must not be planned, even while its study is cached.
        reference = context.ledger.reference(reference_id, owner_id())
        check_files(reference_id)
    except (NotFound, ReferenceGone):
        context.forget(reference_id)
        raise

    def make() -> Plan:
        study = context.study_cache.get(reference_id)
        with context.counts.timed(PLAN_SECONDS):
            return plan_sheets(spec, study, max_sheets=context.settings.max_sheets)

    return reference, context.plan_cache.get(reference_id, spec, make)
