"""From a request to a plan: the reference must be the caller's, its study is kept at hand."""

from __future__ import annotations

from service.allowance import check_spec
from service.desk import desk, owner_id
from worker.errors import NotFound
from worker.layout import Plan, Spec, plan_sheets


def plan_for(reference_id: str, spec: Spec) -> Plan:
    """Plan the sheets.

    Raises:
        NotFound: The caller has no such reference.
        SpecError: The job cannot be done as asked.
    """
    at = desk()
    check_spec(spec)
    try:
        # A deleted reference must not be planned with, however warm its study is.
        at.ledger.reference(reference_id, owner_id())
    except NotFound:
        at.studies.drop(reference_id)
        raise
    return plan_sheets(spec, at.studies.get(reference_id), max_sheets=at.settings.max_sheets)
