"""The document as it is sent."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from flask import Flask

from service.app import create_app
from service.runtime.context import EXTENSION
from worker.settings import Settings


@pytest.fixture(scope="session")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Flask]:
    """The application, with nobody and nothing in it."""
    made = create_app(Settings(data_dir=tmp_path_factory.mktemp("contract")))
    yield made
    made.extensions[EXTENSION].ledger.close()


@pytest.fixture(scope="session")
def contract(service: Flask) -> dict[str, Any]:
    """The OpenAPI document."""
    answer = service.test_client().get("/v1/openapi.json")
    assert answer.status_code == 200
    return dict(answer.get_json())
