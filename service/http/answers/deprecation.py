"""Announces that a call will go: `Deprecation` (RFC 9745), `Sunset` (RFC 8594), and what to use.

The headers are on every answer of such a call, also on a refusal, and the OpenAPI document marks
the call. What a version promises, and how long a call stays after it was announced, is in
README.md.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, TypeVar

from flask import Flask, Response, request
from flask_smorest import Blueprint  # type: ignore[import-untyped]  # It has no types.
from werkzeug.http import http_date

View = TypeVar("View", bound=Callable[..., Any])
_MARK = "_ricalco_deprecation"


@dataclass(frozen=True, kw_only=True)
class Deprecation:
    """When a call was or will be deprecated, when it goes, and what takes its place.

    Attributes:
        since: From when on nobody should begin to use it; with its zone.
        sunset: When it answers for the last time, not before `since`; None: that is not decided.
        instead: The path that takes its place, or None.
    """

    since: datetime
    sunset: datetime | None = None
    instead: str | None = None

    def __post_init__(self) -> None:
        """Check the order: RFC 9745, 4 wants no sunset before the deprecation."""
        if self.sunset is not None and self.sunset < self.since:
            raise ValueError("A call does not go before it is deprecated.")

    def headers(self) -> dict[str, str]:
        """The header fields, by name."""
        found = {"Deprecation": f"@{int(self.since.timestamp())}"}
        if self.sunset is not None:
            found["Sunset"] = http_date(self.sunset)
        if self.instead is not None:
            # RFC 5829, 3.4.
            found["Link"] = f'<{self.instead}>; rel="successor-version"'
        return found


def deprecated(
    *, since: datetime, sunset: datetime | None = None, instead: str | None = None
) -> Callable[[View], View]:
    """Mark a view as deprecated; it stands right below the method (`@blueprint.get`)."""
    told = Deprecation(since=since, sunset=sunset, instead=instead)

    def decorate(view: View) -> View:
        marked: View = Blueprint.doc(deprecated=True)(view)
        setattr(marked, _MARK, told)
        return marked

    return decorate


def announce_deprecations(app: Flask) -> None:
    """Add the headers to each answer of a deprecated call."""

    @app.after_request
    def announce(response: Response) -> Response:
        view = app.view_functions.get(request.endpoint or "")
        told: Deprecation | None = getattr(view, _MARK, None)
        if told is not None:
            for name, value in told.headers().items():
                response.headers.add(name, value)
        return response
