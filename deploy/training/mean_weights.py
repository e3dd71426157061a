"""The mean of the weights of two runs, where the second went on from the first.

    python deploy/training/mean_weights.py FIRST SECOND OUT

Each is a folder with `contours.npz` and `contours.json`. What one run reads better than the other
is mostly kept, at no cost when it is run (Wortsman and others, "Model soups", ICML 2022).
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np


def main(first: Path, second: Path, out: Path) -> None:
    """Write both files to `out`."""
    with np.load(first / "contours.npz") as one, np.load(second / "contours.npz") as other:
        mean = {
            name: ((one[name].astype(np.float32) + other[name]) / 2).astype(np.float16)
            for name in one
        }
    np.savez_compressed(out / "contours.npz", **mean)
    runs = [json.loads((each / "contours.json").read_text()) for each in (first, second)]
    numbers = sum(value.size for value in mean.values())
    told = {"numbers": numbers, "mean_of": runs}
    (out / "contours.json").write_text(json.dumps(told, indent=2) + "\n")


if __name__ == "__main__":
    main(*(Path(each) for each in sys.argv[1:4]))
