"""Run the whole benchmark, or the parts that are named: speed, mural, http, seams, outline."""

from __future__ import annotations

import sys

from tests.bench import http, outline, seams, speed

PARTS = {
    "speed": speed.report,
    "mural": speed.report_mural,
    "http": http.report,
    "seams": seams.report,
    "outline": outline.report,
}

if __name__ == "__main__":
    for part in sys.argv[1:] or PARTS:
        PARTS[part]()
