"""Renders the demo's reference: a still life of our own, as a photograph of 14 megapixels.

    python deploy/demo/still_life.py --out photo.jpg --width 4608

No camera was needed and nobody's picture is used: jug, fruit, linen, brushes and light are
formulas in the folder `atelier`. With the same numpy and Pillow the same command gives the
same bytes, on one process or on several.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

from atelier.develop import save
from atelier.studio import WIDTH_PX, photograph


def main() -> int:
    """Render and save; say on the error stream how it goes."""
    parser = argparse.ArgumentParser(description="Render the demo's reference photograph.")
    parser.add_argument("--out", type=Path, default=Path("still_life.jpg"))
    parser.add_argument("--width", type=int, default=WIDTH_PX, help="pixels, 3:2")
    parser.add_argument("--processes", type=int, default=2)
    asked = parser.parse_args()
    began = time.monotonic()

    def say(what: str) -> None:
        sys.stderr.write(f"{time.monotonic() - began:6.1f} s  {what}\n")

    size = save(photograph(asked.width, processes=asked.processes, say=say), asked.out)
    say(f"{asked.out}: {size / 1e6:.1f} MB")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
