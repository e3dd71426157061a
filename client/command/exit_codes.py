"""Exit codes of the command, and how its errors are printed."""

from __future__ import annotations

import json

import click

from client.command.job.specs import option_of
from ricalco_client.errors import (
    ClientError,
    MachineNotReady,
    PhotoRefused,
    ReadingRefused,
    RequestRefused,
    ServiceError,
    SpecRefused,
)
from worker.errors import PhotoError, ReadingError, RicalcoError, SetupError, SpecError

DONE = 0
FAILED = 1
USAGE = 2
NOT_READY = 3
NO_SERVICE = 4
BAD_PHOTO = 5
INTERRUPTED = 130
ENDED = 143

#: Printed by `ricalco --help`; a test holds it together with the constants above.
EXIT_CODES = {
    DONE: "done",
    FAILED: "the job failed; the line on standard error says why",
    USAGE: "wrong usage, a size that cannot be read, or a job that cannot be done as asked",
    NOT_READY: "this machine, or the service's, is not ready: run ricalco check",
    NO_SERVICE: "the service cannot be reached, or its answer cannot be used",
    BAD_PHOTO: "the photo cannot be used",
    INTERRUPTED: "stopped with Ctrl-C (143: with SIGTERM); no half-written file is left",
}

_FAMILIES: tuple[tuple[type[Exception], int], ...] = (
    (SpecError, USAGE),
    (SpecRefused, USAGE),
    (ReadingError, USAGE),
    (ReadingRefused, USAGE),
    (RequestRefused, FAILED),
    (SetupError, NOT_READY),
    (MachineNotReady, NOT_READY),
    (ServiceError, NO_SERVICE),
    (PhotoError, BAD_PHOTO),
    (PhotoRefused, BAD_PHOTO),
)

#: Errors of both trees carry `code`, `detail` and `field`.
ReportedError = RicalcoError | ClientError


def exit_code(error: Exception) -> int:
    """The exit code of an error's family."""
    return next((code for family, code in _FAMILIES if isinstance(error, family)), FAILED)


def print_error(error: ReportedError, *, as_json: bool) -> None:
    """Print an error on standard error: one line for people, one JSON object for scripts."""
    if as_json:
        document = {"code": error.code, "detail": error.detail, "field": error.field}
        click.echo(json.dumps(document, ensure_ascii=False), err=True)
        return
    option = option_of(error.field)
    line = " ".join(error.detail.split())
    click.echo(f"ricalco: {option + ': ' if option else ''}{line}", err=True)


def print_usage_error(error: click.ClickException, *, as_json: bool) -> None:
    """Print a usage error of the command line on standard error."""
    if as_json:
        document = {"code": "usage", "detail": error.format_message(), "field": None}
        click.echo(json.dumps(document, ensure_ascii=False), err=True)
        return
    command = "ricalco"
    if isinstance(error, click.UsageError) and error.ctx is not None:
        command = error.ctx.command_path
    line = " ".join(error.format_message().split())
    click.echo(f"ricalco: {line} (More: {command} --help)", err=True)
