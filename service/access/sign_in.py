"""Browsers that are signed in: each with a key of its own, which signing out withdraws.

The key that somebody was given is not kept in the browser. So a browser is signed out
without touching other devices, a lost one is withdrawn from another, and whoever withdraws
a key signs out the browsers that came in with it.
"""

from __future__ import annotations

from flask import Response, g

from service.access.cookies import SIGN_IN, forget_sign_in, keep_sign_in, read_cookie
from service.runtime.context import get_context
from worker.store.ledger import DAY_S, AccessKey

#: Packs and the page's state lie in the browser's storage, PDFs and pictures in its cache.
#: Not "cookies": that would reach every other host of the domain, and ours is deleted by name.
_CLEARED = '"cache", "storage"'


def begin(response: Response, key_id: str) -> Response:
    """Sign this browser in with a key; whoever was signed in here is signed out."""
    end_here()
    return _keep(response, get_context().ledger.people.sign_in(key_id).key)


def go_on(response: Response) -> Response:
    """Have the browser keep its sign-in for another while, if that is how it asked.

    One that keeps the key itself, as browsers did before they had sign-ins, gets one.
    """
    access: AccessKey | None = g.get("access")
    cookie = read_cookie(SIGN_IN)
    if access is None or cookie is None or not g.get("by_cookie"):
        return response
    return _keep(response, cookie) if access.is_sign_in else begin(response, access.id)


def end_here() -> AccessKey | None:
    """Withdraw this browser's sign-in; None where there was none."""
    cookie = read_cookie(SIGN_IN)
    return None if cookie is None else get_context().ledger.people.sign_out(cookie)


def forget(response: Response) -> Response:
    """Have the browser forget its sign-in, and what it keeps of whoever was here.

    The header is heeded over TLS and on this machine only (Clear Site Data, W3C): the page
    deletes the same by itself.
    """
    response.headers["Clear-Site-Data"] = _CLEARED
    return forget_sign_in(response)


def _keep(response: Response, key: str) -> Response:
    return keep_sign_in(response, key, round(get_context().settings.sign_in_days * DAY_S))
