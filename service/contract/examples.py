"""Examples of bodies and answers, recorded from a service (`deploy/demo/answers.py`)."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from service.contract.refusals import operations
from service.contract.schemas import named
from service.http.resources import TABLES

Json = dict[str, Any]
#: A bare table, by operation.
_TABLES = {
    "add_students": "Name\nAda Okafor\n王小明\n",
    "create_batch": "Student;support.width_mm;support.height_mm;note\nAda Okafor;300;200;\n",
    "estimate_batch": "Student;support.width_mm;support.height_mm;note\nAda Okafor;300;200;\n",
}


def add_examples(contract: Json) -> None:
    """Give each JSON body and each JSON answer the example of its schema, and tables theirs."""
    recorded = json.loads(Path(__file__).with_name("examples.json").read_text(encoding="utf-8"))
    for _, _, operation in operations(contract):
        for media_type, content in operation.get("requestBody", {}).get("content", {}).items():
            _add(content, recorded)
            if media_type in TABLES and operation["operationId"] in _TABLES:
                content["example"] = _TABLES[operation["operationId"]]
        for answer in operation["responses"].values():
            for content in answer.get("content", {}).values():
                _add(content, recorded)


def _add(content: Json, recorded: Json) -> None:
    name = named(str(content["schema"].get("$ref", "")))
    if name in recorded:
        content["example"] = recorded[name]
