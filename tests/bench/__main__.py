"""Run the whole benchmark, or the parts that are named: speed, mural, http, seams, outline.

`frames FOLDER` counts heads that crops cut, over the photos of a folder.
"""

from __future__ import annotations

import sys
from pathlib import Path

from tests.bench import frames, http, outline, seams, speed

PARTS = {
    "speed": speed.report,
    "mural": speed.report_mural,
    "http": http.report,
    "seams": seams.report,
    "outline": outline.report,
}

if __name__ == "__main__":
    if sys.argv[1:2] == ["frames"]:
        frames.report(Path(sys.argv[2]))
    else:
        for part in sys.argv[1:] or PARTS:
            PARTS[part]()
