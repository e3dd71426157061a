"""The plan's ink for lines and tones, held against what imaging finds in photographs.

The photographs come with scikit-image and scikit-learn. The plan estimates without drawing
anything; here everything is drawn and counted.
"""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest

from tests.pictures.photographs import as_jpeg, enlarged, photographs
from worker.layout.planning import plan_sheets
from worker.picture.enlarge import whole_picture
from worker.picture.outline import find_strokes
from worker.picture.tones import posterise
from worker.reference.decode import Limits
from worker.reference.intake import take_in
from worker.reference.master import Master
from worker.spec.plan import Plan
from worker.spec.spec import Outline, Spec, Support, Tone, Values
from worker.spec.strokes import line_widths_mm
from worker.spec.study import ReferenceStudy

SUPPORT = Support(width_mm=600, height_mm=400)
STYLES = {
    "few": Tone(style="outline", outline=Outline(detail=0.2)),
    "usual": Tone(style="outline"),
    "many": Tone(style="outline", outline=Outline(detail=0.8, line_mm=0.5)),
}
NAMES = ("astronaut", "cat", "coffee", "china", "flower", "rocket")


@pytest.fixture(scope="module")
def references(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[Path, ReferenceStudy]]:
    """Photographs as a camera would send them, taken in."""
    found = {}
    for name in NAMES:
        folder = tmp_path_factory.mktemp(name)
        photo = as_jpeg(enlarged(photographs()[name], 2100, 1400))
        found[name] = (folder, take_in(io.BytesIO(photo), folder, Limits()).study)
    return found


def inked(folder: Path, spec: Spec, plan: Plan) -> float:
    """Share of the paper that the strokes cover."""
    with Master.open(folder / "master.zip") as master:
        strokes = find_strokes(master, spec, plan)
    lengths = np.bincount(strokes.weight, strokes.length_mm, minlength=4)
    widths = np.array(line_widths_mm(spec.tone.outline.line_mm))
    return float(lengths @ widths) / (plan.picture.width_mm * plan.picture.height_mm)


@pytest.mark.parametrize("style", STYLES)
def test_lines_are_estimated_well_enough_to_tell_what_they_spare(
    references: dict[str, tuple[Path, ReferenceStudy]], style: str
) -> None:
    told, drawn = [], []
    for folder, study in references.values():
        spec = Spec(support=SUPPORT, tone=STYLES[style])
        plan = plan_sheets(spec, study)
        told.append(plan.mean_coverage)
        drawn.append(inked(folder, spec, plan))
        grey = plan_sheets(Spec(support=SUPPORT), study).mean_coverage
        assert plan.mean_coverage < grey / 3
        assert abs(told[-1] - drawn[-1]) < 0.04
    off = np.log(np.array(told) / np.array(drawn))
    # Factors: of the whole lot, and of any one.
    assert np.exp(abs(off.mean())) < 1.6
    assert np.exp(np.abs(off).max()) < 3.5


@pytest.mark.parametrize(
    "values", [Values(count=3), Values(count=5), Values(count=4, thresholds=(0.2, 0.5, 0.8))]
)
def test_the_ink_of_flat_tones_is_estimated(
    references: dict[str, tuple[Path, ReferenceStudy]], values: Values
) -> None:
    for folder, study in references.values():
        spec = Spec(support=SUPPORT, tone=Tone(style="values", values=values))
        plan = plan_sheets(spec, study)
        with Master.open(folder / "master.zip") as master:
            posterised = posterise(master, spec, plan)
        printed = 1.0 - np.dot(posterised.shares, posterised.tones) / 255.0
        assert plan.mean_coverage == pytest.approx(printed, abs=0.05)


def test_the_ink_of_lifted_blacks_is_estimated(
    references: dict[str, tuple[Path, ReferenceStudy]],
) -> None:
    spared = []
    for folder, study in references.values():
        spec = Spec(support=SUPPORT, tone=Tone(lift=1.0))
        plan = plan_sheets(spec, study)
        with Master.open(folder / "master.zip") as master:
            picture = whole_picture(master, spec, plan, (600, 400))
        assert plan.mean_coverage == pytest.approx(1.0 - np.mean(picture) / 255.0, abs=0.01)
        spared.append(plan_sheets(Spec(support=SUPPORT), study).mean_coverage - plan.mean_coverage)
    assert min(spared) >= 0.0
    assert max(spared) > 0.02
