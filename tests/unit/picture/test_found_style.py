"""What is found for a style depends on what its key says, and on nothing else."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import skimage.data
from PIL import Image

from tests.unit.reference.samples import planned, saved, taken
from tests.unread import without_reading
from worker.picture.found_style import find_style, style_key
from worker.reference.master import Master
from worker.spec.spec import Grid, Outline, Print, Seams, Sheet, Spec, Support, Tone

SIZE_PX = (450, 300)
#: Everything that the key of lines leaves out, changed at once.
LINES = Spec(support=Support(width_mm=200, height_mm=133.5), tone=Tone(style="outline"))
OTHER_LINES = replace(
    LINES,
    tone=Tone(style="mixed", lighten=0.5, lift=1.0, contrast=0.5, outline=Outline(line_mm=0.7)),
    print=Print(resolution_ppi=100, black_only=True),
    sheet=Sheet(format="iso_a5_148x210mm"),
    seams=Seams(joint="lap", lap_mm=10, placement="even"),
    grid=Grid(square_mm=20),
)
VALUES = replace(LINES, tone=Tone(style="values"))
OTHER_VALUES = replace(OTHER_LINES, tone=VALUES.tone)


@pytest.fixture(scope="module")
def master(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("reference")
    with without_reading():
        photo = Image.fromarray(skimage.data.astronaut()[20:361]).resize(SIZE_PX)
        taken(saved(photo, "PNG"), folder)
    return folder / "master.zip"


@pytest.mark.parametrize(("one", "other"), [(LINES, OTHER_LINES), (VALUES, OTHER_VALUES)])
def test_equal_keys_find_the_same(master: Path, one: Spec, other: Spec) -> None:
    plans = planned(one, *SIZE_PX), planned(other, *SIZE_PX)
    assert style_key(one, plans[0]) == style_key(other, plans[1])
    with Master.open(master) as opened:
        found, again = (
            find_style(opened, *each, 2) for each in zip((one, other), plans, strict=True)
        )
    if found.strokes is not None and again.strokes is not None:
        assert np.array_equal(found.strokes.curves_mm, again.strokes.curves_mm)
        assert np.array_equal(found.strokes.weight, again.strokes.weight)
    else:
        assert found.posterised is not None
        assert again.posterised is not None
        assert np.array_equal(found.posterised.fine, again.posterised.fine)
        assert found.posterised.tones == again.posterised.tones
    assert found.size_bytes == again.size_bytes > 0


def test_a_photograph_needs_nothing(master: Path) -> None:
    grey = replace(LINES, tone=Tone(style="grey"))
    with Master.open(master) as opened:
        found = find_style(opened, grey, planned(grey, *SIZE_PX), 2)
    assert (found.strokes, found.posterised, found.size_bytes) == (None, None, 0)
    assert not style_key(grey, planned(grey, *SIZE_PX))
