"""Every error is sent in one form: problem details (RFC 9457) with a stable `code`.

`STATUS` alone maps the project's errors to HTTP statuses; a test fails when an error class is
missing from it. `type` is the address of a page that explains the code, and `title` says the
same in one sentence; both come from `problem_words.json`, which has every code. The address has
no host, so that it is right under any name of the service (RFC 9457, 3.1.1 asks for the full
path then).
"""

from __future__ import annotations

import json
import logging
from http import HTTPStatus
from pathlib import Path
from typing import Any, Final

from flask import Flask, Response, g
from werkzeug.exceptions import HTTPException

from service.http import errors as service_errors
from service.http.logs.access_log import note_refusal
from worker import errors

MEDIA_TYPE = "application/problem+json"
_log = logging.getLogger("ricalco.service")

STATUS: dict[type[errors.RicalcoError], HTTPStatus] = {
    errors.RicalcoError: HTTPStatus.INTERNAL_SERVER_ERROR,
    errors.PhotoError: HTTPStatus.UNPROCESSABLE_ENTITY,
    errors.ReferenceEmpty: HTTPStatus.UNPROCESSABLE_ENTITY,
    errors.ReferenceType: HTTPStatus.UNSUPPORTED_MEDIA_TYPE,
    errors.ReferenceDamaged: HTTPStatus.UNPROCESSABLE_ENTITY,
    errors.ReferenceTooManyPixels: HTTPStatus.REQUEST_ENTITY_TOO_LARGE,
    errors.ReferenceTooLarge: HTTPStatus.REQUEST_ENTITY_TOO_LARGE,
    errors.ReferenceTooSmall: HTTPStatus.UNPROCESSABLE_ENTITY,
    errors.ReferenceTooComplex: HTTPStatus.UNPROCESSABLE_ENTITY,
    errors.ReferenceTooSlow: HTTPStatus.UNPROCESSABLE_ENTITY,
    errors.SpecError: HTTPStatus.UNPROCESSABLE_ENTITY,
    errors.SpecInvalid: HTTPStatus.UNPROCESSABLE_ENTITY,
    errors.SizeUnreadable: HTTPStatus.UNPROCESSABLE_ENTITY,
    errors.FormatUnknown: HTTPStatus.UNPROCESSABLE_ENTITY,
    errors.UsableAreaTooSmall: HTTPStatus.UNPROCESSABLE_ENTITY,
    errors.PictureTooSmall: HTTPStatus.UNPROCESSABLE_ENTITY,
    errors.TooManySheets: HTTPStatus.UNPROCESSABLE_ENTITY,
    errors.CropOutside: HTTPStatus.UNPROCESSABLE_ENTITY,
    errors.CropProportions: HTTPStatus.UNPROCESSABLE_ENTITY,
    errors.CornersUnusable: HTTPStatus.UNPROCESSABLE_ENTITY,
    errors.SpecFixed: HTTPStatus.UNPROCESSABLE_ENTITY,
    errors.ReadingError: HTTPStatus.UNPROCESSABLE_ENTITY,
    errors.PageFitting: HTTPStatus.UNPROCESSABLE_ENTITY,
    errors.ReadingImplausible: HTTPStatus.UNPROCESSABLE_ENTITY,
    errors.StateError: HTTPStatus.CONFLICT,
    errors.NotFound: HTTPStatus.NOT_FOUND,
    errors.NotReady: HTTPStatus.CONFLICT,
    errors.KeyReused: HTTPStatus.UNPROCESSABLE_ENTITY,
    errors.KeyInProgress: HTTPStatus.CONFLICT,
    errors.PapersError: HTTPStatus.UNPROCESSABLE_ENTITY,
    errors.TableUnreadable: HTTPStatus.UNPROCESSABLE_ENTITY,
    errors.TutorExists: HTTPStatus.CONFLICT,
    errors.ClassClosed: HTTPStatus.CONFLICT,
    errors.JoiningClosed: HTTPStatus.CONFLICT,
    errors.NotOnRoster: HTTPStatus.CONFLICT,
    errors.NameTaken: HTTPStatus.CONFLICT,
    errors.RosterFull: HTTPStatus.CONFLICT,
    errors.RosterChanged: HTTPStatus.CONFLICT,
    errors.LimitReached: HTTPStatus.CONFLICT,
    errors.WebhookDisabled: HTTPStatus.CONFLICT,
    errors.TooManyUnfinished: HTTPStatus.CONFLICT,
    errors.MakingError: HTTPStatus.CONFLICT,
    errors.Cancelled: HTTPStatus.CONFLICT,
    errors.GaveUp: HTTPStatus.CONFLICT,
    errors.ReferenceGone: HTTPStatus.GONE,
    errors.FilesMissing: HTTPStatus.GONE,
    errors.PlanOutdated: HTTPStatus.GONE,
    errors.PlanNewer: HTTPStatus.SERVICE_UNAVAILABLE,
    errors.TooSlow: HTTPStatus.SERVICE_UNAVAILABLE,
    errors.SetupError: HTTPStatus.SERVICE_UNAVAILABLE,
    errors.SettingInvalid: HTTPStatus.SERVICE_UNAVAILABLE,
    errors.FolderNotWritable: HTTPStatus.SERVICE_UNAVAILABLE,
    errors.PortTaken: HTTPStatus.SERVICE_UNAVAILABLE,
    errors.NoNetwork: HTTPStatus.SERVICE_UNAVAILABLE,
    errors.PlatformUnreachable: HTTPStatus.BAD_GATEWAY,
    errors.StorageFull: HTTPStatus.INSUFFICIENT_STORAGE,
    errors.StorageUnavailable: HTTPStatus.SERVICE_UNAVAILABLE,
    errors.LedgerUnavailable: HTTPStatus.SERVICE_UNAVAILABLE,
    errors.OutcomeUnknown: HTTPStatus.SERVICE_UNAVAILABLE,
    errors.LedgerDamaged: HTTPStatus.SERVICE_UNAVAILABLE,
    errors.LedgerOutdated: HTTPStatus.SERVICE_UNAVAILABLE,
    errors.BrokerUnavailable: HTTPStatus.SERVICE_UNAVAILABLE,
    errors.NoWorker: HTTPStatus.SERVICE_UNAVAILABLE,
    errors.ClockDiffers: HTTPStatus.SERVICE_UNAVAILABLE,
    service_errors.WaitsTooLong: HTTPStatus.SERVICE_UNAVAILABLE,
    service_errors.RequestError: HTTPStatus.BAD_REQUEST,
    service_errors.BodyUnreadable: HTTPStatus.BAD_REQUEST,
    service_errors.BodyTooLarge: HTTPStatus.REQUEST_ENTITY_TOO_LARGE,
    service_errors.BodyType: HTTPStatus.UNSUPPORTED_MEDIA_TYPE,
    service_errors.RequestInvalid: HTTPStatus.UNPROCESSABLE_ENTITY,
    service_errors.KeyInvalid: HTTPStatus.BAD_REQUEST,
    service_errors.HostRefused: HTTPStatus.MISDIRECTED_REQUEST,
    service_errors.OriginRefused: HTTPStatus.FORBIDDEN,
    service_errors.KeyMissing: HTTPStatus.UNAUTHORIZED,
    service_errors.KeyUnknown: HTTPStatus.UNAUTHORIZED,
    service_errors.NotAllowed: HTTPStatus.FORBIDDEN,
    service_errors.LinkOver: HTTPStatus.GONE,
    service_errors.ScopeMissing: HTTPStatus.FORBIDDEN,
    service_errors.SiteExpired: HTTPStatus.UNAUTHORIZED,
    service_errors.SessionEnded: HTTPStatus.UNAUTHORIZED,
    service_errors.LaunchRefused: HTTPStatus.FORBIDDEN,
    service_errors.Busy: HTTPStatus.SERVICE_UNAVAILABLE,
    service_errors.QueueFull: HTTPStatus.SERVICE_UNAVAILABLE,
    service_errors.TooManyTries: HTTPStatus.TOO_MANY_REQUESTS,
    service_errors.TooManySessions: HTTPStatus.TOO_MANY_REQUESTS,
}

