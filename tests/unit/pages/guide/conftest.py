"""What the guide of a pack says, as one reads it."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import pytest

from worker.pages.guide.contents import first_page, second_page
from worker.pages.pack_content import PackContent
from worker.pages.section import Section
from worker.spec.spec import Spec


@pytest.fixture
def sections(pack: Callable[..., PackContent]) -> Callable[[Spec], dict[str, Section]]:
    """The sections of a spec's guide by their titles."""

    def found(spec: Spec) -> dict[str, Section]:
        content = pack(spec)
        return {one.title: one for one in (*first_page(content), *second_page(content))}

    return found


@pytest.fixture
def said(sections: Callable[[Spec], dict[str, Section]]) -> Callable[[Spec], str]:
    """The whole text of a spec's guide, one step a line."""

    @cache
    def text(spec: Spec) -> str:
        steps = (step.text for section in sections(spec).values() for step in section.steps)
        return "\n".join(steps).replace("**", "").replace("\u00a0", " ")

    return text
