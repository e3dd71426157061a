"""Outlines against known lines, beside Canny's of OpenCV and scikit-image; and how long they take.

Each finds lines in the same drawings. Recall is the share of all known line within 0.3 mm of
which something was found, precision the share of what was found within 0.3 mm of a known
line, F their harmonic mean. A pen stroke counts as found by its middle or by its sides, so
that finding both of them, as Canny does, is no fault. The others keep as many strokes
(connected pixels) as ours has, the longest ones.
"""

from __future__ import annotations

import io
import statistics
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt
import skimage.feature
from scipy.spatial import cKDTree

from tests.bench.speed import camera_photo
from tests.pictures import textured_scenes
from tests.pictures.known_lines import HEIGHT_MM, PX_PER_MM, WIDTH_MM, Drawing, drawing, spoilt
from tests.pictures.photographs import as_png
from tests.pictures.textured_scenes import textured
from worker.layout.planning import plan_sheets
from worker.make.pack import make_pack
from worker.picture.outline import find_strokes
from worker.reference.decode import Limits
from worker.reference.intake import take_in
from worker.reference.master import Master
from worker.reference.study_file import load_study
from worker.spec.plan import Plan
from worker.spec.spec import Spec, Support, Tone
from worker.spec.strokes import Strokes

Floats = npt.NDArray[np.float64]
Bytes = npt.NDArray[np.uint8]
Flags = npt.NDArray[np.bool_]

NEAR_MM = 0.3
SEEDS = (1, 2, 3)
#: Grain (standard deviation in levels) and JPEG quality.
SPOILT = (
    (0.0, None),
    (4.0, None),
    (8.0, None),
    (16.0, None),
    (24.0, None),
    (4.0, 75),
    (8.0, 50),
    (4.0, 30),
)
ROUNDS = 7
#: Seeds of scenes of textured things; their grain and compression.
TEXTURED_SEEDS = (1, 2, 3, 4)
TEXTURED_SPOILT = ((2.0, None), (6.0, 75))


@dataclass(frozen=True)
class Found:
    """What one of them found: places every so often along strokes, and how many strokes."""

    places: Floats
    strokes: int


@dataclass(frozen=True)
class Rating:
    """Shares."""

    recall: float
    precision: float

    @property
    def both(self) -> float:
        """Their harmonic mean."""
        total = self.recall + self.precision
        return 2 * self.recall * self.precision / total if total else 0.0


def rated(known: Drawing, places: Floats) -> Rating:
    """How well places on found strokes agree with the known lines."""
    if not len(places):
        return Rating(0.0, 0.0)
    to_found, _ = cKDTree(places).query(known.lines)
    to_known, which = cKDTree(known.lines).query(places)
    found = to_found <= NEAR_MM + known.half_mm
    right = to_known <= NEAR_MM + known.half_mm[which]
    return Rating(float(found.mean()), float(right.mean()))


def sampled(strokes: Strokes, step_mm: float = 0.1) -> Floats:
    """Places along all strokes, about so far apart."""
    curves = strokes.curves_mm.astype(np.float64)
    size = np.linalg.norm(np.diff(curves, axis=1), axis=2).sum(axis=1)
    counts = np.maximum(np.ceil(size / step_mm), 1).astype(np.int64)
    owner = np.repeat(np.arange(len(curves)), counts)
    t = (np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)) / counts[owner]
    s = 1.0 - t
    weights = np.stack((s**3, 3 * t * s * s, 3 * t * t * s, t**3), axis=1)
    return np.asarray((weights[:, :, None] * curves[owner]).sum(axis=1))


def ours(grey: Bytes, width_mm: float = WIDTH_MM, height_mm: float = HEIGHT_MM) -> Found:
    """With everything at its default."""
    spec = Spec(support=Support(width_mm=width_mm, height_mm=height_mm), tone=Tone(style="outline"))
    with tempfile.TemporaryDirectory() as name:
        study = take_in(io.BytesIO(as_png(grey)), Path(name), Limits()).study
        with Master.open(Path(name) / "master.zip") as master:
            strokes = find_strokes(master, spec, plan_sheets(spec, study))
    return Found(sampled(strokes), len(strokes))


def opencv(grey: Bytes) -> Flags:
    """Usual settings: Gaussian 5 x 5 of sigma 1.4, Otsu's threshold above, half of it below."""
    blurred = cv2.GaussianBlur(grey, (5, 5), 1.4)
    high, _ = cv2.threshold(blurred, 0, 255, cv2.THRESH_BINARY | cv2.THRESH_OTSU)
    return np.asarray(cv2.Canny(blurred, high / 2, high) > 0)


def skimage_plain(grey: Bytes) -> Flags:
    """All by default: sigma 1."""
    return np.asarray(skimage.feature.canny(grey / 255.0))


def skimage_smooth(grey: Bytes) -> Flags:
    """Sigma 2, thresholds by default."""
    return np.asarray(skimage.feature.canny(grey / 255.0, sigma=2.0))


def skimage_wide(grey: Bytes, px_per_mm: float = PX_PER_MM) -> Flags:
    """At our own scale, with thresholds that keep the steepest tenth of pixels."""
    return np.asarray(
        skimage.feature.canny(
            grey / 255.0,
            sigma=0.5 * px_per_mm,
            low_threshold=0.9,
            high_threshold=0.96,
            use_quantiles=True,
        )
    )


