"""Reads a picture with small networks, run by NumPy alone: contours, its subject, and faces.

`network` runs layers on `planes`; `contours`, `subjects` and `detections` hold one network each,
whose numbers lie in `weights/`; `faces` makes boxes of what is detected. Nothing here knows files
of references; `worker.reference` asks at intake.
"""

from __future__ import annotations

from worker.reading.read import read_picture

__all__ = ["read_picture"]
