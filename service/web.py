"""The web process: waitress in front of the application.

Started as `python -m service.web`, by the supervisor with `--watch-parent`. SIGTERM, Ctrl-C
and the end of the parent process all stop the server: it accepts no new requests, answers
those under way and ends event streams.
"""

from __future__ import annotations

import json
import signal
import socket
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Sequence
from contextlib import closing
from http import HTTPStatus
from typing import Any

from flask import Flask
from waitress.adjustments import Adjustments
from waitress.task import ErrorTask

from service.app import create_app
from service.http.answers import problems
from service.http.logs.program_log import log_to_stderr
from service.http.requests.bodies import MULTIPART_ROOM_BYTES, SPOOL_FOLDER
from service.http.requests.request_id import note_peer
from service.runtime.context import EXTENSION, ServiceContext
from service.runtime.forgetting import Forgetting
from service.serving.channels import Channel, Stage
from service.serving.connections import Server, make_room_for_handles
from service.serving.dispatcher import SlotDispatcher
from service.serving.listening import NOT_READY, listen
from worker.errors import SetupError
from worker.jobs.parent_watch import when_input_closes
from worker.settings import Settings

#: Threads in addition to those for event streams. A class that sends its photos at once waits
#: in thirty of them (service/runtime/limits/concurrency.py); the others answer everybody else.
REQUEST_THREADS = 40
#: Headers that are read from the trusted proxy only: the scheme, since cookies are `Secure`
#: over TLS; the client's address, since wrong join codes are counted by address; the host.
#: From any other client they are dropped.
_PROXY_HEADERS = frozenset({"x-forwarded-for", "x-forwarded-host", "x-forwarded-proto"})
#: Seconds that one Python thread runs while others wait; the default is five times as long.
SWITCH_S = 0.001
#: Seconds that requests under way may take when the service stops.
GRACE_S = 10.0
#: Seconds that a connection is kept after its last byte when the service stops: a request may be on
#: its way, on a connection that was just accepted or answered.
LINGER_S = 1.0
LOOK_EVERY_S = 0.05

#: What waitress refuses itself: code and detail by status. Only photos may be large, so 413
#: speaks of a photo.
_REFUSALS = {
    408: (
        "request-timeout",
        "The request came in too slowly. Look at your line, and send it again.",
    ),
    413: ("reference-too-large", "This is larger than any photo that is accepted here."),
    431: ("headers-too-large", "The headers of the request are too large."),
}


class _Refusal:
    """A request that waitress refuses before the application sees it, as a problem."""

    def __init__(self, error: Any) -> None:
        self.code = int(error.code)
        self.name, self.detail = _REFUSALS.get(self.code, ("bad-request", str(error.body)))

    def to_response(self, _ident: str | None = None) -> tuple[str, list[tuple[str, str]], bytes]:
        """Status line, headers and body."""
        document = problems.document(self.code, self.name, self.detail)
        headers = [("Content-Type", problems.MEDIA_TYPE), ("X-Content-Type-Options", "nosniff")]
        return f"{self.code} {HTTPStatus(self.code).phrase}", headers, json.dumps(document).encode()


class _RefusalTask(ErrorTask):  # type: ignore[misc]  # waitress has no types.
    def execute(self) -> None:
        self.request.error = _Refusal(self.request.error)
        super().execute()


class _Channel(Channel):
    error_task_class = _RefusalTask


class _Server(Server):
    channel_class = _Channel


def serve(
    app: Flask,
    settings: Settings,
    listener: socket.socket,
    stop: threading.Event,
    each_round: Callable[[], None] = lambda: None,
) -> None:
    """Answer requests until `stop` is set.

    Args:
        app: The application.
        settings: Of this process.
        listener: A socket that listens; processes may share it.
        stop: Set when no more requests are to be accepted.
        each_round: Called by the server's loop at least once a second.
    """
    # The server's loop does little but must do it soon, and waits for each running thread.
    sys.setswitchinterval(SWITCH_S)
    # waitress keeps large bodies in the temporary folder: make that the data volume's.
    tempfile.tempdir = str(app.config[SPOOL_FOLDER])
    server = _make_server(app, settings, listener)
    server.each_round = each_round
    context: ServiceContext = app.extensions[EXTENSION]
    closing_thread = threading.Thread(
        target=_close_gently, args=(server, stop, context), name="closing", daemon=True
    )
    closing_thread.start()
    Forgetting(context).start()
    server.run()
    server.task_dispatcher.shutdown()
    context.intake.close()
    context.ledger.close()


