"""Run the whole benchmark, or the parts that are named: speed, mural, http, seams, outline.

Two more are not part of the whole, and take what follows them: `opinion FOLDER` holds outlines
of photographs to a large edge network, `contacts FOLDER OUT` draws them beside the photographs.
"""

from __future__ import annotations

import sys

from tests.bench import contacts, http, opinion, outline, seams, speed

PARTS = {
    "speed": speed.report,
    "mural": speed.report_mural,
    "http": http.report,
    "seams": seams.report,
    "outline": outline.report,
}
OF_FOLDERS = {"opinion": opinion.report, "contacts": contacts.report}

if __name__ == "__main__":
    if sys.argv[1:] and sys.argv[1] in OF_FOLDERS:
        OF_FOLDERS[sys.argv[1]](sys.argv[2:])
        sys.exit()
    for part in sys.argv[1:] or PARTS:
        PARTS[part]()
