"""Intake in processes of their own, so that a hostile photo harms no other request.

Photos are decoded by libraries in C, and a file made for it can keep them busy, exhaust memory,
or worse. So the web process never decodes one: `pool` hands the photo to a `process`, which
runs `child`. `wire` is the protocol between the two. `confinement` limits the child before it
reads anything, by the `budget` of one photo: processor time, memory, files and file size, no
core dumps, and on Linux no network (a namespace of its own, where the system allows it). The
child gets no setting of ours. Windows has none of these limits, macOS none of address space and
no namespace; everywhere the parent ends a child after four times its processor time.

A child takes up to 50 photos, is not used again after a refusal, and ends with its standard
input or its parent. A warm child holds some 85 MB and saves a third of a second.
"""

from __future__ import annotations

from worker.reference.isolated.budget import Budget
from worker.reference.isolated.pool import Intake

__all__ = ["Budget", "Intake"]
