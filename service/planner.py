"""From a request to a plan: the reference must be the caller's, its study is kept at hand."""

from __future__ import annotations

from service.desk import desk, owner_id
from worker.layout import Plan, Spec, plan_sheets


def plan_for(reference_id: str, spec: Spec) -> Plan:
    """Plan the sheets.

    Raises:
        NotFound: The caller has no such reference.
        SpecError: The job cannot be done as asked.
    """
    at = desk()
    # A deleted reference must not be planned with, however warm its study is.
    at.ledger.reference(reference_id, owner_id())
    return plan_sheets(spec, at.studies.get(reference_id), max_sheets=at.settings.max_sheets)
