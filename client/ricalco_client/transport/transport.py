"""Requests to the service: timeouts, retries, and answers as values or errors.

Only safe and idempotent calls (RFC 9110, 9.2.2) and calls with an idempotency key are
repeated. Every other call is sent once.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlsplit

import requests

from ..errors import (
    AnswerUnreadable,
    ClientError,
    ServiceUnreachable,
    error_of_problem,
)
from ..values import JsonObject, unreadable
from .backoff import LONGEST_RETRY_AFTER_S, RETRY_STATUSES, backoff_times, retry_after
from .multipart import PhotoBody

#: Seconds to connect, and seconds between two bytes.
Timeout = tuple[float, float]
TIMEOUT_S: Timeout = (5.0, 60.0)
ATTEMPTS = 4
_FIRST_ERROR = 400
#: Faults of the connection that may have passed at the next attempt.
_TRANSIENT = (requests.ConnectionError, requests.Timeout, requests.exceptions.ChunkedEncodingError)
_IN_PROGRESS = "idempotency-key-in-progress"


@dataclass(frozen=True, kw_only=True)
class Call:
    """One request: method, path below the base address, body and headers.

    Attributes:
        table: The bytes of a table's file, sent as text/csv.
        key: Idempotency key; a call with one may be repeated.
        repeatable: Whether a call without a key is safe or idempotent, and may be repeated.
        stream: Whether the caller reads the body of the answer.
    """

    method: str
    path: str
    json: Any = None
    body: PhotoBody | None = None
    table: bytes | None = None
    key: str | None = None
    repeatable: bool = True
    stream: bool = False
    headers: Mapping[str, str] = field(default_factory=dict)

    @property
    def may_repeat(self) -> bool:
        """Whether the call can be repeated without doing anything twice."""
        return self.key is not None or self.repeatable


class Transport:
    """Sends calls to one service; `sleep` is replaced in tests."""

    def __init__(  # noqa: PLR0913 - where, how and as whom, each by name.
        self,
        base_url: str,
        session: requests.Session | None,
        timeout: Timeout,
        *,
        access_key: str | None = None,
        language: str | None = None,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        parts = urlsplit(base_url)
        if parts.scheme not in {"http", "https"} or not parts.hostname:
            message = f"'{base_url}' is no address of a service: those begin with http://"
            raise ServiceUnreachable(message)
        self.base_url = base_url.rstrip("/")
        self.sleep = sleep
        self._session = session or requests.Session()
        self._timeout = timeout
        self._access_key = access_key
        self._language = language

    def send(self, call: Call) -> requests.Response:
        """The answer to a call, with a status below 300.

        Raises:
            ClientError: Of the family of the answer's code.
            ServiceUnreachable: No answer came.
            AnswerUnreadable: The answer is no Ricalco service's.
        """
        pauses = backoff_times(ATTEMPTS if call.may_repeat else 1)
        while True:
            answer = self._once(call)
            pause = _wait_before_repeat(answer, next(pauses, None))
            if pause is None:
                return self._accepted(answer)
            if isinstance(answer, requests.Response):
                # A stream that is not read to its end would block its connection.
                answer.close()
            self.sleep(pause)

    def json(self, call: Call) -> Any:
        """The answer to a call, parsed as JSON.

        Raises:
            ClientError: As `send` does.
        """
        return self.answer(call)[1]

    def document(self, call: Call, what: str) -> JsonObject:
        """The JSON object with which a call is answered, which describes `what`.

        Raises:
            AnswerUnreadable: It is none.
            ClientError: As `send` does.
        """
        answer = self.json(call)
        if not isinstance(answer, dict):
            raise unreadable(what, TypeError(type(answer).__name__))
        return answer

    def answer(self, call: Call) -> tuple[requests.Response, Any]:
        """The answer to a call, and its JSON; None where the document has not changed (304).

        Raises:
            ClientError: As `send` does.
        """
        response = self.send(call)
        if response.status_code == requests.codes.not_modified:
            return response, None
        try:
            return response, response.json()
        except requests.exceptions.JSONDecodeError as error:
            raise self._unrecognised(response) from error

    def _once(self, call: Call) -> requests.Response | requests.RequestException:
        if call.body is not None:
            call.body.rewind()
        try:
            return self._session.request(
                call.method,
                self.base_url + call.path,
                json=call.json,
                data=call.body if call.table is None else call.table,
                headers={**self._identity(), **_headers(call)},
                timeout=self._timeout,
                stream=call.stream,
                allow_redirects=False,
            )
        except requests.RequestException as error:
            return error

    def _identity(self) -> dict[str, str]:
        """The access key as a bearer token (RFC 6750), and the language of what is printed."""
        given = {
            "Authorization": f"Bearer {self._access_key}" if self._access_key else None,
            "Accept-Language": self._language,
        }
        return {name: value for name, value in given.items() if value is not None}

    def _accepted(self, answer: requests.Response | requests.RequestException) -> requests.Response:
        if isinstance(answer, requests.RequestException):
            raise self._unreachable(answer) from answer
        if answer.status_code >= _FIRST_ERROR:
            raise self._error_answer(answer)
        if answer.is_redirect:
            location = answer.headers["Location"]
            message = f"{self.base_url} sends on to {location}: give that address instead."
            raise AnswerUnreadable(message, status=answer.status_code)
        return answer

    def _unreachable(self, error: requests.RequestException) -> ServiceUnreachable:
        if isinstance(error, requests.Timeout):
            message = f"{self.base_url} did not answer in time. Is the service overloaded?"
        else:
            message = f"Nothing answers at {self.base_url}. Start the service with: ricalco serve"
        return ServiceUnreachable(message)

    def _error_answer(self, answer: requests.Response) -> ClientError:
        try:
            problem = answer.json()
        except requests.RequestException:
            problem = None
        if isinstance(problem, dict) and "code" in problem:
            return error_of_problem(problem, answer.status_code)
        return self._unrecognised(answer)

    def _unrecognised(self, answer: requests.Response) -> AnswerUnreadable:
        message = (
            f"{self.base_url} answered {answer.status_code}, but not as a Ricalco service does: "
            "is the address right?"
        )
        return AnswerUnreadable(message, status=answer.status_code)


def _headers(call: Call) -> dict[str, str]:
    headers = {"Accept": "application/json, */*;q=0.5", **call.headers}
    if call.key is not None:
        headers["Idempotency-Key"] = call.key
    if call.body is not None:
        headers["Content-Type"] = call.body.content_type
    elif call.table is not None:
        headers["Content-Type"] = "text/csv"
    return headers


def _wait_before_repeat(
    answer: requests.Response | requests.RequestException, pause: float | None
) -> float | None:
    """Seconds to wait before the next attempt; None if the answer is final."""
    if pause is None:
        return None
    if isinstance(answer, requests.RequestException):
        return pause if isinstance(answer, _TRANSIENT) else None
    if answer.status_code not in RETRY_STATUSES and not _in_progress(answer):
        return None
    asked = retry_after(answer.headers.get("Retry-After")) or 0.0
    return max(pause, asked) if asked <= LONGEST_RETRY_AFTER_S else None


def _in_progress(answer: requests.Response) -> bool:
    """Whether the service still works on the first request with this key."""
    return answer.status_code == requests.codes.conflict and _IN_PROGRESS in answer.text
