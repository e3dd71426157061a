"""Which lines are drawn, and with which weight.

Lines are judged, joined across gaps if they are promising, and judged again as a whole. What
may be no more than steps that compression left between its blocks is left out.
`python -m tests.bench outline` compares the result with Canny's on drawings with known lines.
"""

from __future__ import annotations

from concurrent.futures import Executor

import numpy as np
import numpy.typing as npt

from worker.picture.outline.detected_points import DetectedPoints
from worker.picture.outline.judging import (
    READ,
    SURE,
    Flags,
    Lines,
    believed,
    finer,
    judged,
    needed,
    read_surely,
)
from worker.picture.outline.line_ends import drawn_on
from worker.picture.outline.line_weights import weights
from worker.picture.outline.points.bridging import bridge_gaps, extend_to_meet
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.scraps.grounds import scraps
from worker.picture.outline.tidying import connecting, crumbs, doubled, orphans
from worker.spec.spec import Outline

#: A line that the reading does not have is so many times as long at least: short ones are tufts,
#: leaves and tiles along a line that it has.
_BESIDE_LONGER = 3.0
#: What is more than this of plain forms may be so much shorter: all strokes of a letter are drawn.
_PLAIN, _PLAIN_SHORTER = 0.5, 0.4
#: What may yet become a line when gaps are bridged, in parts of what is needed, and how sure.
_PROMISING, _LIKELY = 0.5, 0.3
#: Contrast that a line needs in steps of compression, when it runs as blocks do and when not;
#: and how straight it must run to be suspect.
_OVER_STEP_ALONG, _OVER_STEP, _STRAIGHT_COSINE = 1.3, 1.1, 0.95
#: The same for colour, whose two channels and whose waves within blocks add to its steps; and
#: how much grey steps at the least where colour does: tables K.1 and K.2 of ITU-T T.81 begin
#: with 16 and 17, so it steps about as much as either of the two channels.
_OVER_CHROMA_STEP, _STEP_OF_CHROMA = 1.6, 0.5
#: Colour decides of a line where grey has less than this part of its contrast.
_CHROMA_DECIDES = 0.3
#: What does not run as blocks do is no step if the form that it surely bounds has so much more.
_FORM_OVER_STEP = 2.0
#: Steps that were not measured are as high as they are taken to be along so much of a line.
_BLOCKS_MM = 40.0
#: Steps mislead the reading more than noise of as many levels.
_STEPS_MISLEAD = 1.5
#: A line reaches for the next within this.
_GAP_MM, _MEETING_MM = 3.0, 1.6


def select_lines(
    detected: DetectedPoints, outline: Outline, pool: Executor | None = None
) -> tuple[Chains, npt.NDArray[np.uint8]]:
    """The lines that are drawn, and their weights.

    Args:
        detected: All points.
        outline: Which lines are wanted.
        pool: Where they are judged at first, if given; the result does not depend on it.
    """
    need, pitch_mm = needed(outline.detail), detected.grid.pitch_mm
    noise = float(np.hypot(detected.artefacts.noise, detected.artefacts.chroma_noise))

    def promising(chains: Chains) -> Flags:
        first = judged(detected, chains, outline.detail)
        sure = np.maximum(first.sureness, read_surely(first, noise)) > _LIKELY
        return np.asarray((first.worth > _PROMISING) & sure)

    # Before short ones are left out there are many.
    likely = np.concatenate([*(pool.map if pool else map)(promising, detected.chains.halves())])
    chains = bridge_gaps(
        detected.points, detected.chains.taken(likely), detected.link, reach_px=_GAP_MM / pitch_mm
    )
    lines = judged(detected, chains, outline.detail)
    fit = np.maximum(lines.sureness, read_surely(lines, noise)) > SURE
    longer = 1 + (_BESIDE_LONGER - 1) * lines.beside
    shortest_mm = outline.shortest_mm * finer(lines.face_mm) * longer
    plain = lines.plain > np.float32(_PLAIN)
    fit &= lines.length_mm >= np.where(plain, _PLAIN_SHORTER, 1) * shortest_mm
    fit &= ~_blocky(detected, lines)
    keep = fit & (lines.worth > 1)
    keep |= connecting(detected.points, lines, keep, pitch_mm) & fit
    lines = lines.taken(keep)
    lines = lines.taken(~crumbs(detected.points, lines, pitch_mm, outline.detail))
    plain = lines.plain > np.float32(_PLAIN)
    lines = lines.taken(plain | ~doubled(detected.points, lines, pitch_mm, outline.detail))
    lines = lines.taken(~orphans(detected.points, lines, pitch_mm, outline.detail))
    lines = lines.taken(~scraps(detected, lines, outline.detail))
    chains, weight = drawn_on(detected, lines, weights(detected, lines, need))
    return extend_to_meet(detected.points, chains, reach_px=_MEETING_MM / pitch_mm), weight


def _blocky(detected: DetectedPoints, lines: Lines) -> Flags:
    """Which lines may be edges of blocks, and no more."""
    points, chains = detected.points, lines.chains
    square = np.maximum(np.abs(points.across_x), np.abs(points.across_y)) > _STRAIGHT_COSINE
    along = chains.means(square.astype(np.float32)) > np.float32(0.5)
    grey, chroma = chains.means(points.contrast), chains.means(points.chroma)
    chroma_step = detected.artefacts.chroma_step
    step = max(detected.artefacts.step, _STEP_OF_CHROMA * chroma_step)
    # Where grey has nothing, a form has none to lend, and steps are those of colour.
    coloured = grey < np.float32(_CHROMA_DECIDES) * chroma
    grey = np.where(coloured, grey, np.maximum(grey, lines.bounded))
    # Steps that grey is only taken to have do not pass for a line that is long and plainly read.
    longer = np.maximum(lines.length_mm / np.float32(_BLOCKS_MM), 1)
    taken = np.maximum(detected.artefacts.step, _STEP_OF_CHROMA * chroma_step / longer)
    misleading = np.float32(_STEPS_MISLEAD) * np.where(coloured, chroma_step, taken)
    over = np.where(along, _OVER_STEP_ALONG, _OVER_STEP) * step
    # Where there is far more of colour, it alone decides; where there is none, it says nothing.
    in_grey = grey < np.maximum(over, np.float32(_CHROMA_DECIDES) * chroma)
    in_chroma = chroma <= _OVER_CHROMA_STEP * chroma_step
    # Fur and soft edges have little of the form that they bound, in grey as in colour.
    form_over = lines.bounded > _FORM_OVER_STEP * (step + chroma_step)
    bounds = ~along & form_over & (lines.read > READ)
    # What the reading is sure of in spite of the steps is a line of the scene, however faint.
    return np.asarray(in_grey & in_chroma & ~bounds & ~believed(lines, misleading))