#: Codes of errors of the HTTP layer itself, by status; other statuses have the code of 400 or 500.
HTTP_CODES = {
    400: "bad-request",
    404: "not-found",
    405: "method-not-allowed",
    408: "request-timeout",
    413: "body-too-large",
    415: "body-type",
    416: "requested-range-not-satisfiable",
    431: "headers-too-large",
    500: "internal-error",
}
#: The code of a service that is alive and cannot work.
NOT_READY: Final = "not-ready"
#: What each code means (`title`) and what to do (`advice`).
WORDS: Final[dict[str, dict[str, str]]] = json.loads(
    Path(__file__).with_name("problem_words.json").read_text(encoding="utf-8")
)
#: Every code that a problem, a failed pack or an item of a batch can have.
CODES: Final = tuple(WORDS)
#: Where the pages are that explain the codes.
EXPLAINED_AT: Final = "/v1/problems"
HTTP_DETAILS = {
    404: "There is nothing at this address.",
    405: "This address does not take this method; Allow says which it takes.",
    413: "The body is larger than any request to this service needs to be.",
    416: "The file has no such range of bytes.",
}
#: Seconds after which to ask again a machine that is not ready.
RETRY_S: Final = 30
_NOT_OURS = {"content-type", "content-length"}


_STATUS_OF: Final = {
    **{name: status for status, name in HTTP_CODES.items()},
    NOT_READY: int(HTTPStatus.SERVICE_UNAVAILABLE),
    **{kind.code: int(status) for kind, status in STATUS.items()},
}


