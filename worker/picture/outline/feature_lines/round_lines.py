"""Round forms as a draughtsman draws them: each closed, what is in it as well.

The edge of an eye, which is its lids, is as heavy as an outer contour; the light in it is light.
"""

from __future__ import annotations

from worker.picture.outline.contours.round_forms.forms import LEAST_MM, RoundForm, RoundForms
from worker.picture.outline.contours.round_forms.rings import Ring
from worker.picture.outline.feature_lines.face_lines import FeatureLines, as_lines
from worker.picture.outline.points.sampled_picture import PixelGrid
from worker.spec.strokes import FORM, INNER, PLAIN


def round_lines(rounds: RoundForms, grid: PixelGrid) -> FeatureLines:
    """All lines of round forms, but of what is too small to be traced.

    Args:
        rounds: Those that were found.
        grid: The picture's.
    """
    drawn = [each for form in rounds.forms for each in _drawn(form)]
    least = LEAST_MM / 2 / grid.pitch_mm
    return as_lines([(ring.drawn(), kind) for ring, kind in drawn if ring.radius > least], grid)


def _drawn(form: RoundForm) -> list[tuple[Ring, int]]:
    """Rings of a form and their weights."""
    inner = form.inner
    found = ((form.outer, FORM), (form.rim, PLAIN), (inner.iris, PLAIN), (inner.pupil, PLAIN))
    return [(ring, kind) for ring, kind in (*found, (inner.light, INNER)) if ring is not None]
