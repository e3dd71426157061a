"""Checks the parameters of an address: a name that a call does not know is refused.

A misspelt `cover=true` that is silently ignored prints thirty packs without covers. So is a
parameter that comes twice, of which one would be ignored. Which names a view knows is read from
the schemas on it, once.
"""

from __future__ import annotations

from flask import Flask, request
from marshmallow import Schema

from service.http.resources import request_invalid

_UNKNOWN = "This call knows no such parameter."
_TWICE = "Give this parameter once."


def check_queries(app: Flask) -> None:
    """Check the query of each request to a blueprint's view before the view is called.

    Pages are no views of a blueprint: browsers and messengers add parameters of their own to
    links that people send each other.
    """
    known: dict[str, frozenset[str]] = {}

    @app.before_request
    def check() -> None:
        endpoint = request.endpoint
        if endpoint is None or "." not in endpoint or not request.args:
            return
        if endpoint not in known:
            known[endpoint] = names_of(app.view_functions[endpoint])
        _check(known[endpoint])


def names_of(view: object) -> frozenset[str]:
    """The names of the parameters that the schemas on a view read from the query."""
    arguments = getattr(view, "_apidoc", {}).get("arguments", {}).get("parameters", ())
    schemas: list[type[Schema]] = [one["schema"] for one in arguments if one["in"] == "query"]
    return frozenset(
        field.data_key or name for schema in schemas for name, field in schema().fields.items()
    )


def _check(known: frozenset[str]) -> None:
    """Check the query of this request.

    Raises:
        RequestInvalid: A parameter is unknown, or comes twice; names it.
    """
    wrong = {name: [_UNKNOWN] for name in request.args if name not in known}
    for name, values in request.args.lists():
        if len(values) > 1:
            wrong.setdefault(name, [_TWICE])
    if not wrong:
        return
    if known:
        told = f"{_UNKNOWN} It knows: {', '.join(sorted(known))}."
        wrong = {name: [told] if said == [_UNKNOWN] else said for name, said in wrong.items()}
    raise request_invalid(wrong)