def status_of(code: str) -> int:
    """The HTTP status that a code is sent with."""
    return _STATUS_OF[code]


def document(status: int, code: str, detail: str, **more: Any) -> dict[str, Any]:
    """The members of a problem; those of `more` that are None are left out."""
    members = {
        "type": f"{EXPLAINED_AT}/{code}",
        "title": WORDS[code]["title"],
        "status": int(status),
        "code": code,
        "detail": detail,
        **more,
    }
    return {name: value for name, value in members.items() if value is not None}


def problem(status: int, code: str, detail: str, **more: Any) -> Response:
    """A problem as a response."""
    g.problem_code = code
    if status >= HTTPStatus.INTERNAL_SERVER_ERROR:
        more = {"request_id": g.get("request_id"), **more}
    body = json.dumps(document(status, code, detail, **more))
    return Response(body, status=int(status), content_type=MEDIA_TYPE)


def of_error(error: errors.RicalcoError) -> Response:
    """The response for one of the project's errors."""
    status = STATUS[type(error)]
    note_refusal(error.code)
    busy = isinstance(error, service_errors.Busy)
    if status >= HTTPStatus.INTERNAL_SERVER_ERROR and not busy:
        _log.error("refused", extra={"facts": {"code": error.code}})
    fields = getattr(error, "fields", None)
    share = getattr(error, "readable_share", None)
    response = problem(
        status, error.code, error.detail, field=error.field, fields=fields, readable_share=share
    )
    if isinstance(error, service_errors.Busy):
        response.headers["Retry-After"] = str(error.retry_after_s)
    elif isinstance(error, errors.KeyInProgress):
        # Three attempts this far apart outlast the lease of a request that died.
        response.headers["Retry-After"] = "2"
    elif status == HTTPStatus.UNAUTHORIZED:
        # RFC 6750, 3: the scheme of the key that is needed.
        response.headers["WWW-Authenticate"] = "Bearer"
    elif isinstance(error, service_errors.ScopeMissing) and error.scope is not None:
        challenge = f'Bearer error="insufficient_scope", scope="{error.scope}"'
        response.headers["WWW-Authenticate"] = challenge
    elif status in {HTTPStatus.SERVICE_UNAVAILABLE, HTTPStatus.INSUFFICIENT_STORAGE}:
        response.headers["Retry-After"] = str(RETRY_S)
    return response


def of_http(error: HTTPException) -> Response:
    """The response for an error of the HTTP layer: 404, 405 (with `Allow`), 413, 416 and others."""
    status = error.code or HTTPStatus.INTERNAL_SERVER_ERROR
    phrase = HTTPStatus(status).phrase
    ours = status >= HTTPStatus.INTERNAL_SERVER_ERROR
    code = HTTP_CODES.get(status, HTTP_CODES[500 if ours else 400])
    detail = HTTP_DETAILS.get(status) or error.description or f"{phrase}."
    response = problem(status, code, detail)
    for name, value in error.get_headers():
        if name.lower() not in _NOT_OURS:
            response.headers[name] = value
    return response


def of_fault(error: Exception) -> Response:
    """The response for an unexpected exception: its trace goes to the log only."""
    _log.error("fault", exc_info=error)
    return problem(
        HTTPStatus.INTERNAL_SERVER_ERROR,
        "internal-error",
        "Something is wrong with the service, not with the request. Its log tells more.",
    )


def register(app: Flask) -> None:
    """Have every error of `app` answered with a problem."""
    app.register_error_handler(errors.RicalcoError, of_error)
    app.register_error_handler(HTTPException, of_http)
    app.register_error_handler(Exception, of_fault)
