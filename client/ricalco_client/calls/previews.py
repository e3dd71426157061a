"""Previews: the picture as it will be printed, reduced for a screen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ..errors import AnswerUnreadable
from ..transport.transport import Call, Transport
from ..values import JsonObject

_FIRST_BYTES = b"\x89PNG"


@dataclass(frozen=True, kw_only=True)
class Preview:
    """A preview.

    Attributes:
        png: The bytes of the PNG file.
        thresholds: Boundaries between the tones of a picture in values, as shares of the
            printed grey from black (0) to white (1); empty for other styles.
        tones: The greys that they are printed in, 0 to 255, dark to light; empty likewise.
    """

    png: bytes
    thresholds: tuple[float, ...] = ()
    tones: tuple[int, ...] = ()


class Previews:
    """Previews of the owner's photos."""

    def __init__(self, transport: Transport) -> None:
        self._transport = transport

    def fetch(
        self,
        reference_id: str,
        spec: JsonObject,
        *,
        width_px: int | None = None,
        part_mm: JsonObject | None = None,
    ) -> Preview:
        """The picture as it would be printed, without grid, seams and marks; or a part of it.

        Args:
            reference_id: The photo.
            spec: The job.
            width_px: 200 to 1600; by default the service chooses.
            part_mm: `left`, `top`, `width` and `height` of a part, in millimetres of the picture
                as printed, 5 to 300 wide and high. It is shown as it will be on paper, with grid
                and register marks.

        Raises:
            SpecRefused: With the field at fault.
            RequestRefused: The part reaches beyond the picture.
            AnswerUnreadable: The answer is no picture.
        """
        body: dict[str, Any] = {"reference_id": reference_id, "spec": spec}
        if width_px is not None:
            body["width_px"] = width_px
        if part_mm is not None:
            body["part_mm"] = part_mm
        headers = {"Accept": "image/png, application/problem+json"}
        call = Call(method="POST", path="/v1/previews", json=body, headers=headers)
        answer = self._transport.send(call)
        if not answer.content.startswith(_FIRST_BYTES):
            raise AnswerUnreadable("The service's answer is no PNG picture.")
        thresholds = _numbers(answer.headers.get("Ricalco-Thresholds", ""))
        tones = tuple(int(grey) for grey in _numbers(answer.headers.get("Ricalco-Tones", "")))
        return Preview(png=answer.content, thresholds=thresholds, tones=tones)


def _numbers(header: str) -> tuple[float, ...]:
    try:
        return tuple(float(each) for each in header.split(",") if each.strip())
    except ValueError as error:
        raise AnswerUnreadable("The service's thresholds are no numbers.") from error
