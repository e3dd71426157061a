"""Batches: packs for a class in one step; what they would take, how far they are, their files."""

from __future__ import annotations

import secrets
import time
from collections.abc import Callable
from pathlib import Path
from urllib.parse import quote, urlencode

from client.downloads import download
from client.errors import WaitedTooLong
from client.transport import Call, Transport
from client.values import Batch, JsonObject, describing

POLL_S = 1.0


def _ignore(_: Batch) -> None:
    """The progress callback of those who want none."""


class Batches:
    """The batches of a tutor's classes; a tutor's or a course site's key is needed."""

    def __init__(self, transport: Transport) -> None:
        self._transport = transport

    def estimate(self, class_id: str, wish: JsonObject) -> JsonObject:
        """What a batch would take, student by student; nothing is kept.

        Args:
            class_id: The class.
            wish: `title`, `reference_id`, `spec`, `note`, `as_asked`, and `items` or `table`:
                each may be left out, as `/v1/openapi.json` describes. A table may be a file's
                bytes: the service then finds out its encoding, and reads no `spec` beside it.

        Raises:
            SpecRefused, PapersRefused, RequestRefused: With what is wrong, and where.
        """
        answer = self._transport.json(_asking(f"{_of_class(class_id)}/estimate", wish))
        with describing("estimate"):
            return dict(answer)

    def create(self, class_id: str, wish: JsonObject, *, key: str | None = None) -> Batch:
        """Ask for the packs; `key` is the idempotency key, made here when left out.

        Raises:
            SpecRefused, PapersRefused, RequestRefused: Nothing is made.
        """
        key = key or secrets.token_urlsafe(24)
        call = _asking(_of_class(class_id), wish, key)
        return Batch.read(self._transport.json(call))

    def of_class(self, class_id: str) -> list[Batch]:
        """A class's batches, the newest first."""
        answer = self._transport.json(Call(method="GET", path=_of_class(class_id)))
        with describing("list of batches"):
            return [Batch.read(item) for item in answer["items"]]

    def get(self, batch_id: str) -> Batch:
        """The batch as it stands."""
        return Batch.read(self._transport.json(Call(method="GET", path=_path(batch_id))))

    def delete(self, batch_id: str) -> None:
        """Cancel what is not made yet; delete a batch that has ended, with its packs.

        It is sent once: after a cancelling whose answer was lost, the same call again would
        delete what was made.
        """
        self._transport.send(Call(method="DELETE", path=_path(batch_id), repeatable=False))

    def wait(
        self,
        batch_id: str,
        *,
        progress: Callable[[Batch], None] = _ignore,
        timeout_s: float | None = None,
    ) -> Batch:
        """Wait until every pack has ended; `counts` then tells how.

        Raises:
            WaitedTooLong: Packs are still being made.
        """
        until = None if timeout_s is None else time.monotonic() + timeout_s
        while (batch := self.get(batch_id)).state == "making":
            progress(batch)
            if until is not None and time.monotonic() + POLL_S > until:
                raise WaitedTooLong(f"Batch {batch_id} is still being made. Ask again later.")
            self._transport.sleep(POLL_S)
        progress(batch)
        return batch

    def download_archive(self, batch_id: str, path: Path | str) -> Path:
        """Fetch every pack with its cover, and the table of who has what, as a ZIP."""
        return download(self._transport, f"{_path(batch_id)}/archive.zip", Path(path))

    def download_print_run(
        self, batch_id: str, sheet_format: str, path: Path | str, *, covers: bool = False
    ) -> Path:
        """Fetch all packs on one kind of paper as one PDF, separators between them."""
        run = f"{_path(batch_id)}/print-run/{quote(sheet_format, safe='')}.pdf"
        query = "?covers=true" if covers else ""
        return download(self._transport, run + query, Path(path))

    def download_table(self, batch_id: str, path: Path | str) -> Path:
        """Fetch who has what, as CSV."""
        return download(self._transport, f"{_path(batch_id)}/table.csv", Path(path))


def _asking(path: str, wish: JsonObject, key: str | None = None) -> Call:
    """JSON; or the table bare, with what else is wanted in the query."""
    table = wish.get("table")
    if not isinstance(table, bytes):
        return Call(method="POST", path=path, json=wish, key=key)
    beside = {name: wish[name] for name in ("title", "reference_id", "note") if wish.get(name)}
    beside |= {"as_asked": "true"} if wish.get("as_asked") else {}
    query = f"?{urlencode(beside)}" if beside else ""
    return Call(method="POST", path=path + query, table=table, key=key)


def _of_class(class_id: str) -> str:
    return f"/v1/classes/{quote(class_id, safe='')}/batches"


def _path(batch_id: str) -> str:
    return f"/v1/batches/{quote(batch_id, safe='')}"
