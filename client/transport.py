"""One request to the service: time limits, tries, and answers turned into values or errors.

What may be tried again is decided by meaning and not by luck: calls that change nothing,
calls that end the same however often they are made (RFC 9110, 9.2.2), and calls that carry
an idempotency key. Everything else is sent once.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlsplit

import requests

from client.backoff import LONGEST_RETRY_AFTER_S, NOT_NOW, retry_after, waits
from client.errors import (
    AnswerUnreadable,
    ClientError,
    ServiceUnreachable,
    error_of_problem,
)
from client.multipart import PhotoBody

#: Seconds to connect, and seconds without a byte.
Timeout = tuple[float, float]
TIMEOUT_S: Timeout = (5.0, 60.0)
TRIES = 4
_FIRST_ERROR = 400
#: Faults on the way that may be gone the next time.
_PASSING = (requests.ConnectionError, requests.Timeout, requests.exceptions.ChunkedEncodingError)
_IN_PROGRESS = "idempotency-key-in-progress"


@dataclass(frozen=True, kw_only=True)
class Call:
    """What is asked: method, path below the base address, and what goes along.

    Attributes:
        table: A table as its file's bytes; sent bare, as text/csv.
        key: Idempotency key; a call that carries one may be tried again.
        repeatable: Whether a call without a key may be tried again: it changes nothing, or
            ends the same however often it is made.
        stream: Leave the answer's body to be read by the caller.
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
        """Whether the call can be sent again without doing anything twice."""
        return self.key is not None or self.repeatable


class Transport:
    """Sends calls to one service; `sleep` is replaced in tests."""

    def __init__(
        self,
        base_url: str,
        session: requests.Session | None,
        timeout: Timeout,
        *,
        access_key: str | None = None,
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

    def send(self, call: Call) -> requests.Response:
        """The answer to a call, below 300.

        Raises:
            ClientError: Of the family that the answer's code belongs to, or
                ServiceUnreachable, or AnswerUnreadable.
        """
        pauses = waits(TRIES if call.may_repeat else 1)
        while True:
            answer = self._once(call)
            pause = _pause(answer, next(pauses, None))
            if pause is None:
                return self._accepted(answer)
            if isinstance(answer, requests.Response):
                # What is left unread of a stream would keep its connection from the next try.
                answer.close()
            self.sleep(pause)

    def json(self, call: Call) -> Any:
        """The same, as what a JSON reader makes of it.

        Raises:
            ClientError: As `send` does.
        """
        response = self.send(call)
        try:
            return response.json()
        except requests.exceptions.JSONDecodeError as error:
            raise self._stranger(response) from error

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
        """Who asks (RFC 6750)."""
        return {"Authorization": f"Bearer {self._access_key}"} if self._access_key else {}

    def _accepted(self, answer: requests.Response | requests.RequestException) -> requests.Response:
        if isinstance(answer, requests.RequestException):
            raise self._silence(answer) from answer
        if answer.status_code >= _FIRST_ERROR:
            raise self._refusal(answer)
        if answer.is_redirect:
            place = answer.headers["Location"]
            message = f"{self.base_url} sends on to {place}: give that address instead."
            raise AnswerUnreadable(message, status=answer.status_code)
        return answer

    def _silence(self, error: requests.RequestException) -> ServiceUnreachable:
        if isinstance(error, requests.Timeout):
            message = f"{self.base_url} did not answer in time. Is the service overloaded?"
        else:
            message = f"Nothing answers at {self.base_url}. Start the service with: ricalco serve"
        return ServiceUnreachable(message)

    def _refusal(self, answer: requests.Response) -> ClientError:
        try:
            problem = answer.json()
        except requests.RequestException:
            problem = None
        if isinstance(problem, dict) and "code" in problem:
            return error_of_problem(problem, answer.status_code)
        return self._stranger(answer)

    def _stranger(self, answer: requests.Response) -> AnswerUnreadable:
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


def _pause(
    answer: requests.Response | requests.RequestException, pause: float | None
) -> float | None:
    """Seconds to wait before the next try; None where the answer is final."""
    if pause is None:
        return None
    if isinstance(answer, requests.RequestException):
        return pause if isinstance(answer, _PASSING) else None
    if answer.status_code not in NOT_NOW and not _under_way(answer):
        return None
    asked = retry_after(answer.headers.get("Retry-After")) or 0.0
    return max(pause, asked) if asked <= LONGEST_RETRY_AFTER_S else None


def _under_way(answer: requests.Response) -> bool:
    """Whether the first request with this key is still being worked on."""
    return answer.status_code == requests.codes.conflict and _IN_PROGRESS in answer.text
