"""What stands in the paths of addresses: a path with anything else there is not found."""

from __future__ import annotations

from werkzeug.routing import BaseConverter

from service.http.schemas import PACK_ID, REFERENCE_ID, STUDENT_ID, TUTOR_ID
from worker.spec.sheet_labels import ADDRESS, address_label, read_label, sheet_label

_ID = "[A-Za-z0-9_-]{16,60}"
#: By the name that a part has in views; all of it stands there as it is.
PATTERNS = {
    "reference_id": REFERENCE_ID,
    "pack_id": PACK_ID,
    "class_id": f"cls_{_ID}",
    "student_id": STUDENT_ID,
    "batch_id": f"bat_{_ID}",
    "site_id": f"sit_{_ID}",
    # Not the session's token.
    "session_id": f"ses_{_ID}",
    "tutor_id": TUTOR_ID,
    # Not the access key itself.
    "key_id": f"key_{_ID}",
    "printer_id": f"prn_{_ID}",
    "webhook_id": f"whk_{_ID}",
    # Of a message to a webhook: its `webhook-id`.
    "message_id": f"msg_{_ID}",
    # As PWG 5101.1 names sheet formats.
    "sheet_format": r"[a-z0-9-]{2,20}_[a-z0-9.-]{1,40}(?:_[a-z0-9.x-]{1,40})?",
    # The last part of a file's path, in the path of a link.
    "file_name": r"[A-Za-z0-9][A-Za-z0-9._-]{2,100}",
    "problem_code": r"[a-z]+(?:-[a-z]+)*",
}


class ExternalIdConverter(BaseConverter):
    """Another system's id of a person, percent-encoded; it may have slashes in it."""

    regex = r".{1,255}"
    part_isolating = False


class LabelConverter(BaseConverter):
    """A sheet's label, where a hyphen stands for its dot."""

    regex = ADDRESS

    def to_python(self, value: str) -> str:
        """The label as it is printed."""
        return sheet_label(*read_label(value))

    def to_url(self, value: str) -> str:
        """The label as it stands in addresses."""
        return address_label(*read_label(value))


def _converter(pattern: str) -> type[BaseConverter]:
    return type("PatternConverter", (BaseConverter,), {"regex": pattern})


CONVERTERS: dict[str, type[BaseConverter]] = {
    **{name: _converter(pattern) for name, pattern in PATTERNS.items()},
    "external_id": ExternalIdConverter,
    "label": LabelConverter,
}
