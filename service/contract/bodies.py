"""Bodies and parameters of the document: tables, forms, descriptions, what may be added."""

from __future__ import annotations

from typing import Any

from service.contract.refusals import operations
from service.contract.schemas import named, nodes, reachable
from service.http.documented import BINARY
from service.http.resources import TABLES

Json = dict[str, Any]
#: The field of a schema that a bare table is read into.
_TABLE = "table"
#: The mark of a table that is sent bare only, and never in JSON.
BARE = "x-bare"
_PARAMETERS = {
    "reference_id": "The id of a photo.",
    "pack_id": "The id of a pack.",
    "class_id": "The id of a class.",
    "student_id": "The id of a student.",
    "batch_id": "The id of a batch.",
    "site_id": "The id of a course site.",
    "key_id": "The id of a key or sign-in, which is not the key itself.",
    "printer_id": "The id of a printer.",
    "session_id": "The id of a session, which is not its token.",
    "tutor_id": "The id of a tutor.",
    "webhook_id": "The id of a webhook.",
    "message_id": "The id of a message to a webhook: its `webhook-id`.",
    "external_id": "Your own id of the person, percent-encoded: 1 to 255 characters.",
    "limit": "How many rows at most.",
    "label": "The label of a sheet: its row and its place from the left, `2-3` for sheet 2·3.",
    "sheet_format": "The PWG 5101.1 name of a sheet format.",
    "code": "The code.",
    "title": "The title of all packs that have none of their own.",
    "format": "The PWG 5101.1 name of a sheet format.",
    "file_name": "The file's name, as it stands in the link.",
    "Idempotency-Key": "The same key with the same request makes one thing and gives one answer. "
    "A UUID is a good one.",
}


def add_tables(contract: Json) -> None:
    """Document the bare tables that a body may be instead of JSON."""
    for _, _, operation in operations(contract):
        content = operation.get("requestBody", {}).get("content", {})
        name = named(content.get("application/json", {}).get("schema", {}).get("$ref", ""))
        schema = contract["components"]["schemas"].get(name, {})
        if _TABLE not in schema.get("properties", {}):
            continue
        told = schema["properties"][_TABLE].get("description", "A table.")
        for media_type in sorted(TABLES):
            content[media_type] = {"schema": {**BINARY, "description": told}}
    for schema in contract["components"]["schemas"].values():
        if schema.get("properties", {}).get(_TABLE, {}).get(BARE):
            del schema["properties"][_TABLE]


def describe_parameters(contract: Json) -> None:
    """Describe each parameter; none can be null, since an address cannot say it."""
    for methods in contract["paths"].values():
        for part in methods.values():
            for one in part if isinstance(part, list) else part.get("parameters", ()):
                _describe(one)


def _describe(parameter: Json) -> None:
    if parameter["name"] in _PARAMETERS:
        parameter.setdefault("description", _PARAMETERS[parameter["name"]])
    schema = parameter["schema"]
    if isinstance(schema.get("type"), list):
        (schema["type"],) = set(schema["type"]) - {"null"}
    if schema.get("default", 0) is None:
        del schema["default"]


def say_what_may_be_added(contract: Json) -> None:
    """Keep `additionalProperties: false` where the service refuses what it does not know.

    That is in bodies of requests. Answers may have more fields in time, so nothing that is only
    in answers says that it has no others.
    """
    schemas = contract["components"]["schemas"]
    bodies = [operation.get("requestBody") for _, _, operation in operations(contract)]
    sent = reachable(contract, bodies)
    for name in schemas.keys() - sent:
        for node in nodes(schemas[name]):
            if node.get("additionalProperties") is False:
                del node["additionalProperties"]
