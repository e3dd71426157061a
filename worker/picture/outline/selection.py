"""Which lines are drawn, and with which weight.

A line's score is its contrast times a power of its length: a long faint line counts as much as
a short clear one. Contrast is taken less what the surroundings have anyway, which keeps a long
faint fold and leaves out most of a lawn. A line must also be unlikely to be chance: its mean
contrast is weighed against the noise measured at the same scale, which averages out along a
line, and against the steps that compression left between its blocks.
`python -m tests.bench outline` compares the result with Canny's on drawings with known lines.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.bridging import bridge_gaps, extend_to_meet
from worker.picture.outline.chains import Chains, chains_of
from worker.picture.outline.edge_points import Points
from worker.picture.outline.evidence import Evidence
from worker.picture.outline.gaussian import Floats
from worker.picture.outline.linking import Ids
from worker.picture.outline.point_measures import PointMeasures
from worker.picture.outline.sampled_picture import PixelGrid
from worker.spec.spec import Outline
from worker.spec.strokes import FORM, INNER, PLAIN

#: Contrast in levels that a line of a centimetre needs, for the least detail and the most.
_MOST_NEEDED, _LEAST_NEEDED = 60.0, 4.0
_USUAL_MM = 10.0
#: How much length counts beside contrast, and from where on it counts no more.
_LENGTH_POWER, _LONGEST = 0.45, 10.0
#: Points of a line may be fainter than the whole, in parts of what it needs; but they stand
#: out from the noise by so many deviations, and from nothing by so many levels.
_FAINT_SHARE, _FAINT_NOISE, _FAINTEST = 0.35, 2.4, 2.0
#: Along a line of noise contrast is about so many deviations, and independent every so many
#: widths of the smoothing; how far above that a line's mean must be, before gaps are bridged
#: and after.
_USUAL_NOISE, _APART_SIGMA = 2.8, 3.0
_LIKELY, _SURE = 0.3, 4.0
#: What may yet become a line when gaps are bridged, in parts of what is needed.
_PROMISING = 0.5
#: Contrast that a line needs in steps of compression, when it runs as blocks do and when not;
#: and how straight it must run to be suspect.
_OVER_STEP_ALONG, _OVER_STEP, _STRAIGHT_COSINE = 1.3, 1.1, 0.95
#: The same for colour, whose two channels and whose waves within blocks add to its steps; and
#: how much grey steps at the least where colour does: tables K.1 and K.2 of ITU-T T.81 begin
#: with 16 and 17, so it steps about as much as either of the two channels.
_OVER_CHROMA_STEP, _STEP_OF_CHROMA = 1.6, 0.5
#: Colour decides of a line where grey has less than this part of its contrast.
_CHROMA_DECIDES = 0.3
#: The detail at which contours are drawn and texture is not; below it only the likelier, above
#: it texture too, until at 1 contrast alone decides.
_CONTOURS = 0.5
#: Likelihood that a line of a centimetre needs at detail 0 and at that of contours, and how much
#: length counts beside it.
_MOST_LIKELY, _LIKELY_AT_CONTOURS, _READ_POWER = 0.9, 0.4, 0.3
#: Contrast counts no more than this where the reading is unsure, in parts of what is needed;
#: and how much of it a line needs that the reading sees beside its ridges.
_CLEAREST, _BESIDE = 1.5, 0.6
#: A line that is so likely needs no contrast.
_READ = 0.25
#: A line reaches for the next within this.
_GAP_MM, _MEETING_MM = 3.0, 1.6
#: Lines below these are inner ones; lines above those bound a form.
_INNER_STRENGTH, _INNER_MM = 1.8, 8.0
_FORM_STRENGTH, _FORM_CONTRAST, _FORM_LEVELS, _FORM_MM = 2.5, 1.5, 24.0, 25.0

_Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class Artefacts:
    """What is in the picture and not in the scene: noise, and JPEG's block steps.

    Attributes:
        noise, chroma_noise: Standard deviation of points' contrast, in levels.
        step, chroma_step: Height of the steps between blocks of compression.
    """

    noise: float
    step: float
    chroma_noise: float = 0.0
    chroma_step: float = 0.0


@dataclass(frozen=True, kw_only=True)
class DetectedPoints:
    """All points of a picture, before lines are selected.

    Attributes:
        grid: The grid that they are on.
        points: The points.
        link: (points, 2): the neighbours of each point on its line, or -1.
        measures: Contrast of each point, compared with its surroundings.
        evidence: What the reading says of each.
        artefacts: What is in the picture and not in the scene.
    """

    grid: PixelGrid
    points: Points
    link: Ids
    measures: PointMeasures
    evidence: Evidence
    artefacts: Artefacts


@dataclass(frozen=True, kw_only=True)
class _Lines:
    """Lines with what they are judged by."""

    chains: Chains
    length_mm: Floats
    score: Floats
    worth: Floats
    sureness: Floats
    read: Floats


def faintest(detail: float, noise: float) -> float:
    """Contrast of the faintest point that can be part of a line."""
    return max(_FAINT_NOISE * noise, _FAINT_SHARE * _needed(detail), _FAINTEST)


def select_lines(
    detected: DetectedPoints, outline: Outline
) -> tuple[Chains, npt.NDArray[np.uint8]]:
    """The lines that are drawn, and their weights."""
    need, pitch_mm = _needed(outline.detail), detected.grid.pitch_mm
    first = _judged(detected, detected.link, outline.detail)
    likely = (first.worth > _PROMISING) & (np.maximum(first.sureness, _read_surely(first)) > _LIKELY)
    link = bridge_gaps(
        detected.points, first.chains.taken(likely), detected.link, reach_px=_GAP_MM / pitch_mm
    )
    lines = _judged(detected, link, outline.detail)
    keep = (lines.worth > 1) & (np.maximum(lines.sureness, _read_surely(lines)) > _SURE)
    keep &= (lines.length_mm >= outline.shortest_mm)
    keep &= ~_blocky(detected, lines.chains) | (lines.read > _READ)
    chains = lines.chains.taken(keep)
    weight = _weights(chains.means(detected.measures.form), lines.score[keep], lines, keep, need)
    return extend_to_meet(detected.points, chains, reach_px=_MEETING_MM / pitch_mm), weight


def _read_surely(lines: _Lines) -> Floats:
    """How sure the reading makes of a line, on the scale of what noise makes of it."""
    return np.where(lines.read > _READ, np.float32(2 * _SURE), np.float32(0))


def _needed(detail: float) -> float:
    """Strength that a line of a centimetre needs to be drawn, in levels."""
    return float(_MOST_NEEDED * (_LEAST_NEEDED / _MOST_NEEDED) ** detail)


def _judged(detected: DetectedPoints, link: Ids, detail: float) -> _Lines:
    chains, points = chains_of(link), detected.points
    sigma_mm = detected.grid.sigma_mm
    length_mm = chains.lengths(points.x, points.y) * np.float32(detected.grid.pitch_mm)
    longer = np.minimum(length_mm / np.float32(_USUAL_MM), np.float32(_LONGEST))
    score = chains.means(detected.measures.strength) * longer ** np.float32(_LENGTH_POWER)
    above = chains.means(detected.measures.clearness) - np.float32(_USUAL_NOISE)
    sureness = above * np.sqrt(length_mm / np.float32(_APART_SIGMA * sigma_mm))
    evidence = detected.evidence
    sure = chains.means(evidence.sure) * np.float32(_trust(detail))
    contour, ridge = chains.means(evidence.contour), chains.means(evidence.ridge)
    clear = np.minimum(score / np.float32(_needed(detail)), np.float32(_CLEAREST))
    read = contour * longer ** np.float32(_READ_POWER) / np.float32(_needed_likely(detail))
    read *= ridge + (1 - ridge) * np.minimum(_BESIDE * clear, 1)
    worth = sure * read + (1 - sure) * clear
    return _Lines(
        chains=chains, length_mm=length_mm, score=score, worth=worth, sureness=sureness, read=sure * contour * ridge
    )


def _trust(detail: float) -> float:
    """How far the reading is heard where it is sure: not at all where everything is wanted."""
    return min((1 - detail) / (1 - _CONTOURS), 1.0)


def _needed_likely(detail: float) -> float:
    """Likelihood that a line of a centimetre needs to be drawn."""
    return float(_MOST_LIKELY * (_LIKELY_AT_CONTOURS / _MOST_LIKELY) ** (detail / _CONTOURS))


def _blocky(detected: DetectedPoints, chains: Chains) -> _Flags:
    """Which lines may be edges of blocks, and no more."""
    points = detected.points
    square = np.maximum(np.abs(points.across_x), np.abs(points.across_y)) > _STRAIGHT_COSINE
    along = chains.means(square.astype(np.float32)) > np.float32(0.5)
    grey, chroma = chains.means(points.contrast), chains.means(points.chroma)
    step = max(detected.artefacts.step, _STEP_OF_CHROMA * detected.artefacts.chroma_step)
    over = np.where(along, _OVER_STEP_ALONG, _OVER_STEP) * step
    # Where there is far more of colour, it alone decides; where there is none, it says nothing.
    in_grey = grey < np.maximum(over, np.float32(_CHROMA_DECIDES) * chroma)
    return np.asarray(in_grey & (chroma <= _OVER_CHROMA_STEP * detected.artefacts.chroma_step))


def _weights(
    form: Floats, score: Floats, lines: _Lines, keep: _Flags, need: float
) -> npt.NDArray[np.uint8]:
    length_mm = lines.length_mm[keep]
    weight = np.full(len(score), PLAIN, np.uint8)
    weight[(score < _INNER_STRENGTH * need) | (length_mm < _INNER_MM)] = INNER
    great = (form > max(_FORM_CONTRAST * need, _FORM_LEVELS)) & (length_mm > _FORM_MM)
    weight[great & (score > _FORM_STRENGTH * need)] = FORM
    return weight
