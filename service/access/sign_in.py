"""Sign-ins of browsers: each has a key of its own, which signing out withdraws.

The browser does not keep the access key that a person was given. So signing out affects no
other device, a lost device can be signed out from another one, and withdrawing an access
key signs out every browser that signed in with it.
"""

from __future__ import annotations

import logging

from flask import Response, g

from service.access.cookies import SIGN_IN, forget_sign_in, keep_sign_in, read_cookie
from service.runtime.context import get_context
from worker.errors import LedgerUnavailable, StorageFull
from worker.store.ledger import DAY_S, AccessKey

_LOG = logging.getLogger(__name__)

#: The browser's storage has packs and the page's state, its cache PDFs and pictures. Not
#: "cookies": that deletes those of other hosts of the domain too; ours is deleted by name.
_CLEARED = '"cache", "storage"'


def begin(response: Response, key_id: str) -> Response:
    """Sign this browser in with an access key, and out whoever was signed in before."""
    end_here()
    return _keep(response, get_context().ledger.people.sign_in(key_id).key)


def begin_if_possible(response: Response, key_id: str) -> Response:
    """The same beside something that is done already, and must be answered in any case.

    Where the ledger cannot be written now, the answer leaves no cookie.
    """
    try:
        return begin(response, key_id)
    except (StorageFull, LedgerUnavailable) as error:
        _LOG.warning("A browser is not signed in: %s", error)
        return response


def go_on(response: Response) -> Response:
    """Renew the sign-in's cookie, where the request came with one.

    A browser whose cookie has an access key, as in earlier versions, gets a sign-in instead.
    """
    access: AccessKey | None = g.get("access")
    cookie = read_cookie(SIGN_IN)
    if access is None or cookie is None or not g.get("by_cookie"):
        return response
    if access.is_sign_in:
        return _keep(response, cookie)
    return begin_if_possible(response, access.id)


def end_here() -> AccessKey | None:
    """Withdraw this browser's sign-in; None where there was none."""
    cookie = read_cookie(SIGN_IN)
    return None if cookie is None else get_context().ledger.people.sign_out(cookie)


def forget(response: Response) -> Response:
    """Delete the sign-in's cookie, and the data that the browser keeps of the person.

    Browsers act on the header only over TLS and on this machine (Clear Site Data, W3C); the
    page deletes the same data by itself.
    """
    response.headers["Clear-Site-Data"] = _CLEARED
    return forget_sign_in(response)


def _keep(response: Response, key: str) -> Response:
    return keep_sign_in(response, key, round(get_context().settings.sign_in_days * DAY_S))
