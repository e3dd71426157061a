"""Printers: the page to measure one by, what readings of it mean, and keeping them."""

from __future__ import annotations

import secrets
from pathlib import Path
from urllib.parse import quote

from client.downloads import download
from client.transport import Call, Transport
from client.values import JsonObject, Printer, describing

_PRINTERS = "/v1/printers"


class Printers:
    """The printers of this service's owner, and those shared with their classes."""

    def __init__(self, transport: Transport) -> None:
        self._transport = transport

    def download_test_page(self, sheet_format: str, path: Path | str) -> Path:
        """Fetch the test page of a sheet format as a PDF; print it at actual size.

        Args:
            sheet_format: A PWG 5101.1 name that `Ricalco.sheet_formats` lists.
            path: Where to.
        """
        page = f"/v1/test-page.pdf?format={quote(sheet_format, safe='')}"
        return download(self._transport, page, Path(path))

    def judge(
        self, sheet_format: str, *, across_mm: float | None = None, down_mm: float | None = None
    ) -> JsonObject:
        """What readings of the test page mean, across and down; nothing is kept.

        A `verdict` is `exact`, `corrected`, `page-fitting` or `implausible`.
        """
        body = {"format": sheet_format, "across_mm": across_mm, "down_mm": down_mm}
        answer = self._transport.json(Call(method="POST", path="/v1/readings", json=body))
        with describing("reading"):
            return dict(answer)

    def create(self, wish: JsonObject, *, key: str | None = None) -> Printer:
        """Keep a printer that was measured.

        Args:
            wish: `name`, `format`, and as far as measured `across_mm`, `down_mm` and
                `margin_mm`; a tutor's `class_id` shares it with the class.
            key: Idempotency key; made here when left out.

        Raises:
            ReadingRefused: Page fitting was on, or the reading cannot be.
        """
        key = key or secrets.token_urlsafe(24)
        call = Call(method="POST", path=_PRINTERS, json=wish, key=key)
        return Printer.read(self._transport.json(call))

    def list(self) -> tuple[Printer, ...]:
        """One's own printers, and those that are shared with one's classes."""
        answer = self._transport.json(Call(method="GET", path=_PRINTERS))
        with describing("list of printers"):
            items = list(answer["items"])
        return tuple(Printer.read(item) for item in items)

    def get(self, printer_id: str) -> Printer:
        """The printer of this id."""
        return Printer.read(self._transport.json(Call(method="GET", path=_path(printer_id))))

    def change(self, printer_id: str, changes: JsonObject) -> Printer:
        """Change what is given, in the words of `create`; the rest stays.

        Raises:
            ReadingRefused: Page fitting was on, or the reading cannot be.
        """
        call = Call(method="PATCH", path=_path(printer_id), json=changes)
        return Printer.read(self._transport.json(call))

    def delete(self, printer_id: str) -> None:
        """Delete the printer; packs that were made for it stay."""
        self._transport.send(Call(method="DELETE", path=_path(printer_id)))


def _path(printer_id: str) -> str:
    return f"{_PRINTERS}/{quote(printer_id, safe='')}"
