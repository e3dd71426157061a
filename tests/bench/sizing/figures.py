"""Figures that the simulation starts from, measured by `python -m tests.bench throughput`.

Processor time and not time by the clock: it is the same beside other work, and a worker that has
a core to itself takes as long. A 24-megapixel photo on 60 × 40 cm, one thread for each pack, a
third each of grey, outlines and values; web, ledger and asking are in it.
"""

from __future__ import annotations

#: For one pack after the other, in s.
MAKING_S = (0.44, 1.38, 2.36, 0.40, 1.04, 2.60, 0.48, 1.06, 2.28)
#: Bytes of one photo's files (master, study, preview), and of one pack's on average.
PHOTO_BYTES, PACK_BYTES = 12_460_000, 605_000
#: Bytes of one pack in the ledger: a plan of 9,800 and a spec of 800, by
#: `worker.spec.json`, and 1,400 for the rest of its row, its indexes and its photo's row.
ROW_BYTES = 12_000
