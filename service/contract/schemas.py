"""The schemas of the document: descriptions, numbers in steps, and none that nothing uses."""

from __future__ import annotations

import inspect
from collections.abc import Iterator, Mapping
from typing import Any

from marshmallow import Schema

Json = dict[str, Any]
_SCHEMAS = "#/components/schemas/"
#: Fields that have one meaning wherever they are, by name.
_FIELDS = {
    "id": "The id, which nobody can guess.",
    "created_at": "When it was made.",
    "delete_after": "When it is deleted by itself; null: never.",
    "owner_id": "The id of the person whose it is.",
    "links": "Paths that belong to it, for the host that was asked.",
    "items": "One after another, in the order that the call says.",
    "width_mm": "Width in millimetres.",
    "height_mm": "Height in millimetres.",
    "width_px": "Width in pixels, upright.",
    "height_px": "Height in pixels, upright.",
    "code": "The stable name of the kind; tell kinds apart by it.",
    "detail": "One or two sentences for people: what it is, and what to do.",
    "title": "The title, on one line.",
    "name": "The name, on one line.",
    "state": "How far it is.",
    "progress": "How much of it is done.",
    "sheet_format": "A PWG 5101.1 name that `GET /v1/sheet-formats` lists.",
    "reference_id": "The id of a photo.",
    "student_id": "The id of a student.",
    "class_id": "The id of a class.",
    "pack_id": "The id of a pack.",
    "spec": "What is to be made of the photo.",
    "plan": "How the picture becomes sheets.",
    "self": "The path of the thing itself.",
}


def named(reference: str) -> str:
    """The name of a schema that a `$ref` leads to, or nothing."""
    return reference.removeprefix(_SCHEMAS) if reference.startswith(_SCHEMAS) else ""


def nodes(part: Any) -> Iterator[Json]:
    """All objects in a part of the document, the outer ones first."""
    if isinstance(part, dict):
        yield part
        for below in part.values():
            yield from nodes(below)
    elif isinstance(part, list):
        for below in part:
            yield from nodes(below)


def reachable(contract: Json, parts: Any) -> set[str]:
    """The names of all schemas that parts of the document lead to."""
    found: set[str] = set()
    waiting = [parts]
    while waiting:
        for node in nodes(waiting.pop()):
            name = named(str(node.get("$ref", "")))
            if name and name not in found:
                found.add(name)
                waiting.append(contract["components"]["schemas"][name])
    return found


def number_steps(contract: Json) -> None:
    """Numbers in steps are documented as numbers with bounds, and their steps in words.

    Generators make names of the words of an enum; of 0.35 they can make none, and leave out
    the whole call.
    """
    for node in nodes(contract["components"]["schemas"]):
        if node.get("type") == "number" and isinstance(node.get("enum"), list):
            steps = node.pop("enum")
            told = f"One of {', '.join(f'{step:g}' for step in steps)}; another is refused."
            node["description"] = " ".join(filter(None, [node.get("description"), told]))
            node |= {"minimum": min(steps), "maximum": max(steps), "examples": steps}


def describe_schemas(contract: Json, kinds: Mapping[str, type[Schema]]) -> None:
    """Describe each schema by its docstring, and fields that mean the same everywhere."""
    for name, schema in contract["components"]["schemas"].items():
        kind = kinds.get(name)
        if kind is not None and kind.__doc__:
            schema.setdefault("description", inspect.cleandoc(kind.__doc__))
        for field, described in schema.get("properties", {}).items():
            if field in _FIELDS:
                described.setdefault("description", _FIELDS[field])


def drop_unused(contract: Json) -> None:
    """Leave out components that nothing in the document leads to."""
    components = contract["components"]
    used = {str(node["$ref"]) for node in nodes(contract["paths"]) if "$ref" in node}
    responses = {
        name: answer
        for name, answer in components["responses"].items()
        if f"#/components/responses/{name}" in used
    }
    components["responses"] = responses
    parts = [contract["paths"], responses]
    examples = {str(node["$ref"]) for node in nodes(parts) if "$ref" in node}
    components["examples"] = {
        name: one
        for name, one in components["examples"].items()
        if f"#/components/examples/{name}" in examples
    }
    kept = reachable(contract, parts)
    schemas = components["schemas"]
    components["schemas"] = {name: schemas[name] for name in sorted(kept)}
    for name in ("headers", "parameters"):
        components.pop(name, None)
