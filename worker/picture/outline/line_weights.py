"""How heavy lines are drawn: by their part in the form.

An outer contour is heavy, an inner one medium, a fold or mark light, as draughtsmen have it
(common practice); by contrast where the reading does not know a line. What bounds a head is heavy
however small it is.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from worker.picture.outline.detected_points import DetectedPoints
from worker.picture.outline.judging import Lines, finer
from worker.picture.outline.points.gaussian import Floats
from worker.picture.outline.tidying import together_mm
from worker.spec.strokes import FORM, INNER, PLAIN

#: A line is an outer contour, or a fold or mark, where the reading is surer of it than this; it
#: says so of lines that it knows.
_OUTER, _MARK, _KNOWN = 0.5, 0.5, 0.5
#: An outer contour parts forms that differ by so many levels where contrast is as usual; with fewer
#: than the second a line is a mark, but of a sitter. Where dark is on dark, with fewer than the
#: third, the picture says nothing of it.
_OUTER_LEVELS, _PLAIN_LEVELS, _SEEN_LEVELS = 45.0, 22.0, 4.0
#: One that is less likely an outer contour than this bounds nothing.
_INNER_OUTER = 0.25
#: Lines below these are inner ones; lines above those bound a form.
_INNER_STRENGTH, _INNER_MM = 1.8, 8.0
_FORM_STRENGTH, _FORM_CONTRAST, _FORM_LEVELS, _FORM_MM = 2.5, 1.5, 24.0, 25.0
#: With all that it meets a line is so long, or it is light; less in a face.
_SCRAP_MM = 25.0
#: Where a line is of plain forms, as of a letter, all of it is as heavy.
_PLAIN = 0.5
#: In a face smaller than this lines are a step lighter.
_SMALL_FACE_MM = 100.0
#: What is less than this of a figure, where there is one, is as light as can be: what is behind
#: recedes. What runs along a figure's border more than that is its outer contour.
_BEHIND, _BORDER = 0.5, 0.35
#: What is more than this of a face whose features are drawn, and none of them, is light; but what
#: may bound something is if it is more than that.
_BESIDE, _WHOLLY = 0.5, 0.9
#: What parts the picture's subject from what is behind it more than this is an outer contour; and
#: what is surer than this to be behind it is a step lighter.
_BOUNDS, _SURELY_BEHIND = 0.4, 0.5
#: In parts of what is most surely behind, if anything is as surely as the last: beside heads what
#: is more than the first, and bounds the subject less than the third, is light, also if a figure
#: seems to go on there; where there are none, what is more than the second is a step lighter.
_AS_SURELY, _NEARLY_AS_SURELY, _HARDLY_BOUNDS, _ANYTHING_BEHIND = 0.65, 0.85, 0.25, 0.35
#: Where there are no heads, what is less in focus than lines are in the median recedes: by a step
#: below the first part of that, by two below the second.
_SOFTER, _OUT_OF_FOCUS = 0.75, 0.4
#: In parts of the picture's diagonal: what is shorter and surer than the last to lie within the
#: subject bounds no main thing; nor does what, with all that it meets, is shorter than the second.
_SHORT, _TOGETHER, _WITHIN = 0.14, 0.085, 0.5
#: What bounds plain forms, as a board its letters, is surer than this to be an outer contour; it
#: is not short.
_BOARD_OUTER = 0.65

_Weights = npt.NDArray[np.uint8]


def weights(detected: DetectedPoints, lines: Lines, need: float) -> _Weights:
    """By what the reading says of a line's part in the form, or by contrast where it does not."""
    evidence, chains = detected.evidence, lines.chains
    outer = chains.means(evidence.outer)
    read = _by_form(outer, chains.means(evidence.mark), lines.length_mm)
    form = chains.means(detected.measures.form)
    seen = form > np.float32(_SEEN_LEVELS)
    form /= chains.means(detected.prominence.usual)
    read[seen & (form < np.float32(_OUTER_LEVELS)) & (read == FORM)] = PLAIN
    read[seen & (form < np.float32(_PLAIN_LEVELS)) & ~_softer(detected, lines)] = INNER
    known = chains.means(evidence.sure * evidence.ridge) > np.float32(_KNOWN)
    weight = np.where(known, read, _by_contrast(detected, lines, need))
    # However plain, what bounds nothing is no outer contour.
    weight[_inner(outer, chains.means(evidence.sure)) & (weight == FORM)] = PLAIN
    _lighten_what_is_small(detected, lines, weight)
    if detected.beside is not None:
        # Folds and shade of a face are lighter than its features; its outline is not.
        beside = chains.means(detected.beside)
        weight[(beside > np.float32(_BESIDE)) & (weight < FORM)] = INNER
        weight[beside > np.float32(_WHOLLY)] = INNER
    plain = lines.plain > np.float32(_PLAIN)
    board = (outer > np.float32(_BOARD_OUTER)) & ~_short(detected, lines)
    weight[plain] = np.where(board[plain], FORM, PLAIN)
    return _beside_the_subject(detected, lines, weight, known)


