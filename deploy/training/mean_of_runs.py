"""Take the mean of the weights of several runs, which reads as fast as one.

    python deploy/training/mean_of_runs.py FOLDER FOLDER --out FOLDER

Runs that begin from the same weights lie near enough to each other for their mean to read better
than either: what one has unlearnt the other still knows (Wortsman and others, "Model soups:
averaging weights of multiple fine-tuned models improves accuracy without increasing inference
time", ICML 2022). Each folder is one that `train.py` has written.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import numpy as np
from net import loaded, stored


def main() -> None:
    """Write `contours.npz` and `contours.json`, which says of which runs it is the mean."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("runs", type=Path, nargs="+")
    parser.add_argument("--out", type=Path, required=True)
    asked = parser.parse_args()
    runs = [loaded(dict(np.load(run / "contours.npz"))) for run in asked.runs]
    mean = {name: sum(run[name] for run in runs) / len(runs) for name in runs[0]}
    weights = stored(mean)
    np.savez_compressed(asked.out / "contours.npz", allow_pickle=False, **weights)
    told = {
        "mean_of": [json.loads((run / "contours.json").read_text()) for run in asked.runs],
        "numbers": sum(value.size for value in weights.values()),
    }
    (asked.out / "contours.json").write_text(json.dumps(told, indent=2) + "\n")


if __name__ == "__main__":
    main()
