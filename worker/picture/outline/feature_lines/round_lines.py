"""Round forms as a draughtsman draws them: each closed, what is in it as well."""

from __future__ import annotations

from worker.picture.outline.contours.round_forms.round_forms import RoundForms
from worker.picture.outline.feature_lines.face_lines import FeatureLines, as_lines
from worker.picture.outline.points.sampled_picture import PixelGrid
from worker.spec.strokes import INNER, PLAIN


def round_lines(rounds: RoundForms, grid: PixelGrid) -> FeatureLines:
    """All lines of round forms; the light in an eye weighs less than the rest.

    Args:
        rounds: Those that were found.
        grid: The picture's.
    """
    return as_lines([(line, PLAIN if dark else INNER) for line, dark in rounds.drawn()], grid)
