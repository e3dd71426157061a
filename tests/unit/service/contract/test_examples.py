"""Examples are what the schemas say, and each body and answer has one."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any

import jsonschema_rs

from service.classes.tables.roster import read_roster

Json = dict[str, Any]


def contents(contract: Json) -> Iterator[tuple[str, str, Json]]:
    """Operation, media type and content of every body, and of every answer in JSON."""
    for methods in contract["paths"].values():
        for method, operation in methods.items():
            if method == "parameters":
                continue
            name = operation["operationId"]
            for media_type, content in operation.get("requestBody", {}).get("content", {}).items():
                yield name, media_type, content
            for answer in operation["responses"].values():
                content = answer.get("content", {}).get("application/json")
                if content:
                    yield name, "application/json", content


def test_every_body_but_a_photo_has_an_example(contract: Json) -> None:
    missing = {name for name, _, content in contents(contract) if "example" not in content}
    assert missing == {"create_reference"}


def test_examples_are_what_their_schemas_say(contract: Json) -> None:
    """Recorded from the service, so that this holds its answers to the document as well."""
    wrong = []
    for name, _, content in contents(contract):
        if "example" in content:
            schema = {**content["schema"], "components": contract["components"]}
            checker = jsonschema_rs.Draft202012Validator(schema)
            wrong += [f"{name}: {one.message}" for one in checker.iter_errors(content["example"])]
    assert wrong == []


def test_examples_of_problems_are_problems(contract: Json) -> None:
    schema = {"$ref": "#/components/schemas/Problem", "components": contract["components"]}
    checker = jsonschema_rs.Draft202012Validator(schema)
    for example in contract["components"]["examples"].values():
        assert checker.is_valid(example["value"])


def test_the_example_of_a_table_is_one(contract: Json) -> None:
    (table,) = {
        content["example"]
        for name, media_type, content in contents(contract)
        if (name, media_type) == ("add_students", "text/csv")
    }
    assert [student.name for student in read_roster(table.encode())] == ["Ada Okafor", "王小明"]


def test_no_example_has_a_secret_that_opens_anything(contract: Json) -> None:
    shown = [content["example"] for _, _, content in contents(contract) if "example" in content]
    secrets = set(re.findall(r"\brc[a-z]_[\w-]+", json.dumps(shown)))
    assert {secret[:4] for secret in secrets} >= {"rck_", "rcl_", "rct_"}
    assert {secret[4:] for secret in secrets} == {"Example" * 6 + "0"}
