"""Run the whole benchmark, or the parts that are named.

The parts: speed, mural, http, seams, outline, register. A table of outline can be had alone:
textured. Nine more are not part of the whole. `opinion FOLDER` holds outlines of photographs to a
large edge network, `contacts FOLDER OUT` draws them beside the photographs, `frames FOLDER` counts
heads that crops cut, `renderers` compares what renderers of PDF show. `register` and `renderers`
keep their pictures in a folder that follows. `ledger DATABASE` fills a ledger (`sqlite` or
`postgresql`) with a million packs and measures its calls. `throughput` has packs made by one
worker, by two and by four, and `sizing` simulates the queue of so many students with the figures of
that. `crowd` has hundreds come at once to the whole arrangement, `soak [MINUTES]` uses it for ten.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from tests.bench import (
    contacts,
    frames,
    http,
    opinion,
    outline,
    register_marks,
    renderers,
    seams,
    speed,
)
from tests.bench.at_size import report as at_size
from tests.bench.crowds import crowd, soak
from tests.bench.sizing import report as sizing
from tests.bench.sizing import throughput

PARTS = {
    "speed": speed.report,
    "mural": speed.report_mural,
    "http": http.report,
    "seams": seams.report,
    "outline": outline.report,
    "register": register_marks.report,
}
#: Part of another, or apart from the whole.
TABLES: dict[str, Callable[[], None]] = {
    "textured": outline.report_textured,
    "renderers": renderers.report,
    "throughput": throughput.report,
    "sizing": sizing.report,
    "crowd": crowd.report,
    "soak": soak.report,
}
OF_FOLDERS: dict[str, Callable[[Sequence[str]], None]] = {
    "opinion": opinion.report,
    "contacts": contacts.report,
    "register": register_marks.report,
    "renderers": renderers.report,
    "frames": lambda names: frames.report(Path(names[0])),
    "ledger": at_size.report,
    "soak": soak.report,
}

if __name__ == "__main__":
    if sys.argv[2:] and sys.argv[1] in OF_FOLDERS:
        OF_FOLDERS[sys.argv[1]](sys.argv[2:])
        sys.exit()
    for part in sys.argv[1:] or PARTS:
        (PARTS | TABLES)[part]()
