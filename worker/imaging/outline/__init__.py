"""From the master to lines that a draughtsman would trace."""

from __future__ import annotations

from worker.imaging.outline.find import find_strokes

__all__ = ["find_strokes"]
