"""Printers and readings as the documents that callers see."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Self

from service.http.json_responses import utc_datetime
from service.printers.schemas import PrinterSchema, ReadingsSchema
from worker.layout.printer_readings import Reading, bars_of, judge
from worker.spec.formats import sheet_format
from worker.store.ledger import PrinterRow

_READINGS = ReadingsSchema()
_PRINTER = PrinterSchema()


@dataclass(frozen=True, kw_only=True)
class Readings:
    """What was read off the test page of a sheet format; None: not measured."""

    format: str
    across_mm: float | None = None
    down_mm: float | None = None

    @classmethod
    def of(cls, row: PrinterRow) -> Self:
        """What is kept of a printer."""
        return cls(format=row.sheet_format, across_mm=row.across_mm, down_mm=row.down_mm)


def judged(read: Readings) -> tuple[Reading | None, Reading | None]:
    """What the readings across and down mean."""
    bars = bars_of(sheet_format(read.format))
    across = None if read.across_mm is None else judge(read.across_mm, bars.across_mm)
    down = None if read.down_mm is None else judge(read.down_mm, bars.down_mm)
    return across, down


def readings_document(read: Readings) -> dict[str, Any]:
    """What readings mean, as callers see it."""
    across, down = judged(read)
    return dict(_READINGS.dump({"format": read.format, "across": across, "down": down}))


def printer_document(row: PrinterRow) -> dict[str, Any]:
    """A printer as callers see it."""
    across, down = judged(Readings.of(row))
    document = {
        **vars(row),
        "format": row.sheet_format,
        "across": across,
        "down": down,
        "across_correction": _correction(across),
        "down_correction": _correction(down),
        "created_at": utc_datetime(row.created_at),
        "links": {
            "self": f"/v1/printers/{row.id}",
            "test_page": f"/v1/test-page.pdf?format={row.sheet_format}",
        },
    }
    return dict(_PRINTER.dump(document))


def printers_document(rows: Iterable[PrinterRow], most: int) -> dict[str, Any]:
    """Printers as callers see them."""
    return {"items": [printer_document(row) for row in rows], "most": most}


def _correction(reading: Reading | None) -> float:
    """1 where nothing was measured; what is kept was usable when it was taken in."""
    return 1.0 if reading is None or reading.correction is None else reading.correction
