"""Blueprints of views that take a spec: a student's starts from their class's defaults.

The defaults are merged in between reading the body and loading it by a schema, so that no
schema has to know who asks.
"""

from __future__ import annotations

from typing import Any

import flask
from marshmallow import Schema

from service.access.class_limits import with_class_defaults
from service.http.resources import Resources, StrictParser


class SpecParser(StrictParser):
    """Completes the spec in a JSON body before a schema loads it."""

    def pre_load(
        self,
        location_data: Any,
        *,
        schema: Schema,  # noqa: ARG002 -- The signature is the base's.
        req: flask.Request,  # noqa: ARG002
        location: str,
    ) -> Any:
        """The body with defaults and language in it; other parts of the request as they are."""
        return with_class_defaults(location_data) if location == "json" else location_data


class SpecResources(Resources):
    """A blueprint in whose bodies `spec` starts from the defaults of the student's class."""

    ARGUMENTS_PARSER = SpecParser()
