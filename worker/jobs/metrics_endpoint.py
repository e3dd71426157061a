"""The page of figures of a worker, for a Prometheus; only where RICALCO_METRICS_ADDRESS is set.

A worker on a machine of its own is asked itself, as Prometheus asks everything: that says which
workers answer too, needs no expiry of those that have gone, and costs no write for each step, as
counts in the ledger or in Redis would. On one machine the web shows the worker's counts as well.
"""

from __future__ import annotations

import logging
import secrets
import socket
import threading
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from worker.settings import Settings
from worker.store.metrics.families import MEDIA_TYPE
from worker.store.metrics.shared import read_all

_LOG = logging.getLogger(__name__)
#: Who sends nothing for so long is closed.
_PATIENCE_S = 10.0


class MetricsServer(ThreadingHTTPServer):
    """Answers `GET /metrics`, with the key where there is one.

    Args:
        place: Host and port.
        folder: Where this machine's processes keep their counts.
        key: The key that opens the page; empty: none is needed.

    Raises:
        OSError: The address cannot be listened on.
    """

    daemon_threads = True

    def __init__(self, place: tuple[str, int], folder: Path, key: str) -> None:
        self.folder, self.key = folder, key
        self.address_family = socket.AF_INET6 if ":" in place[0] else socket.AF_INET
        super().__init__(place, _Page)


class _Page(BaseHTTPRequestHandler):
    server: MetricsServer
    timeout = _PATIENCE_S
    server_version, sys_version = "Ricalco", ""

    def do_GET(self) -> None:
        """Send the page."""
        if self.path.partition("?")[0] != "/metrics":
            self.send_error(HTTPStatus.NOT_FOUND)
            return
        key, sent = self.server.key, self.headers.get("Authorization", "")
        if key and not secrets.compare_digest(f"Bearer {key}".encode(), sent.encode()):
            self.send_error(HTTPStatus.UNAUTHORIZED, explain="Send RICALCO_METRICS_KEY.")
            return
        # prometheus-client is loaded with the first page.
        from worker.store.metrics import exposition  # noqa: PLC0415

        body = exposition.page(read_all(self.server.folder), {})
        self.send_response(HTTPStatus.OK)
        self.send_header("Content-Type", MEDIA_TYPE)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, _format: str, *_: object) -> None:
        """Write nothing: a Prometheus asks every few seconds."""


def show_metrics(settings: Settings) -> MetricsServer | None:
    """Start the page in a thread, where settings ask for one.

    An address that is taken is only logged: packs are made without it.
    """
    if not settings.metrics_address:
        return None
    try:
        server = MetricsServer(
            settings.metrics_place, settings.metrics_folder, settings.metrics_key
        )
    except OSError as error:
        _LOG.error("RICALCO_METRICS_ADDRESS %s: %s", settings.metrics_address, error)
        return None
    threading.Thread(target=server.serve_forever, name="metrics", daemon=True).start()
    return server