def _make_server(app: Flask, settings: Settings, listener: socket.socket) -> Server:
    """The server, which listens but does not answer yet."""
    most = make_room_for_handles()
    adjustments = Adjustments(
        sockets=[listener],
        # The application answers slightly too large bodies itself, with the photo's limit;
        # far too large ones are refused before they are read.
        max_request_body_size=settings.max_upload_bytes + 4 * MULTIPART_ROOM_BYTES,
        # `Server.most` closes idle connections to accept new ones; waitress's own limit would
        # accept none, so it is set higher.
        connection_limit=2 * most,
        # select, used where there is no poll, cannot handle more than a thousand connections.
        asyncore_use_poll=True,
        ident=None,
        # Lets event streams notice that the client has gone.
        channel_request_lookahead=1,
        # Without a trusted proxy nothing reads them, but `http.host_guard` sees from them that
        # there is a proxy.
        clear_untrusted_proxy_headers=bool(settings.trusted_proxy),
        **_proxy(settings),
    )
    server = _Server(
        app,
        map={},
        _sock=listener,
        dispatcher=SlotDispatcher(REQUEST_THREADS + settings.max_event_streams),
        adj=adjustments,
        sockinfo=(listener.family, listener.type, listener.proto, listener.getsockname()),
        bind_socket=False,
    )
    server.application = note_peer(server.application)
    server.most = most
    return server


def _proxy(settings: Settings) -> dict[str, Any]:
    """Settings of waitress for the trusted proxy; none where there is no such proxy."""
    if not settings.trusted_proxy:
        return {}
    return {"trusted_proxy": settings.trusted_proxy, "trusted_proxy_headers": set(_PROXY_HEADERS)}


def _close_gently(server: Any, stop: threading.Event, context: ServiceContext) -> None:
    """Wait for `stop`, accept no more requests, and close the server after the last answer.

    The server's own loop sends the answers, so it goes on meanwhile; it ends once no connection
    is open.
    """
    stop.wait()
    context.closing.set()
    until, ended = time.monotonic() + GRACE_S, threading.Event()

    def close_when_idle() -> None:
        server.accepting = False
        channels = list(server.active_channels.values())
        now = time.monotonic()
        if now < until and any(_in_use(one, now) for one in channels):
            return
        for channel in channels:
            channel.handle_close()
        server.close()
        ended.set()

    while not ended.wait(LOOK_EVERY_S):
        # The trigger runs it in the loop's thread, where it is safe.
        server.trigger.pull_trigger(close_when_idle)


def _in_use(channel: Channel, now: float) -> bool:
    """Whether a request is on this connection, or may be about to come."""
    return channel.stage is not Stage.IDLE or channel.idle_s(now) < LINGER_S


def main(arguments: Sequence[str] | None = None) -> int:
    """Run until asked to stop; the exit code is 3 when this machine is not ready."""
    arguments = sys.argv[1:] if arguments is None else arguments
    stop = threading.Event()
    for name in ("SIGTERM", "SIGINT", "SIGBREAK"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), lambda *_: stop.set())
    if "--watch-parent" in arguments:
        when_input_closes(stop.set)
    try:
        settings = Settings.from_env()
        log_to_stderr(settings.log_level)
        app = create_app(settings)
        app.extensions[EXTENSION].intake.warm()
        with closing(listen(settings)) as listener:
            serve(app, settings, listener, stop)
    except SetupError as error:
        sys.stderr.write(f"{error.detail}\n")
        return NOT_READY
    return 0


if __name__ == "__main__":
    sys.exit(main())
