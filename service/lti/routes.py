"""The addresses that learning platforms and their launches use, below `/lti`.

They answer only where the extra `ricalco[lti]` is installed; nothing of it is loaded before
somebody comes. Platforms send browsers here by forms of their own pages, so these addresses take
requests of other origins: what makes sure of a launch is in `service.lti.launch`.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from importlib.util import find_spec
from typing import Any, Final, cast

from flask import Flask, Response, g, request

from service.http.answers import problems
from service.lti import pages
from service.lti.words import words_for
from service.page import Page
from worker.errors import NotFound, RicalcoError

PACKAGE: Final = "joserfc"
#: Where a login begins, where it ends; what of ours a platform fetches; what our pages ask.
LOGIN, LAUNCH, JWKS = "/lti/login", "/lti/launch", "/lti/jwks"
RENEWALS, SIGN_IN = "/lti/renewals", "/lti/sign-in"
ROSTER = "/lti/roster"
#: What a gradebook links to; it shows nothing by itself, and needs no extra.
MAP = "/lti/map/<pack_id:pack_id>"


def serve_lti(app: Flask, files: Page | None) -> None:
    """Serve them; `files` are those of the page that students come to."""

    def show_map(pack_id: str) -> Response:
        return pages.for_map(words_for(files), pack_id)

    app.add_url_rule(MAP, endpoint="lti_map", view_func=show_map)
    for path, methods, name in (
        (LOGIN, ("GET", "POST"), "login"),
        (LAUNCH, ("POST",), "launch"),
        (JWKS, ("GET",), "jwks"),
        (RENEWALS, ("POST",), "renewals"),
        (SIGN_IN, ("POST",), "sign_in"),
        (ROSTER, ("POST",), "roster"),
    ):
        view = _view(name, files)
        app.add_url_rule(path, endpoint=f"lti_{name}", view_func=view, methods=[*methods])


def _view(name: str, files: Page | None) -> Callable[[], Response]:
    def view() -> Response:
        try:
            return cast("Response", _adapter(name)(files))
        except RicalcoError as error:
            # It is a person who sees this, in a frame of the course.
            if files is None or not _wants_html():
                raise
            answer = problems.of_error(error)
            shown = pages.refusal(words_for(files), error, g.get("lti_platform"))
            shown.status_code = answer.status_code
            return shown

    return view


def _wants_html() -> bool:
    """Whether a browser asks, to show the answer to somebody."""
    known = ("application/json", "text/html")
    return request.accept_mimetypes.best_match(known) == "text/html"


def _adapter(name: str) -> Any:
    """The view behind an address.

    Raises:
        NotFound: The extra is not installed.
    """
    if find_spec(PACKAGE) is None:
        raise NotFound(
            "Launches from learning platforms are an extra: pip install 'ricalco[lti]', and start "
            "the service again."
        )
    return getattr(import_module("service.lti.views"), name)