OTHERS: dict[str, Callable[[Bytes], Flags]] = {
    "OpenCV 5×5": opencv,
    "skimage 1 px": skimage_plain,
    "skimage 2 px": skimage_smooth,
    "skimage 0.5 mm": skimage_wide,
}


def longest(edges: Flags, count: int, px_per_mm: float = PX_PER_MM) -> Found:
    """The places of its largest connected strokes, at most so many."""
    _, labels, facts, _ = cv2.connectedComponentsWithStats(edges.astype(np.uint8), connectivity=8)
    size = facts[1:, cv2.CC_STAT_AREA]
    kept = 1 + np.argsort(-size, kind="stable")[:count]
    rows, columns = np.nonzero(np.isin(labels, kept))
    places = np.stack((columns + 0.5, rows + 0.5), axis=1) / px_per_mm
    return Found(places, len(kept))


def ratings(noise: float, quality: int | None, seeds: tuple[int, ...] = SEEDS) -> dict[str, Rating]:
    """Means over drawings, by name."""
    found: dict[str, list[Rating]] = {name: [] for name in ("ours", *OTHERS)}
    for seed in seeds:
        known = drawing(seed)
        grey = spoilt(known.grey, noise, quality, seed)
        mine = ours(grey)
        found["ours"].append(rated(known, mine.places))
        for name, method in OTHERS.items():
            found[name].append(rated(known, longest(method(grey), mine.strokes).places))
    return {
        name: Rating(
            statistics.mean(each.recall for each in all_),
            statistics.mean(each.precision for each in all_),
        )
        for name, all_ in found.items()
    }


def textured_ratings(noise: float, quality: int | None, seed: int) -> dict[str, Rating]:
    """The same for a scene of textured things on a textured ground."""
    known = textured(seed)
    grey = spoilt(known.grey, noise, quality, seed)
    mine = ours(grey, textured_scenes.WIDTH_MM, textured_scenes.HEIGHT_MM)
    found = {"ours": rated(known, mine.places)}
    px_per_mm = textured_scenes.PX_PER_MM
    others = OTHERS | {"skimage 0.5 mm": partial(skimage_wide, px_per_mm=px_per_mm)}
    for name, method in others.items():
        theirs = longest(method(grey), mine.strokes, px_per_mm)
        found[name] = rated(known, theirs.places)
    return found


def report_textured() -> None:
    """Print the table of textured things."""
    print("\nContours of textured things: recall / precision within 0.3 mm, and F, in %")
    names = ("ours", *OTHERS)
    print(f"  {'scene':>5} {'grain':>5} {'JPEG':>5}  " + "".join(f"{name:>19}" for name in names))
    for noise, quality in TEXTURED_SPOILT:
        for seed in TEXTURED_SEEDS:
            cells = _cells(textured_ratings(noise, quality, seed))
            print(f"  {seed:5} {noise:5.0f} {quality or '–':>5}  {cells}", flush=True)


def _cells(row: dict[str, Rating]) -> str:
    return "".join(
        f"{each.recall * 100:8.1f} {each.precision * 100:5.1f} {each.both * 100:4.0f}"
        for each in row.values()
    )


def report() -> None:
    """Print all tables."""
    print("\nOutlines of known drawings: recall / precision within 0.3 mm, and F, in %")
    print(f"  {'grain':>5} {'JPEG':>5}  " + "".join(f"{name:>19}" for name in ("ours", *OTHERS)))
    for noise, quality in SPOILT:
        row = ratings(noise, quality)
        print(f"  {noise:5.0f} {quality or '–':>5}  {_cells(row)}")
    report_textured()
    report_speed()


def report_speed() -> None:
    """Print how long finding takes beside making a grey pack, and what the pack weighs."""
    photo = camera_photo()
    support = Support(width_mm=600, height_mm=400)
    grey, lined = Spec(support=support), Spec(support=support, tone=Tone(style="outline"))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        take_in(io.BytesIO(photo), folder, Limits())
        study = load_study(folder / "study.npz")
        plans = {spec: plan_sheets(spec, study) for spec in (grey, lined)}
        with Master.open(folder / "master.zip") as master:
            found = find_strokes(master, lined, plans[lined])

        def find() -> None:
            with Master.open(folder / "master.zip") as master:
                find_strokes(master, lined, plans[lined])

        works = {
            "finding lines": find,
            "pack of lines": lambda: _pack(folder, lined, plans[lined]),
            "grey pack": lambda: _pack(folder, grey, plans[grey]),
        }
        times: dict[str, list[float]] = {work: [] for work in works}
        for _ in range(ROUNDS):
            for work, run in works.items():
                start = time.perf_counter()
                run()
                times[work].append(time.perf_counter() - start)
        _pack(folder, lined, plans[lined])
        size = (folder / "pack.pdf").stat().st_size
    base = statistics.median(times["grey pack"])
    print("\nLines of 24 megapixels on 60 × 40 cm: medians of", ROUNDS, "turns")
    for work, took in times.items():
        middle = statistics.median(took)
        print(f"  {work:14} {middle:6.3f} s   {middle / base:.2f} × grey pack  ≥ {min(took):.3f} s")
    print(
        f"  {len(found)} strokes, {len(found.curves_mm)} curves, "
        f"{float(found.length_mm.sum()) / 1000:.1f} m; the pack's PDF {size / 1e6:.2f} MB"
    )


def _pack(folder: Path, spec: Spec, plan: Plan) -> None:
    make_pack(folder / "master.zip", spec, plan, title="Bench", folder=folder)
