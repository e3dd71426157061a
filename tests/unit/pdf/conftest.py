"""Packs to read back: the fixtures of the pages that are drawn with these modules."""

from __future__ import annotations

from tests.unit.pages.conftest import make, photo

__all__ = ["make", "photo"]
