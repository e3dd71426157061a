"""Packs to read back: the fixture of the pages that are drawn with these modules."""

from __future__ import annotations

from tests.unit.pages.conftest import make

__all__ = ["make"]
