"""The same request, sent twice, makes one thing.

After the IETF draft "The Idempotency-Key HTTP Header Field". The first request holds the key
under a lease, and stores its answer in the transaction that makes the thing; the same request
sent again gets that answer, with the same status and body. A request that fails stores
nothing, so that it can be tried again; the lease of one that dies ends within seconds.
"""

from __future__ import annotations

import hashlib
import json
import logging
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import IO, Any

from flask import Response, request

from service.http.answers.json_responses import to_json
from service.runtime.context import get_context, owner_id
from worker.errors import RicalcoError
from worker.store.ledger import HeldKey, IdempotentAnswer, Replay

_LOG = logging.getLogger(__name__)
BLOCK_BYTES = 1 << 20
#: The header of an answer that was given before; a boolean (RFC 9651, 3.3.6).
REPLAYED = "Idempotency-Replayed"


@dataclass(frozen=True, kw_only=True)
class IdempotentCall:
    """A request that may come more than once.

    Attributes:
        status: The HTTP status of its answer.
        document: Turns the row that was made into the body of the answer.
        fresh: The key that is held; None where the request has none.
        replayed: The answer that was given before; the view returns it and makes nothing.
    """

    status: int
    document: Callable[[Any], dict[str, Any]]
    fresh: HeldKey | None = None
    replayed: Response | None = None

    @property
    def kept_answer(self) -> IdempotentAnswer | None:
        """What the ledger keeps in the transaction that writes the row."""
        return (
            None
            if self.fresh is None
            else IdempotentAnswer(held_key=self.fresh, answer=self._answer)
        )

    def respond(self, row: Any) -> Response:
        """The answer to the first request."""
        return _response(*self._answer(row))

    def _answer(self, row: Any) -> tuple[int, str]:
        return self.status, to_json(self.document(row))


def fingerprint_of_body() -> str:
    """What distinguishes this request from others: its path and a hash of its body."""
    return _fingerprint(request.path)


def fingerprint_with_query() -> str:
    """The same where the query says a part of what is made."""
    return _fingerprint(request.full_path)


def _fingerprint(path: str) -> str:
    return f"{request.method} {path} {hashlib.sha256(request.get_data()).hexdigest()}"


@contextmanager
def idempotent(
    key: str | None,
    fingerprint: Callable[[], str] = fingerprint_of_body,
    *,
    status: int,
    document: Callable[[Any], dict[str, Any]],
) -> Iterator[IdempotentCall]:
    """Hold the key while the block runs; release it when the block fails.

    Args:
        key: The request's Idempotency-Key, or None.
        fingerprint: Computes what distinguishes requests; called only when there is a key.
        status: The HTTP status of the answer.
        document: Turns the row that is made into the body of the answer.

    Raises:
        KeyReused: Another request had the same key before.
        KeyInProgress: The first request is still under way.
    """
    if key is None:
        yield IdempotentCall(status=status, document=document)
        return
    begun = get_context().ledger.begin(owner_id(), key, fingerprint())
    if isinstance(begun, Replay):
        again = _response(begun.status, begun.body)
        again.headers[REPLAYED] = "?1"
        yield IdempotentCall(status=status, document=document, replayed=again)
        return
    with get_context().key_holds.held(begun):
        try:
            yield IdempotentCall(status=status, document=document, fresh=begun)
        except BaseException:
            _abandon(begun)
            raise


def _abandon(begun: HeldKey) -> None:
    """Release the key; where the ledger cannot be reached, its lease ends in a moment."""
    try:
        get_context().ledger.abandon(begun)
    except RicalcoError as error:
        _LOG.warning("An idempotency key is not given back: %s", error)


def fingerprint_of_file(call: str, file: IO[bytes]) -> str:
    """The call and a hash of a photo alone: the form around it differs with every attempt."""
    digest = hashlib.sha256()
    file.seek(0)
    while block := file.read(BLOCK_BYTES):
        digest.update(block)
    file.seek(0)
    return f"{call} {digest.hexdigest()}"


def _response(status: int, body: str) -> Response:
    location = json.loads(body)["links"]["self"]
    response = Response(body, status=status, content_type="application/json")
    response.headers["Location"] = location
    return response
