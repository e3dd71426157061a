"""Figures that the simulation starts from, measured by `python -m tests.bench throughput`.

Processor time and not time by the clock: it is the same beside other work, and a worker that has
a core to itself takes as long. A 24-megapixel photo on 60 × 40 cm, one thread for each pack, a
third each of grey, outlines and values; web, ledger and asking are in it.
"""

from __future__ import annotations

#: For one pack after the other, in s.
MAKING_S = (0.33, 0.61, 1.38, 0.25, 0.51, 1.20, 0.24, 0.51, 1.24)
#: Bytes of one photo's files (master, study, preview), and of one pack's on average.
PHOTO_BYTES, PACK_BYTES = 12_360_000, 600_000
#: Bytes of one pack in the ledger: a plan of 9,800 and a spec of 800 as JSON, and what is left of
#: the 2,400 for each pack that the filled ledger of `tests.bench ledger` took on PostgreSQL, where
#: plan and spec had 1,500; rounded up.
ROW_BYTES = 12_000
