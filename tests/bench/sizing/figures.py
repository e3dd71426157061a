"""Figures that the simulation starts from, measured by `python -m tests.bench throughput`."""

from __future__ import annotations

#: From the beginning of a pack to ready, in s, of one worker alone on a core.
MAKING_S = (1.0, 1.5, 2.0)
#: Bytes of one pack's files on average, and of one photo's.
PACK_BYTES, PHOTO_BYTES = 3_000_000, 12_600_000
#: Bytes of one pack in the ledger, with its indexes and its part of other rows.
ROW_BYTES = 20_000
