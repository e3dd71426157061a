"""From a request to a plan: the reference must be the caller's, its study is kept at hand."""

from __future__ import annotations

from service.allowance import check_spec
from service.desk import desk, owner_id
from worker.errors import NotFound, ReferenceGone
from worker.layout import Plan, Spec, plan_sheets


def plan_for(reference_id: str, spec: Spec) -> Plan:
    """Plan the sheets.

    Raises:
        NotFound: The caller has no such reference.
        ReferenceGone: Its files are gone.
        SpecError: The job cannot be done as asked.
    """
    at = desk()
    check_spec(spec)
    try:
        # A deleted reference must not be planned with, however warm its study is.
        at.ledger.reference(reference_id, owner_id())
        check_files(reference_id)
    except (NotFound, ReferenceGone):
        at.studies.drop(reference_id)
        raise
    return plan_sheets(spec, at.studies.get(reference_id), max_sheets=at.settings.max_sheets)


def check_files(reference_id: str) -> None:
    """See that the files of a reference are there, which its row alone does not tell.

    Raises:
        ReferenceGone: They are not: nothing can be made from it.
    """
    if not has_files(reference_id):
        raise ReferenceGone(
            "The photo's files are no longer on the service's disk: send the photo again.",
            field="reference_id",
        )


def has_files(reference_id: str) -> bool:
    """Whether a reference can be worked with."""
    try:
        for name in ("master.zip", "study.npz", "preview.jpg"):
            with desk().storage.file(f"references/{reference_id}/{name}"):
                pass
    except NotFound:
        return False
    return True
