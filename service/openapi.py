"""The OpenAPI 3.1 document, generated from the schemas that the views really use.

Three things that it cannot derive are added here: the form of errors, the patterns of ids in
paths, and that a crop is one of two kinds of object.
"""

from __future__ import annotations

import hashlib
from functools import cached_property
from typing import Any

from apispec.ext.marshmallow import MarshmallowPlugin
from apispec.ext.marshmallow.openapi import OpenAPIConverter
from flask import Flask, Response
from flask_smorest import Api  # type: ignore[import-untyped]  # It has no types.
from flask_smorest.spec import FlaskPlugin  # type: ignore[import-untyped]  # It has no types.
from marshmallow import Schema, fields
from werkzeug.routing import BaseConverter

from service.access.cookies import SIGN_IN
from service.contract.finish import finish
from service.http.answers import problems
from service.http.answers.downloads import files
from service.http.answers.json_responses import to_json
from service.http.requests.path_parts import CONVERTERS
from service.http.schemas import ProblemSchema
from worker.spec.json import CropField
from worker.spec.json.spec_schema import CropSchema, FocusSchema

VERSION = "1"
DESCRIPTION = (
    "A photo in, sheets out that join to exactly the size of the support. Lengths are "
    "millimetres. Errors are problem details (RFC 9457) with a stable `code`."
)


#: How a key is sent; on a loopback address without tutors none is needed.
KEYS = {
    "bearer": {"type": "http", "scheme": "bearer"},
    "cookie": {"type": "apiKey", "in": "cookie", "name": SIGN_IN},
}


class Document(Api):  # type: ignore[misc]  # Its base has no types.
    """The API with its errors documented as they are."""

    ERROR_SCHEMA = ProblemSchema

    def _register_responses(self) -> None:
        """Document errors as problem details; the base would call them plain JSON."""
        content = {problems.MEDIA_TYPE: {"schema": self.ERROR_SCHEMA}}
        problem = {"description": "A problem (RFC 9457).", "content": content}
        self.spec.components.schema("Problem", schema=self.ERROR_SCHEMA)
        self.spec.components.response("DEFAULT_ERROR", problem, lazy=True)
        self.spec.components.response("UNPROCESSABLE_ENTITY", problem, lazy=True)

    def _register_error_handlers(self) -> None:
        """Register none: `service.http.answers.problems` handles errors."""

    @cached_property
    def _finished(self) -> tuple[bytes, str]:
        """The document as JSON, with its entity tag; made when it is first asked for."""
        kinds = {name: key[0] for key, name in self.ma_plugin.converter.refs.items()}
        body = to_json(finish(self.spec.to_dict(), kinds)).encode()
        return body, hashlib.sha256(body).hexdigest()[:32]

    def _openapi_json(self) -> Response:
        """Send the document, or 304 where it is there already."""
        body, tag = self._finished
        if files.fresh_in_cache(tag):
            return files.not_modified(tag)
        response = Response(body, content_type="application/json")
        response.set_etag(tag)
        response.headers["Cache-Control"] = files.CACHE_CONTROL
        return response


def crop_properties(
    converter: OpenAPIConverter, field: fields.Field[Any], **_: Any
) -> dict[str, Any]:
    """A crop is an area, a focus, or null."""
    if not isinstance(field, CropField):
        return {}
    kinds = [_resolve(converter, kind) for kind in (CropSchema, FocusSchema)]
    return {"oneOf": [*kinds, {"type": "null"}]}


def _resolve(converter: Any, kind: type[Schema]) -> Any:
    """The reference to a schema; apispec has no types here."""
    return converter.resolve_nested_schema(kind)


def make_document(app: Flask) -> Document:
    """Add the API to `app`; blueprints are registered on the result."""
    app.url_map.converters.update(CONVERTERS)
    app.config.update(
        API_TITLE="Ricalco",
        API_VERSION=VERSION,
        OPENAPI_VERSION="3.1.0",
        OPENAPI_URL_PREFIX="/v1",
        API_SPEC_OPTIONS={
            "info": {
                "description": DESCRIPTION,
                "contact": {"name": "Whoever runs this service"},
                "license": {"name": "MIT", "identifier": "MIT"},
            },
            "servers": [{"url": "/", "description": "The service that sent this document."}],
            "components": {"securitySchemes": KEYS},
            # Either is enough; views that need no key say so themselves.
            "security": [{name: []} for name in KEYS],
        },
    )
    plugin = MarshmallowPlugin()
    document = Document(
        app, spec_kwargs={"marshmallow_plugin": plugin, "flask_plugin": FlaskPlugin()}
    )
    converter: Any = plugin.converter
    converter.add_attribute_function(crop_properties)
    for kind in CONVERTERS.values():
        document.register_converter(kind, _pattern)
    return document


def _pattern(converter: BaseConverter) -> dict[str, str]:
    return {"type": "string", "pattern": f"^{converter.regex}$"}
