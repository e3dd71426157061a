"""Holds answers to the OpenAPI document: each status, media type and code of a problem is in it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any
from weakref import WeakKeyDictionary

from flask import Flask
from werkzeug.exceptions import HTTPException
from werkzeug.test import TestResponse

Json = Mapping[str, Any]
PROBLEM = "application/problem+json"


_of_apps: WeakKeyDictionary[Flask, Json] = WeakKeyDictionary()
_of_routes: dict[frozenset[str], Json] = {}


def contract_of(app: Flask) -> Json:
    """The document of an application; those with the same routes have the same one."""
    if app not in _of_apps:
        routes = frozenset(f"{rule.endpoint} {rule.rule}" for rule in app.url_map.iter_rules())
        if routes not in _of_routes:
            _of_routes[routes] = app.test_client().get("/v1/openapi.json").get_json()
        _of_apps[app] = _of_routes[routes]
    return _of_apps[app]


def not_documented(app: Flask, answer: TestResponse) -> str:
    """What the document does not say of this answer, or nothing."""
    method = "get" if answer.request.method == "HEAD" else answer.request.method.lower()
    try:
        rule, _ = app.url_map.bind("").match(answer.request.path, method.upper(), return_rule=True)
    except HTTPException:
        # No call is at this address, or none by this method.
        return ""
    contract = contract_of(app)
    path = re.sub(r"<(?:\w+(?:\(.*?\))?:)?(\w+)>", r"{\1}", rule.rule)
    if path not in contract["paths"]:
        return ""
    return _difference(contract, contract["paths"][path][method], answer)


def _difference(contract: Json, operation: Json, answer: TestResponse) -> str:
    name, status = operation["operationId"], str(answer.status_code)
    if status not in operation["responses"]:
        return f"{name} answers {status}: {answer.text[:200]}"
    told = operation["responses"][status]
    if "$ref" in told:
        told = contract["components"]["responses"][told["$ref"].rpartition("/")[2]]
    content = told.get("content", {})
    if answer.mimetype == PROBLEM:
        code = answer.json["code"] if answer.json else ""
        known = content.get(PROBLEM, {}).get("examples", {})
        return "" if code in known else f"{name} answers {status} {code}"
    # A stream is not read here: who asks for it does that.
    if content and answer.mimetype not in {one.partition(";")[0] for one in content}:
        return f"{name} answers {status} as {answer.mimetype}"
    return ""
