"""What a tone style needs of the whole picture, found once: lines to trace, or flat tones.

Pack, preview and close-up draw from the same, so that lines and borders meet across sheets and a
screen shows what is printed. `style_key` says what it depends on, for whoever keeps it: the weight
of a line, sheets, seams and the printer change nothing of it.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass, replace
from typing import Any

import numpy.typing as npt

from worker.picture.outline import find_strokes
from worker.picture.tones import Posterised, posterise
from worker.reference.master import Master
from worker.spec.plan import Plan
from worker.spec.spec import Outline, Spec
from worker.spec.strokes import Strokes


@dataclass(frozen=True, kw_only=True)
class FoundStyle:
    """What was found.

    Attributes:
        strokes: Lines to trace, if the style has any.
        posterised: The picture in flat tones, if the style has any.
    """

    strokes: Strokes | None = None
    posterised: Posterised | None = None

    @property
    def size_bytes(self) -> int:
        """The memory that it takes, but for small change."""
        arrays: list[npt.NDArray[Any]] = []
        if self.strokes is not None:
            arrays.append(self.strokes.curves_mm)
        if self.posterised is not None:
            arrays += [self.posterised.cells, self.posterised.fine]
            if self.posterised.lines is not None:
                arrays += [*self.posterised.lines.fields, self.posterised.lines.where]
        return sum(each.nbytes for each in arrays)


#: Finds it, or has it already.
StyleFinder = Callable[[Master, Spec, Plan, int], FoundStyle]


def find_style(master: Master, spec: Spec, plan: Plan, threads: int) -> FoundStyle:
    """Find what the spec's tone style needs of a reference.

    Args:
        master: The reference.
        spec: The spec.
        plan: Its plan.
        threads: How many tiles or strips are processed at once.
    """
    if spec.tone.lined:
        return FoundStyle(strokes=find_strokes(master, spec, plan, threads=threads))
    if spec.tone.style == "values":
        return FoundStyle(posterised=posterise(master, spec, plan, threads=threads))
    return FoundStyle()


def style_key(spec: Spec, plan: Plan) -> Hashable:
    """All that `find_style` depends on besides the reference; equal keys find the same."""
    framed = (plan.picture, plan.crop, plan.rotate_deg, spec.print.mirror)
    if spec.tone.lined:
        # Lines are found in the photo as it is, and get their weight when they are drawn.
        outline = replace(spec.tone.outline, line_mm=Outline.line_mm)
        return ("lines", outline, plan.resolution.resolved_ppi, *framed)
    return (spec.tone, *framed) if spec.tone.style == "values" else ()
