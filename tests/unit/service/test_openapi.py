"""Operations have ids, since generated clients name their functions after them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask

from service.access.rules import RULES
from service.app import create_app
from service.runtime.context import EXTENSION
from worker.settings import Settings


@pytest.fixture
def app(tmp_path: Path) -> Iterator[Flask]:
    made = create_app(Settings(data_dir=tmp_path))
    yield made
    made.extensions[EXTENSION].ledger.close()


def operation_ids(app: Flask) -> list[str | None]:
    document = app.test_client().get("/v1/openapi.json").get_json()
    return [
        operation.get("operationId")
        for operations in document["paths"].values()
        for method, operation in operations.items()
        if method in {"get", "post", "put", "patch", "delete"}
    ]


def test_every_operation_has_an_id_of_its_own(app: Flask) -> None:
    """OpenAPI 3.1.0, 4.8.10: an operationId is unique among all operations."""
    found = operation_ids(app)
    assert None not in found
    assert len(set(found)) == len(found) > 60


def test_ids_are_the_names_in_the_table_of_rules(app: Flask) -> None:
    # Pages have no blueprint, and the document does not describe itself.
    named = {one.partition(".")[2] for one in RULES if "." in one} - {"openapi_json"}
    assert set(operation_ids(app)) == named
