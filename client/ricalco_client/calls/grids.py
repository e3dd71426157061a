"""The grid alone: what is needed to draw by eye, square by square, without sheets."""

from __future__ import annotations

from ..errors import AnswerUnreadable
from ..transport.transport import Call, Transport
from ..values import JsonObject

_PDF, _JPEG = b"%PDF", b"\xff\xd8\xff"


class Grids:
    """The owner's photos under a grid."""

    def __init__(self, transport: Transport) -> None:
        self._transport = transport

    def pages(self, reference_id: str, spec: JsonObject, *, title: str = "") -> bytes:
        """Two pages as PDF: the picture under its grid, and where to tick the support.

        Args:
            reference_id: The photo.
            spec: The job, with a grid.
            title: Printed at the head of both pages.

        Raises:
            SpecRefused: With the field at fault.
            AnswerUnreadable: The answer is no PDF.
        """
        body = {"reference_id": reference_id, "spec": spec, "title": title}
        return self._fetch("/v1/grids", body, "application/pdf", _PDF)

    def picture(self, reference_id: str, spec: JsonObject) -> bytes:
        """The picture as it would be printed, as JPEG, large enough for one square alone.

        Args:
            reference_id: The photo.
            spec: The job.

        Raises:
            SpecRefused: With the field at fault.
            AnswerUnreadable: The answer is no JPEG picture.
        """
        body = {"reference_id": reference_id, "spec": spec}
        return self._fetch("/v1/grids/picture", body, "image/jpeg", _JPEG)

    def _fetch(self, path: str, body: JsonObject, kind: str, first: bytes) -> bytes:
        headers = {"Accept": f"{kind}, application/problem+json"}
        call = Call(method="POST", path=path, json=body, headers=headers)
        content = self._transport.send(call).content
        if not content.startswith(first):
            raise AnswerUnreadable(f"The service's answer is no {kind}.")
        return content
