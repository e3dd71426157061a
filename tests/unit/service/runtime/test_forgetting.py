"""What another process deleted leaves this one's memory too."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from flask import Flask

from service.app import create_app
from service.runtime import forgetting
from service.runtime.context import EXTENSION, ServiceContext
from service.runtime.forgetting import Forgetting, forget_deleted
from tests.unit.pages.conftest import plan_for
from tests.unit.service.runtime.caches.test_plans import SPEC
from tests.unit.service.runtime.caches.test_studies import a_study
from tests.waiting import wait_until
from worker.errors import LedgerUnavailable
from worker.settings import Settings
from worker.store.ledger import LOCAL_OWNER, ReferenceRow, open_ledger


@pytest.fixture
def app(tmp_path: Path) -> Flask:
    return create_app(Settings(data_dir=tmp_path))


@pytest.fixture
def context(app: Flask) -> ServiceContext:
    found: ServiceContext = app.extensions[EXTENSION]
    return found


def remembered(context: ServiceContext) -> str:
    """A photo of which two caches have something."""
    row = ReferenceRow(width_px=60, height_px=50, format="jpeg", sha256="0" * 64)
    reference_id = context.ledger.add_reference(row).id
    context.study_cache.put(reference_id, a_study())
    context.plan_cache.get(reference_id, SPEC, lambda: plan_for(SPEC))
    return reference_id


def test_caches_forget_what_the_ledger_does_not_know(context: ServiceContext) -> None:
    stays, goes = remembered(context), remembered(context)
    other = open_ledger(context.settings)
    other.delete_reference(goes, LOCAL_OWNER)
    other.close()
    assert context.remembered() == {stays, goes}
    forget_deleted(context)
    assert context.remembered() == {stays}


def test_it_goes_on_when_the_ledger_was_away(
    context: ServiceContext, monkeypatch: pytest.MonkeyPatch
) -> None:
    answers: list[Any] = [LedgerUnavailable("It is away."), ZeroDivisionError(), None, None]
    asked: list[ServiceContext] = []

    def ask(context: ServiceContext) -> None:
        asked.append(context)
        error = answers[min(len(asked), len(answers)) - 1]
        if error is not None:
            raise error

    monkeypatch.setattr(forgetting, "EVERY_S", 0.001)
    monkeypatch.setattr(forgetting, "forget_deleted", ask)
    thread = Forgetting(context)
    thread.start()
    wait_until(lambda: len(asked) >= 4)
    context.closing.set()
    thread.join(60)
    assert not thread.is_alive()
