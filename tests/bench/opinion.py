"""Outlines of photographs, held to what a large edge network sees: a second opinion.

    .venv/bin/python -m tests.bench opinion FOLDER [--detail 0.5] [--only NAME,NAME] [--json FILE]

The folder holds photographs and, under `opinion/`, the network's maps of them: see
`tests/bench/hed_maps.py`. Agreement is measured as in the boundary benchmark of Berkeley
(Martin, Fowlkes and Malik, "Learning to detect natural image boundaries using local brightness,
color, and texture cues", PAMI 2004; Arbeláez and others, "Contour detection and hierarchical
image segmentation", PAMI 2011): two lines agree where they are no further apart than a
tolerance. Precision is the share of our line near the network's, recall the share of the
network's near ours, F their harmonic mean.

How much line is drawn changes all three. So everything is compared at equal length: that of
`opinion/lengths.json`, which the first run writes (its lines at detail 0.35) and later ones
read; they try that detail first, so that the same code has the same figures. The columns:

- F, precision, recall: 3 mm on 60 x 40 cm, the network's thinned map above the threshold that
  gives the best F for this picture (`at`; optimal image scale, OIS, in Berkeley's words).
- fixed F: the same above 0.3, for every picture.
- F 1:1: the same as F, with each place matched once as Berkeley's benchmark does: of two lines
  along one, one is wrong.
- F wide: the same as F, within Berkeley's own tolerance, 0.0075 of the diagonal: 5.4 mm here.
"""

from __future__ import annotations

import argparse
import json
import statistics
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
from PIL import Image
from scipy.ndimage import gaussian_filter, map_coordinates
from scipy.sparse import coo_array
from scipy.sparse.csgraph import maximum_bipartite_matching
from scipy.spatial import cKDTree

from tests.bench.outline import sampled
from tests.bench.photo_lines import Photo, photos_in, taken, total_mm

Floats = npt.NDArray[np.float64]

NEAR_MM = 3.0
#: The tolerance of the benchmark of Berkeley, in shares of the diagonal.
WIDE = 0.0075
REFERENCE_DETAIL = 0.35
THRESHOLDS = tuple(round(0.05 * step, 2) for step in range(1, 20))
FIXED = 0.3
#: A map is smoothed this much (pixels) before its ridges are sought.
_SMOOTH_PX = 1.0
_MEANT = ("f", "precision", "recall", "fixed_f", "matched_f", "wide_f")
_FOLDER, _LENGTHS = "opinion", "lengths.json"


@dataclass(frozen=True)
class Ridges:
    """The thinned map: places (mm of the picture) and how strong it is there, 0 to 1."""

    places: Floats
    strength: Floats
    pixel_mm: float


@dataclass(frozen=True)
class Agreement:
    """How well lines agree with a network's map."""

    name: str
    f: float
    precision: float
    recall: float
    threshold: float
    fixed_f: float
    matched_f: float
    wide_f: float
    detail: float
    length_m: float
    strokes: int


def thinned(strength: Floats) -> tuple[Floats, Floats]:
    """The ridges of a map (rows, columns): places (x, y) in pixels, and its values there.

    A pixel is on a ridge if it is no less than both neighbours across it, which are
    interpolated; across is where the map's second derivative is least.
    """
    smooth = gaussian_filter(strength, _SMOOTH_PX, mode="nearest")
    down, across = np.gradient(smooth)
    (yy, xy), (_, xx) = np.gradient(down), np.gradient(across)
    # The eigenvector of the greater curvature, turned by a right angle: that of the least.
    least = 0.5 * np.arctan2(2 * xy, xx - yy) + np.pi / 2
    y, x = np.mgrid[: strength.shape[0], : strength.shape[1]].astype(np.float64)
    sides = [
        map_coordinates(
            smooth, (y + sign * np.sin(least), x + sign * np.cos(least)), order=1, mode="nearest"
        )
        for sign in (1, -1)
    ]
    # One side counts when equal, so that a ridge between two pixels is not lost nor doubled.
    rows, columns = np.nonzero((smooth > sides[0]) & (smooth >= sides[1]) & (strength > 0))
    return np.stack((columns + 0.5, rows + 0.5), axis=1), strength[rows, columns]


def ridges_of(path: Path, photo: Photo) -> Ridges:
    """The thinned map of a photograph, where the picture is."""
    strength = np.asarray(Image.open(path), np.float64) / 255.0
    places, values = thinned(strength)
    size = np.array(strength.shape[::-1], np.float64)
    crop = photo.crop
    shares = (places / size - (crop.left, crop.top)) / (crop.width, crop.height)
    inside = ((shares >= 0) & (shares <= 1)).all(axis=1)
    pixel_mm = photo.width_mm / (crop.width * size[0])
    return Ridges(shares[inside] * (photo.width_mm, photo.height_mm), values[inside], pixel_mm)