def _lighten_what_is_small(detected: DetectedPoints, lines: Lines, weight: _Weights) -> None:
    """What belongs to nothing larger is a mark, whatever it bounds; what is small is no outline.

    Stripes of a coat and frames of windows part much, but not the main thing from its ground.
    """
    together = together_mm(detected.points, lines, detected.grid.pitch_mm)
    within = lines.chains.means(detected.prominence.within) > np.float32(_WITHIN)
    small = (together < _of_diagonal(detected, _TOGETHER)) | (within & _short(detected, lines))
    weight[small & (weight == FORM) & (lines.face_mm == 0)] = PLAIN
    weight[together < np.float32(_SCRAP_MM) * finer(lines.face_mm)] = INNER


def _short(detected: DetectedPoints, lines: Lines) -> npt.NDArray[np.bool_]:
    return np.asarray(lines.length_mm < _of_diagonal(detected, _SHORT))


def _of_diagonal(detected: DetectedPoints, share: float) -> np.float32:
    """In mm, of a picture that was read."""
    return np.float32(share * np.hypot(*detected.edges.size_mm) if detected.edges else 0.0)


def _beside_the_subject(
    detected: DetectedPoints, lines: Lines, weight: _Weights, known: npt.NDArray[np.bool_]
) -> _Weights:
    """The outlines of heads and of the subject are heavy; what is behind them recedes."""
    prominence, chains = detected.prominence, lines.chains
    long = known & (lines.length_mm > _INNER_MM)
    small = (lines.face_mm > 0) & (lines.face_mm < _SMALL_FACE_MM)
    weight[small & (weight > INNER)] -= 1
    border = chains.means(prominence.border) > np.float32(_BORDER)
    weight[border & long] = FORM
    bounding, behind = chains.means(prominence.bounds), chains.means(prominence.behind)
    bounds = (bounding > np.float32(_BOUNDS)) & (lines.face_mm == 0)
    weight[bounds & long] = FORM
    surest = max(prominence.behind.max(initial=0.0), np.float32(_ANYTHING_BEHIND))
    if prominence.head.any():
        ground = (behind > np.float32(_AS_SURELY) * surest) & ~border
        ground &= bounding < np.float32(_HARDLY_BOUNDS)
        ground = (ground | (behind > np.float32(_SURELY_BEHIND))) & (lines.face_mm == 0)
        ground |= chains.means(prominence.figure) < np.float32(_BEHIND)
        weight[ground & ~(bounds & long)] = INNER
        return weight
    # What bounds the subject recedes by a step at most: petals that come forward blur as well.
    receding = np.minimum(_receding(detected, lines, weight), np.where(bounds, 1, 2))
    weight -= np.minimum(receding, weight).astype(np.uint8)
    ground = behind > min(np.float32(_SURELY_BEHIND), np.float32(_NEARLY_AS_SURELY) * surest)
    weight[ground & (lines.plain <= np.float32(_PLAIN)) & (weight > INNER)] -= 1
    return weight


def _inner(outer: Floats, sure: Floats) -> npt.NDArray[np.bool_]:
    """Which lines the reading takes for inner ones, where it is to be trusted."""
    return np.asarray((outer < np.float32(_INNER_OUTER)) & (sure > np.float32(_KNOWN)))


def _receding(detected: DetectedPoints, lines: Lines, weight: _Weights) -> _Weights:
    """By how many steps lines are lighter that are less in focus than others.

    Beside the stamens of a flower that fills the picture its petals are out of focus as well. So
    it counts beside the median of all but light lines, by their length and weight.
    """
    focus = lines.chains.means(detected.prominence.focus)
    order = np.argsort(focus)
    total = np.cumsum((lines.length_mm * weight.astype(np.float32) ** 2)[order])
    if not len(total):
        return weight
    usual = focus[order[np.searchsorted(total, total[-1] / 2)]]
    parts = np.float32(usual) * np.array([[_SOFTER], [_OUT_OF_FOCUS]], np.float32)
    return np.asarray((focus < parts).sum(axis=0), np.uint8)


def _softer(detected: DetectedPoints, lines: Lines) -> npt.NDArray[np.bool_]:
    """Which lines are of faces and sitters, modelled softly and yet what counts."""
    prominence = detected.prominence
    sitter = lines.chains.means(prominence.figure) > np.float32(_BEHIND)
    return np.asarray((sitter & prominence.head.any()) | (lines.face_mm > 0))


def _by_form(outer: Floats, mark: Floats, length_mm: Floats) -> _Weights:
    weight = np.full(len(outer), PLAIN, np.uint8)
    weight[mark > np.float32(_MARK)] = INNER
    weight[(outer > np.float32(_OUTER)) & (length_mm > _INNER_MM)] = FORM
    return weight


def _by_contrast(detected: DetectedPoints, lines: Lines, need: float) -> _Weights:
    form, score = lines.chains.means(detected.measures.form), lines.score
    weight = np.full(len(score), PLAIN, np.uint8)
    weight[(score < _INNER_STRENGTH * need) | (lines.length_mm < _INNER_MM)] = INNER
    great = (form > max(_FORM_CONTRAST * need, _FORM_LEVELS)) & (lines.length_mm > _FORM_MM)
    weight[great & (score > _FORM_STRENGTH * need)] = FORM
    return weight