def shares_near(lines: Floats, ridges: Floats, near_mm: float) -> tuple[float, float]:
    """Precision and recall of places on lines, each as far as it is near one of the others."""
    if not len(lines) or not len(ridges):
        return 0.0, 0.0
    right = cKDTree(ridges).query(lines, distance_upper_bound=near_mm)[0] <= near_mm
    found = cKDTree(lines).query(ridges, distance_upper_bound=near_mm)[0] <= near_mm
    return float(right.mean()), float(found.mean())


def shares_matched(lines: Floats, ridges: Floats, near_mm: float) -> tuple[float, float]:
    """Precision and recall where each place is matched with one other at most."""
    if not len(lines) or not len(ridges):
        return 0.0, 0.0
    pairs = cKDTree(lines).sparse_distance_matrix(
        cKDTree(ridges), near_mm, output_type="coo_matrix"
    )
    graph = coo_array((np.ones(pairs.nnz), (pairs.row, pairs.col)), shape=pairs.shape).tocsr()
    matched = int((maximum_bipartite_matching(graph, perm_type="column") >= 0).sum())
    return matched / len(lines), matched / len(ridges)


def harmonic(precision: float, recall: float) -> float:
    """F."""
    total = precision + recall
    return 2 * precision * recall / total if total else 0.0


def agreement(path: Path, photo: Photo, detail: float | None, length_mm: float | None) -> Agreement:
    """How well a photograph's lines agree with the network's map of it."""
    ridges = ridges_of(path.parent / _FOLDER / f"{path.stem}.png", photo)
    if detail is None and length_mm is not None:
        strokes, detail = photo.outlines_of(length_mm, first=REFERENCE_DETAIL)
    else:
        detail = REFERENCE_DETAIL if detail is None else detail
        strokes = photo.outlines(detail)
    lines, coarse = sampled(strokes, 0.3), sampled(strokes, ridges.pixel_mm)
    wide_mm = WIDE * float(np.hypot(photo.width_mm, photo.height_mm))
    at = {each: ridges.places[ridges.strength >= each] for each in THRESHOLDS}
    near = {each: shares_near(lines, at[each], NEAR_MM) for each in THRESHOLDS}
    best = max(THRESHOLDS, key=lambda each: harmonic(*near[each]))
    return Agreement(
        name=path.stem,
        f=harmonic(*near[best]),
        precision=near[best][0],
        recall=near[best][1],
        threshold=best,
        fixed_f=harmonic(*near[FIXED]),
        matched_f=harmonic(*shares_matched(coarse, at[best], NEAR_MM)),
        wide_f=max(harmonic(*shares_near(lines, at[each], wide_mm)) for each in THRESHOLDS),
        detail=detail,
        length_m=total_mm(strokes) / 1000,
        strokes=len(strokes),
    )


def _options(arguments: Sequence[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser("python -m tests.bench opinion", description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--detail", type=float, help="at this detail instead of at equal length")
    parser.add_argument("--only", help="names, with commas between them")
    parser.add_argument("--whole", action="store_true", help="draw photographs uncropped")
    parser.add_argument("--json", type=Path, help="where figures are written")
    return parser.parse_args(arguments)


def report(arguments: Sequence[str]) -> None:
    """Print the table and write it as JSON, `opinion/agreement.json` unless told."""
    options = _options(arguments)
    kept = options.folder / _FOLDER / ("whole-" * options.whole + _LENGTHS)
    lengths: dict[str, float] = json.loads(kept.read_text()) if kept.exists() else {}
    only = options.only.split(",") if options.only else None
    rows = []
    print(
        f"  {'photograph':18}     F  prec.  recall    at  fixed F  F 1:1  F wide  detail      m"
        "  strokes"
    )
    for path in photos_in(options.folder):
        if only and path.stem not in only:
            continue
        with taken(path, whole=options.whole) as photo:
            row = agreement(path, photo, options.detail, lengths.get(path.stem))
        rows.append(row)
        if options.detail is None and path.stem not in lengths:
            lengths[path.stem] = row.length_m * 1000
            kept.write_text(json.dumps(lengths, indent=1))
        print(_line(row), flush=True)
    means = {field: statistics.mean(getattr(row, field) for row in rows) for field in _MEANT}
    print("  mean of", len(rows), ", ".join(f"{name} {means[name]:.3f}" for name in _MEANT))
    file = options.json or options.folder / _FOLDER / "agreement.json"
    file.write_text(json.dumps({"mean": means, "rows": [asdict(row) for row in rows]}, indent=1))


def _line(row: Agreement) -> str:
    return (
        f"  {row.name:18} {row.f:.3f}  {row.precision:.3f}   {row.recall:.3f}  {row.threshold:.2f}"
        f"    {row.fixed_f:.3f}  {row.matched_f:.3f}   {row.wide_f:.3f}   {row.detail:.3f}"
        f"  {row.length_m:5.1f}  {row.strokes:7}"
    )
